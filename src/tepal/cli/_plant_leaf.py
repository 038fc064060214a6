"""Looks at a plant from a photo of one of its leaves."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tepal.tables import Refused

if TYPE_CHECKING:
    from tepal.leaf import LeafMeasure

_SEEDLING = "seedling_2-4_leaf"


def with_leaf(
    photo: Path, which_leaf: str | None, stage: str | None, given: Mapping[str, Any]
) -> tuple[dict[str, Any], str | None, LeafMeasure]:
    """Looks that were given and those of the photo, the stage, and the measure; what was given by hand stands.

    Raises
    ------
    Refused
        If the photo cannot be read or measured, it is not said which leaf it shows, or the leaf is not of that stage.
    """
    from tepal.leaf import looks, measure, named_leaf

    if which_leaf == "seedling" and stage not in (None, _SEEDLING):
        raise Refused(
            f"a seedling's leaf at stage {stage}",
            where="command line",
            rule="A seedling's petioles say nothing of an older plant's.",
            step=f"Say --stage {_SEEDLING}, or which leaf of the older plant it is.",
        )
    if which_leaf not in (None, "seedling") and stage in ("cotyledon", _SEEDLING):
        raise Refused(
            f"a {which_leaf} leaf at stage {stage}",
            where="command line",
            rule="A seedling has no lower, middle and upper leaves yet.",
            step="Say --which-leaf seedling, or another stage.",
        )
    named_leaf(which_leaf)
    found = measure(photo)
    seen = looks(found, which_leaf)
    return {**seen, **given}, _SEEDLING if which_leaf == "seedling" else stage, found
