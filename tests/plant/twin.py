"""The model once more, slow and plain: loops over names and looks, no arrays."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from tepal.flora import Character, Flora, Measure
from tepal.plant import Reader, Settings

BORROW = {
    "mature_seed": ("reproductive", "vegetative", "seedling_2-4_leaf", "cotyledon"),
    "reproductive": ("vegetative", "mature_seed", "seedling_2-4_leaf", "cotyledon"),
    "vegetative": ("seedling_2-4_leaf", "reproductive", "cotyledon", "mature_seed"),
    "seedling_2-4_leaf": ("vegetative", "cotyledon", "reproductive", "mature_seed"),
    "cotyledon": ("seedling_2-4_leaf", "vegetative", "reproductive", "mature_seed"),
}


def student(x: float, mean: float, scale: float, df: float) -> float:
    c = math.gamma((df + 1) / 2) / (math.gamma(df / 2) * math.sqrt(df * math.pi) * scale)
    return c * (1 + ((x - mean) / scale) ** 2 / df) ** (-(df + 1) / 2)


def posterior(
    looks: Mapping[str, Any],
    stage: str,
    prior: Mapping[str, float],
    *,
    flora: Flora,
    settings: Settings,
    reader: Reader,
) -> dict[str, float]:
    """Probabilities of the names (the keys of `prior`) of one plant of a known stage; looks in the table's words."""
    answers = {}
    for name, value in looks.items():
        values = [v for v in (value if isinstance(value, list) else [value]) if v != "cannot_tell"]
        if values:
            answers[name] = values
    told: dict[str, tuple[str, dict[str, Any]]] = {}
    for name in answers:
        for at in (stage, *BORROW[stage]):
            rows = {code: row for code in flora.taxa if (row := flora.look(code, name, at)) is not None}
            if rows:
                told[name] = (at, rows)
                break
    used = [name for name in answers if name in told and flora.characters[name].binned_from not in answers]
    logs = {name: math.log(p) for name, p in prior.items() if p > 0}
    for name in used:
        character = flora.characters[name]
        group = [other for other in used if character.overlap and flora.characters[other].overlap == character.overlap]
        n = max(len(group), 1)
        weight = settings("temper", stage) / (1 + (n - 1) * settings("overlap_correlation"))
        at, rows = told[name]
        if at != stage:
            weight *= settings("borrowed_weight")
        values = answers[name]
        leaf = settings("leaf_correlation")
        if character.states:
            different = len(set(values))
            weight *= different / (1 + (different - 1) * leaf)
            for state in set(values):
                share = values.count(state) / len(values)
                likely = {who: _state(who, state, rows, character, settings, reader) for who in logs}
                for who, p in _fill(likely, weight, prior).items():
                    logs[who] += share * math.log(p)
        else:
            distinct = set(values)
            x, m = math.fsum(distinct) / len(distinct), len(distinct)
            likely = {who: _measure(who, x, m, rows, character, settings, reader) for who in logs}
            for who, p in _fill(likely, weight, prior).items():
                logs[who] += math.log(max(p, 1e-280))
    top = max(logs.values())
    whole = sum(math.exp(v - top) for v in logs.values())
    return {who: math.exp(logs[who] - top) / whole if who in logs else 0.0 for who in prior}


def _fill(likely: Mapping[str, float | None], weight: float, prior: Mapping[str, float]) -> dict[str, float]:
    raised = {who: None if p is None else p**weight for who, p in likely.items()}
    known = {who: p for who, p in raised.items() if p is not None}
    mass = sum(prior[who] for who in known)
    mean = sum(prior[who] * p for who, p in known.items()) / mass
    return {who: mean if p is None else p for who, p in raised.items()}


def _state(who: str, state: str, rows: Any, character: Character, settings: Settings, reader: Reader) -> Any:  # noqa: PLR0917
    size = len(character.states)

    def clean(code: str) -> float | None:
        row = rows.get(code)
        if row is None:
            return None
        c, b = settings("concentration", row.basis), settings("base_mass")
        return (c * row.shares.get(state, 0.0) + b / size) / (c + b)

    if who == "other":
        known = [clean(code) for code in rows]
        p = (sum(known) / len(known) + 1 / size) / 2  # type: ignore[arg-type]
    elif who in rows or "x" not in who:
        p = clean(who)
    else:
        parts = [clean(code) for code in who.split("x")]
        p = None if None in parts else sum(parts) / 2  # type: ignore[arg-type]
    if p is None:
        return None
    misread = 1 - (1 - character.misread * settings("misread_scale")) * reader.reliability
    return (1 - misread) * p + misread * (1 - p) / (size - 1)


def _measure(  # noqa: PLR0917
    who: str, x: float, m: int, rows: Any, character: Character, settings: Settings, reader: Reader
) -> Any:
    cv, df, leaf = character.reading_cv, settings("freedom"), settings("leaf_correlation")
    measures: list[Measure] = list(rows.values())

    def of(mean: float, sd: float, doubt: float) -> float:
        return student(x, mean, math.sqrt(sd**2 * (leaf + (1 - leaf) / m) + doubt**2 + (cv * mean) ** 2 / m), df)

    def parts(code: str) -> tuple[float, float, float]:
        row = rows[code]
        return row.mean, row.sd, settings("mean_doubt", row.basis) * row.sd

    centre = sum(r.mean for r in measures) / len(measures)
    between = sum((r.mean - centre) ** 2 for r in measures) / len(measures)
    wide = 2 * math.sqrt(between + sum(r.sd**2 for r in measures) / len(measures))
    anything = student(x, centre, wide, df)
    if who == "other":
        p = anything
    elif who in rows:
        p = of(*parts(who))
    elif "x" not in who:
        return None
    else:
        a, b = who.split("x")
        if a not in rows or b not in rows:
            return None
        middle = of(*((u + v) / 2 for u, v in zip(parts(a), parts(b), strict=True)))
        p = 0.5 * middle + 0.25 * (of(*parts(a)) + of(*parts(b)))
    gross = 1 - reader.reliability
    return (1 - gross) * p + gross * anything
