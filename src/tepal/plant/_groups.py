"""Names that nobody can tell apart for sure at a stage."""

from __future__ import annotations

from tepal.flora import STAGES, Flora
from tepal.plant._roster import FloatArray


def inseparable_at(flora: Flora, stage: str) -> tuple[tuple[str, ...], ...]:
    """Groups of codes that the flora says cannot be told apart before a stage that this one comes before."""
    order: dict[str, int] = {name: at for at, name in enumerate(STAGES)}
    return tuple(group.codes for group in flora.inseparable if order[stage] < order[group.before])


def group_of(flora: Flora, stage: str, posterior: FloatArray) -> tuple[str, ...]:
    """The inseparable group of the leading taxon at this stage; empty where it has none."""
    codes = tuple(flora.taxa)
    best = codes[int(posterior[: len(codes)].argmax())]
    return next((group for group in inseparable_at(flora, stage) if best in group), ())
