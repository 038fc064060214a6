"""The figures by name, and the check that a row of plates.toml asks of a figure only what it can do."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from difflib import get_close_matches
from functools import cache
from typing import Any

from tepal.plates import _flowers, _fruits, _habit, _heads, _leaves, _seedlings, _stems
from tepal.plates._sheet import Sheet
from tepal.tables import Refused

Figure = Callable[..., None]
FIGURES: Mapping[str, Figure] = {
    "leaf": _leaves.leaf,
    "leaf_tip": _leaves.leaf_tip,
    "fold": _leaves.fold,
    "stalk_and_blade": _leaves.stalk_and_blade,
    "chevron": _leaves.chevron,
    "leaf_surface": _leaves.leaf_surface,
    "seed_leaves": _seedlings.seed_leaves,
    "seed_leaf": _seedlings.seed_leaf,
    "first_leaf": _seedlings.first_leaf,
    "arrangement": _seedlings.arrangement,
    "canopy": _seedlings.canopy,
    "root": _seedlings.root,
    "mealy": _seedlings.mealy,
    "stem": _stems.stem,
    "stem_ridges": _stems.stem_ridges,
    "node": _stems.node,
    "habit": _habit.habit,
    "height": _habit.height,
    "growth": _habit.growth,
    "head": _heads.head,
    "place_of_head": _heads.place_of_head,
    "measured_spike": _heads.measured_spike,
    "feel": _heads.feel,
    "flower": _flowers.flower,
    "tepal_ring": _flowers.tepal_ring,
    "tepal_tips": _flowers.tepal_tips,
    "sex": _flowers.sex,
    "fruit": _fruits.fruit,
    "seed": _fruits.seed,
}


@cache
def settings_of(figure: str) -> Mapping[str, Any]:
    """The settings that a figure takes, each with its default."""
    return {
        name: parameter.default
        for name, parameter in inspect.signature(FIGURES[figure]).parameters.items()
        if parameter.kind is inspect.Parameter.KEYWORD_ONLY
    }


def run(name: str, sheet: Sheet, settings: Mapping[str, Any], *, where: str) -> None:
    """Draw a figure on the sheet.

    Raises
    ------
    Refused
        For an unknown figure or setting, or a value of another kind than the setting's default.
    """
    if name not in FIGURES:
        raise _refused(name, FIGURES, where, "figures")
    known = settings_of(name)
    for key, value in settings.items():
        if key not in known:
            raise _refused(key, known, where, f"settings of {name}")
        number = isinstance(known[key], (int, float)) and not isinstance(known[key], bool)
        fits = isinstance(value, (int, float)) and not isinstance(value, bool)
        if not (fits if number else isinstance(value, type(known[key]))):
            raise Refused(
                f"{key} = {value!r}",
                where=where,
                rule=f"{key} of {name} is a {'number' if number else type(known[key]).__name__}.",
                step="Correct the value.",
            )
    FIGURES[name](sheet, **settings)


def _refused(name: str, known: Mapping[str, Any], where: str, what: str) -> Refused:
    near = get_close_matches(name, list(known), n=1, cutoff=0.5)
    return Refused(
        repr(name),
        where=where,
        rule=f"The {what} are {', '.join(known)}.",
        step=f"Did you mean {near[0]}?" if near else "Choose one of these.",
    )
