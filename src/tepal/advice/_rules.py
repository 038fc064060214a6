"""The rules and cautions of a weed group, read from its folder and checked whole before any is used."""

from __future__ import annotations

import string
import tomllib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal, cast, get_args

from tepal.advice._deadlines import Deadline, parse_deadline
from tepal.advice._effort import TACTICS, Tactic
from tepal.advice._fills import FILLS
from tepal.advice._predicates import FactTypes, Group, parse_line, rule_facts
from tepal.doubt import BASES, Basis
from tepal.reading import Fact
from tepal.tables import Refused, Where, read_csv

Kind = Literal["do", "do_not", "find_out", "plan"]
KINDS: tuple[Kind, ...] = get_args(Kind)
# Who beside the tenant gets a letter of his own, and with it the rules that say `for` him.
Reader = Literal["owner", "applicator", "harvester"]
READERS: tuple[Reader, ...] = get_args(Reader)
# of_the_rest: where it follows another step it is for what that one leaves, and has no seed or hours of its own.
TAGS = ("chemical", "over_the_top", "enter", "machine", "return", "of_the_rest")
# What a caution is about, in the order in which a page shows them.
About = Literal["people", "spraying", "machines", "place", "animals", "law", "money"]
ABOUT: tuple[About, ...] = get_args(About)
# What every rule with a chemical in it must carry.
CHEMICAL_CAUTIONS = ("label", "applicator")
_ALLOWED = {
    "id", "kind", "turn", "when", "any", "by", "text", "why", "fails", "tactic", "after", "cautions", "tags",
    "sources", "basis", "for", "after_frost",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class CautionRow:
    """A caution: its key, what it is about, its message and what it stands on.

    It is shown beside the rules that name it, where `when` holds. One that stands `instead_of` another is shown in its
    place, where `when` holds; no rule names it.
    """

    key: str
    about: About
    message: str
    when: Group
    lines: tuple[tuple[str, ...], tuple[str, ...]]
    instead_of: str | None
    sources: tuple[str, ...]
    basis: Basis


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule as written. `turn` orders rules of equal rank, low first; `after` names the rule it is to follow;
    `readers`: who beside the tenant needs it. `after_frost`: it holds too when frost has killed the plants; all others
    are for plants that are alive."""

    id: str
    kind: Kind
    turn: int
    when: Group
    lines: tuple[str, ...]
    any_lines: tuple[str, ...]
    by: tuple[Deadline, ...]
    text: str
    why: str
    fails: str
    tactic: Tactic | None
    after: str | None
    cautions: tuple[str, ...]
    tags: tuple[str, ...]
    readers: tuple[Reader, ...]
    after_frost: bool
    sources: tuple[str, ...]
    basis: Basis


@dataclass(frozen=True, slots=True)
class RuleBook:
    """All rules of a weed group with the conditions that they name and the cautions that they carry."""

    rules: tuple[Rule, ...]
    conditions: Mapping[str, Group]
    meanings: Mapping[str, str]
    condition_lines: Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]]
    cautions: Mapping[str, CautionRow]

    def shown(self, keys: Collection[str], facts: Mapping[str, Fact]) -> tuple[CautionRow, ...]:
        """The cautions of these keys that belong to a site with these facts, each once, in the order of the table.

        A page with room for few shows the first, the gravest.
        """
        stand_in = {row.instead_of: row for row in self.cautions.values() if row.instead_of and row.when.holds(facts)}
        return tuple(
            stand_in.get(key, row)
            for key, row in self.cautions.items()
            if key in keys and (key in stand_in or row.when.holds(facts))
        )

    def messages(self) -> tuple[str, ...]:
        """Every English sentence that advice can show, for the catalogue."""
        found = [m for rule in self.rules for m in (rule.text, rule.why, rule.fails) if m]
        return tuple(dict.fromkeys([*found, *(caution.message for caution in self.cautions.values())]))


def load_rules(folder: Path, *, hunted: Sequence[str], sources: Collection[str] | None = None) -> RuleBook:
    """Read `rules.toml` and `cautions.csv` of a folder.

    Parameters
    ----------
    folder
        A weed group's folder.
    hunted
        Codes of the taxa that the group hunts: rules may ask for facts of these.
    sources
        Keys of its citation table; None leaves them unchecked.

    Raises
    ------
    Refused
        At the first key, operator, value, deadline, tactic, fill, caution, tag or source that is not declared, naming
        the file and the rule.
    """
    file = folder / "rules.toml"
    try:
        raw = tomllib.loads(file.read_text(encoding="utf-8"))
    except OSError as problem:
        raise Refused(
            f"the file cannot be read: {problem.strerror or problem}",
            where=str(file),
            rule="A weed group has its rules in rules.toml.",
            step="Add the file, or give rules.",
        ) from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as problem:
        raise Refused(
            f"{problem}", where=file.name, rule="Rules are TOML in UTF-8.", step="Correct the line."
        ) from None
    facts = rule_facts(hunted)
    cautions = _read_cautions(folder / "cautions.csv", sources, facts)
    conditions: dict[str, Group] = {}
    meanings: dict[str, str] = {}
    lines: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {}
    # A condition may name those above it, so first finds that stand below are put after what they name.
    pending = dict(raw.get("condition", {}))
    while pending:
        ready = [name for name, body in pending.items() if not _names(body) & pending.keys()]
        if not ready:
            raise Refused(
                f"conditions {', '.join(pending)} name each other",
                where=file.name,
                rule="A condition may name others, never in a circle.",
                step="Untangle them.",
            )
        for name in ready:
            body, where = pending.pop(name), Where(file.name, None, f"condition {name}")
            conditions[name] = _group(body, "all", where, conditions, facts)
            meanings[name] = str(body.get("means", ""))
            lines[name] = (tuple(body.get("all", ())), tuple(body.get("any", ())))
    rules: dict[str, Rule] = {}
    for entry in raw.get("rule", []):
        rule = _rule(entry, file.name, conditions=conditions, cautions=cautions, sources=sources, facts=facts)
        if rule.id in rules:
            raise Refused(
                f"rule {rule.id!r} twice", where=file.name, rule="Each rule has its own id.", step="Rename one."
            )
        rules[rule.id] = rule
    for rule in rules.values():
        if rule.after is not None:
            _one_of("rule to follow", [rule.after], rules, Where(file.name, None, f"rule {rule.id}"))
    order = list(raw.get("condition", {}))
    return RuleBook(
        rules=tuple(rules.values()),
        conditions=MappingProxyType({name: conditions[name] for name in order}),
        meanings=MappingProxyType({name: meanings[name] for name in order}),
        condition_lines=MappingProxyType({name: lines[name] for name in order}),
        cautions=MappingProxyType(cautions),
    )


def _names(body: Mapping[str, Any]) -> set[str]:
    return {str(line).removeprefix("not ").strip() for part in ("all", "any") for line in body.get(part, ())}


def _group(
    body: Mapping[str, Any], all_key: str, where: Where, conditions: Mapping[str, Group], facts: FactTypes
) -> Group:
    both = []
    for key in (all_key, "any"):
        lines = body.get(key, [])
        if not isinstance(lines, list) or not all(isinstance(line, str) for line in lines):
            raise Refused(f"{key} = {lines!r}", where=where, rule=f"{key} is a list of lines.", step="Correct it.")
        both.append(tuple(parse_line(line, where, conditions, facts) for line in lines))
    if not both[0] and not both[1]:
        raise Refused("no conditions", where=where, rule="It says when it holds.", step="Add a line.")
    return Group(*both)


def _rule(
    entry: Mapping[str, Any],
    file: str,
    *,
    conditions: Mapping[str, Group],
    cautions: Mapping[str, CautionRow],
    sources: Collection[str] | None,
    facts: FactTypes,
) -> Rule:
    name = str(entry.get("id", "without an id"))
    where = Where(file, None, f"rule {name}")
    for key in ("id", "kind", "text", "why", "cautions", "sources", "basis"):
        if key not in entry:
            raise Refused(
                f"no {key}", where=where, rule="A rule says what it is, why, and on what it stands.", step="Add it."
            )
    for key in sorted(entry.keys() - _ALLOWED):
        raise _refused("entry", key, sorted(_ALLOWED), where)
    _one_of("kind", [entry["kind"]], KINDS, where)
    _one_of("basis", [entry["basis"]], BASES, where)
    _one_of("tag", entry.get("tags", []), TAGS, where)
    _one_of("reader", entry.get("for", []), READERS, where)
    _one_of("caution", entry["cautions"], cautions, where)
    _one_of("tactic", [entry["tactic"]] if "tactic" in entry else [], TACTICS, where)
    if sources is not None:
        _one_of("source", entry["sources"], sources, where)
    if not entry["sources"] and entry["basis"] != "judgement":
        raise Refused(
            f"basis {entry['basis']!r} without a source",
            where=where,
            rule="Only judgement may stand without a source.",
            step="Name the source, or call it judgement.",
        )
    missing = [key for key in CHEMICAL_CAUTIONS if key not in entry["cautions"]]
    if "chemical" in entry.get("tags", []) and missing:
        raise Refused(
            f"no caution {missing[0]!r}",
            where=where,
            rule="Chemical advice carries the label and the applicator.",
            step="Add it.",
        )
    for key in ("text", "why", "fails"):
        _check_fills(str(entry.get(key, "")), where)
    by = entry.get("by", [])
    return Rule(
        id=name,
        kind=cast(Kind, entry["kind"]),
        turn=int(entry.get("turn", 50)),
        when=_group(entry, "when", where, conditions, facts),
        lines=tuple(entry.get("when", ())),
        any_lines=tuple(entry.get("any", ())),
        by=tuple(parse_deadline(line, where) for line in ([by] if isinstance(by, str) else by)),
        text=str(entry["text"]),
        why=str(entry["why"]),
        fails=str(entry.get("fails", "")),
        tactic=cast("Tactic | None", entry.get("tactic")),
        after=entry.get("after"),
        cautions=tuple(entry["cautions"]),
        tags=tuple(entry.get("tags", ())),
        readers=tuple(entry.get("for", ())),
        after_frost=bool(entry.get("after_frost", False)),
        sources=tuple(entry["sources"]),
        basis=cast(Basis, entry["basis"]),
    )


def _read_cautions(path: Path, sources: Collection[str] | None, facts: FactTypes) -> dict[str, CautionRow]:
    table = read_csv(path)
    table.need(("key", "about", "text", "sources", "basis"))
    found: dict[str, CautionRow] = {}
    for row in table:
        keys, basis = row.items("sources"), row.text("basis")
        _one_of("basis", [basis], BASES, row.where("basis"))
        if sources is not None:
            _one_of("source", keys, sources, row.where("sources"))
        _check_fills(row.text("text"), row.where("text"))
        about, instead = row.text("about"), row.text("instead_of", "") or None
        _one_of("about", [about], ABOUT, row.where("about"))
        lines = tuple(
            tuple(part.strip() for part in row.text(column, "").split(";") if part.strip())
            for column in ("when", "any")
        )
        when = Group(*(tuple(parse_line(line, row.where(), {}, facts) for line in some) for some in lines))
        if instead is not None:
            _one_of("caution to stand in for", [instead], found, row.where("instead_of"))
        found[row.text("key")] = CautionRow(
            row.text("key"), cast(About, about), row.text("text"), when, (lines[0], lines[1]), instead, keys,
            cast(Basis, basis),
        )  # fmt: skip
    return found


def _check_fills(message: str, where: Where) -> None:
    try:
        fields = [field for _, field, _, _ in string.Formatter().parse(message) if field is not None]
    except ValueError as problem:
        raise Refused(f"{problem} in {message!r}", where=where, rule="Braces hold fills.", step="Correct it.") from None
    _one_of("fill", fields, FILLS, where)


def _one_of(what: str, values: Collection[str], allowed: Collection[str], where: Where) -> None:
    for value in values:
        if value not in allowed:
            raise _refused(what, value, allowed, where)


def _refused(what: str, value: str, allowed: Collection[str], where: Where) -> Refused:
    return Refused(
        f"{what} {value!r}",
        where=where,
        rule=f"A {what} is one of {', '.join(allowed)}.",
        step="Correct it, or declare it there.",
    )
