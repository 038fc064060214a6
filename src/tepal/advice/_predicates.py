"""Conditions as data: lines of `key operator value`, read into tests. Nothing of a rule is ever evaluated as code."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from tepal.reading import Fact, FactType, fact_types
from tepal.tables import Refused, Where

# What advice works out itself, by draws, before any rule is asked.
OWN_FACTS: Mapping[str, tuple[FactType, str]] = {
    "p_too_many": (
        "number",
        "chance of more plants than a crew can pull: too thick and no small job, or more hours than crews give",
    ),
}
FactTypes = Mapping[str, tuple[FactType, str]]

OPERATORS: Mapping[FactType, tuple[str, ...]] = {
    "number": ("at_least", "at_most", "above", "below", "known", "unknown"),
    "yes_no": ("is", "is_not", "known", "unknown"),
    "text": ("is", "is_not", "any_of", "known", "unknown"),
    "date": ("before", "after", "known", "unknown"),
    "moment": ("known", "unknown"),
}


@dataclass(frozen=True, slots=True)
class Test:
    """One line: a fact, an operator, a value of the fact's type (a number of days from today for a date)."""

    key: str
    operator: str
    value: str | float | bool | tuple[str, ...] | None
    line: str

    def holds(self, facts: Mapping[str, Fact]) -> bool:
        fact = facts.get(self.key)
        if self.operator in ("known", "unknown"):
            return (fact is not None) == (self.operator == "known")
        if fact is None:
            return self.operator == "is_not"
        return _compare(self.operator, fact, self.value, facts)


@dataclass(frozen=True, slots=True)
class Named:
    """A condition by its name, or its opposite."""

    name: str
    wanted: bool
    group: Group

    def holds(self, facts: Mapping[str, Fact]) -> bool:
        return self.group.holds(facts) is self.wanted


@dataclass(frozen=True, slots=True)
class Group:
    """All of `all_of`, and at least one of `any_of` where there are any."""

    all_of: tuple[Test | Named, ...] = ()
    any_of: tuple[Test | Named, ...] = ()

    def holds(self, facts: Mapping[str, Fact]) -> bool:
        return all(part.holds(facts) for part in self.all_of) and (
            not self.any_of or any(part.holds(facts) for part in self.any_of)
        )

    def fact_keys(self) -> tuple[str, ...]:
        """The facts asked for, each once, in the order of the rule."""
        found: dict[str, None] = {}
        for part in self.all_of + self.any_of:
            found.update(dict.fromkeys((part.key,) if isinstance(part, Test) else part.group.fact_keys()))
        return tuple(found)


def rule_facts(hunted: Sequence[str]) -> FactTypes:
    """Every fact that a rule of a group with these hunted taxa may name: those of the reading, and advice's own."""
    return {**fact_types(hunted), **OWN_FACTS}


def parse_line(line: str, where: Where, conditions: Mapping[str, Group], facts: FactTypes) -> Test | Named:
    """One line of a rule; `facts` are those that may be named (`rule_facts`).

    Raises
    ------
    Refused
        If the key, the operator for the key's type, or the value is none of the closed sets.
    """
    words = line.split()
    name, wanted = (words[1], False) if len(words) == 2 and words[0] == "not" else (line.strip(), True)
    if name in conditions:
        return Named(name, wanted, conditions[name])
    if len(words) == 1 or words[0] == "not":
        raise Refused(
            f"condition {name!r}",
            where=where,
            rule=f"A name stands under [condition.…], above its use; there are {', '.join(conditions) or 'none'}.",
            step="Correct the name or add the condition.",
        )
    key, operator, rest = words[0], words[1], " ".join(words[2:])
    if key not in facts:
        raise Refused(
            f"key {key!r} in {line!r}",
            where=where,
            rule="A key is one of the facts of a reading, or one of advice's own.",
            step="Look in docs/rooms/advice.md and correct the key.",
        )
    kind = facts[key][0]
    if operator not in OPERATORS[kind]:
        raise Refused(
            f"operator {operator!r} in {line!r}",
            where=where,
            rule=f"A {kind} takes {', '.join(OPERATORS[kind])}.",
            step="Correct the operator.",
        )
    return Test(key, operator, _value(kind, operator, rest, line, where), line)


def _value(
    kind: FactType, operator: str, text: str, line: str, where: Where
) -> str | float | bool | tuple[str, ...] | None:
    try:
        if operator in ("known", "unknown"):
            if text:
                raise ValueError
            return None
        if kind == "number":
            return float(text)
        if kind == "yes_no":
            return {"yes": True, "no": False}[text]
        if kind == "date":
            if not text.startswith("today"):
                raise ValueError
            return float(int(text.removeprefix("today") or "0"))
        if not text:
            raise ValueError
        return tuple(part.strip().casefold() for part in text.split("|")) if operator == "any_of" else text.casefold()
    except (ValueError, KeyError):
        raise Refused(
            f"value {text!r} in {line!r}",
            where=where,
            rule="A number takes a number, a yes_no takes yes or no, a date takes today or today+7, any_of takes a|b.",
            step="Correct the value.",
        ) from None


def _compare(operator: str, fact: Fact, value: object, facts: Mapping[str, Fact]) -> bool:
    if isinstance(fact, str):
        text = fact.casefold()
        if isinstance(value, tuple):
            return text in value
        return (text == value) == (operator == "is")
    # bool before number: True is an int too.
    if isinstance(fact, bool):
        return (fact is value) == (operator == "is")
    if isinstance(fact, date):
        today = facts["as_of"]
        assert isinstance(today, date)
        assert isinstance(value, float)
        day = fact.date() if isinstance(fact, datetime) else fact
        limit = today + timedelta(days=int(value))
        return day < limit if operator == "before" else day > limit
    assert isinstance(fact, (int, float))
    assert isinstance(value, float)
    number = float(fact)
    return {
        "at_least": number >= value,
        "at_most": number <= value,
        "above": number > value,
        "below": number < value,
    }[operator]
