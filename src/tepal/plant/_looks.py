"""Looks as they come in, checked and made plain: a state or number, or several of several leaves."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from tepal.flora import STAGES, Flora
from tepal.tables import Refused, meant

CANNOT_TELL = "cannot_tell"
UNKNOWN = "unknown"
# A number ten times beyond the greatest that any flora gives is a slip of the unit or the decimal point.
_BEYOND = 10.0
_MOST_LEAVES = 1000


@dataclass(frozen=True, slots=True)
class Look:
    """One character of one plant. Categorical: (state, share of the leaves) pairs; numeric: mean of distinct values.

    `leaves` counts distinct answers: the same leaf entered twice is one leaf.
    """

    character: str
    states: tuple[tuple[str, float], ...]
    value: float
    leaves: int


@lru_cache(maxsize=8)
def limits(flora: Flora) -> Mapping[str, float]:
    """The greatest number of each measured character that is taken."""
    found: dict[str, float] = {}
    for (_, character, _), row in flora.measures.items():
        found[character] = max(found.get(character, 0.0), _BEYOND * max(row.high, row.mean))
    return found


def checked_stage(stage: object) -> str:
    """A stage name, or `unknown`; refused with the nearest name otherwise."""
    if stage is None or stage == UNKNOWN:
        return UNKNOWN
    if not isinstance(stage, str) or stage not in STAGES:
        raise Refused(
            f"no stage {_short(stage)}",
            where="stage",
            rule=f"A stage is one of {', '.join(STAGES)}, or {UNKNOWN}.",
            step=meant(stage, (*STAGES, UNKNOWN), "Choose one."),
        )
    return stage


def checked_looks(looks: object, flora: Flora) -> tuple[Look, ...]:
    """Looks in the order of the flora's characters, `cannot_tell` left out.

    Raises
    ------
    Refused
        For an unknown character or state (the nearest is named), a value of the wrong kind, an empty list, a number
        that is not finite, negative or beyond all sense.
    """
    if not isinstance(looks, Mapping):
        raise Refused(
            "no looks" if looks is None else f"looks are {type(looks).__name__}",
            where="looks",
            rule="Looks are an object: character to state, number or list.",
            step="Put them in braces.",
        )
    found: dict[str, Look] = {}
    for name, value in looks.items():
        if name not in flora.characters:
            raise Refused(
                f"no character {_short(name)}",
                where="looks",
                rule=f"The flora has {len(flora.characters)} characters.",
                step=meant(name, flora.characters, "`tepal plant --characters` lists them."),
            )
        answers = _answers(name, value)
        look = _states(name, answers, flora) if flora.characters[name].states else _numbers(name, answers, flora)
        if look is not None:
            found[name] = look
    return tuple(found[name] for name in _order(flora) if name in found) if len(found) > 1 else tuple(found.values())


def absent_on(answers: Mapping[str, Collection[str]], flora: Flora) -> frozenset[str]:
    """Characters that a plant with these answers (character to its states) has nothing of, such as the seed heads of a
    male one. An answer of several states rules out nothing."""
    return frozenset(
        name
        for name, wheres in _absences(flora)
        if any(set(answers.get(other, ())) == {state} for other, state in wheres)
    )


@lru_cache(maxsize=8)
def _absences(flora: Flora) -> tuple[tuple[str, tuple[tuple[str, str], ...]], ...]:
    return tuple((name, told.absent_where) for name, told in flora.characters.items() if told.absent_where)


@lru_cache(maxsize=8)
def _order(flora: Flora) -> tuple[str, ...]:
    return tuple(flora.characters)


def _answers(name: str, value: Any) -> Sequence[Any]:
    if isinstance(value, (str, float, int)):
        return (value,)
    if isinstance(value, (list, tuple)) and 0 < len(value) <= _MOST_LEAVES:
        return value
    raise Refused(
        f"{_short(value)} for {name}",
        where="looks",
        rule=f"A look is a state, a number, or a list of 1 to {_MOST_LEAVES} of them for several leaves.",
        step=f"Leave it out, or say {CANNOT_TELL}.",
    )


def _states(name: str, answers: Sequence[Any], flora: Flora) -> Look | None:
    states = flora.characters[name].states
    counts: dict[str, int] = {}
    for answer in answers:
        if answer == CANNOT_TELL:
            continue
        if not isinstance(answer, str) or answer not in states:
            raise Refused(
                f"{_short(answer)} is no state of {name}",
                where="looks",
                rule=f"It has {', '.join(states)}, or {CANNOT_TELL}.",
                step=meant(answer, states, "Choose one."),
            )
        counts[answer] = counts.get(answer, 0) + 1
    total = sum(counts.values())
    if not total:
        return None
    ordered = tuple((state, counts[state] / total) for state in states if state in counts)
    return Look(name, ordered, math.nan, len(counts))


def _numbers(name: str, answers: Sequence[Any], flora: Flora) -> Look | None:
    unit = flora.characters[name].unit
    limit = limits(flora).get(name, math.inf)
    values = set()
    for answer in answers:
        if answer == CANNOT_TELL:
            continue
        if isinstance(answer, (bool, str)) or not isinstance(answer, (int, float)):
            raise Refused(
                f"{_short(answer)} for {name}",
                where="looks",
                rule=f"It is a number ({unit}), or {CANNOT_TELL}.",
                step="Give the number without its unit.",
            )
        if not 0 <= answer <= limit:  # also refuses NaN and infinities
            raise Refused(
                f"{_short(answer)} for {name}",
                where="looks",
                rule=f"It lies between 0 and {limit:g} ({unit}).",
                step="Check the unit and the decimal point.",
            )
        values.add(float(answer))
    if not values:
        return None
    return Look(name, (), math.fsum(values) / len(values), len(values))


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 40 else f"{text[:37]}..."
