"""A leaf's measures as looks for `tepal.plant`: only those that belong to the leaf that was picked."""

from __future__ import annotations

import math
from typing import Literal, get_args

from tepal.leaf._result import LeafMeasure
from tepal.tables import Refused

WhichLeaf = Literal["lower", "middle", "upper", "seedling"]
# Above this share of the value, a ratio's doubt is more than the tables' own for a ruler: it is not told as a number.
_MOST_CV = 0.12
_ANSWERS = 20


def looks(measure: LeafMeasure, which_leaf: str | None) -> dict[str, object]:
    """Character → number, state, or list of states whose shares are their probabilities.

    A seedling's or an upper leaf's ratio is never told as a lower leaf's. A number whose error is larger than what a
    ruler errs is told as the chances of longer, about equal and shorter instead, or not at all.

    Raises
    ------
    Refused
        If it is not said which leaf it is, or the leaf was not measured.
    """
    which_leaf = named_leaf(which_leaf)
    if measure.refused is not None:
        raise Refused(
            measure.refused.split(". ")[0], where="photo", rule="Only a measured leaf gives looks.",
            step=measure.refused.split(". ", 1)[-1],
        )  # fmt: skip
    found: dict[str, object] = {}
    ratio, sd = measure.petiole_blade_ratio, measure.ratio_sd
    name = {"lower": "lower", "middle": "mid", "upper": "upper", "seedling": "lower"}[which_leaf]
    if sd <= _MOST_CV * ratio:
        found[f"petiole_blade_ratio_{name}"] = round(ratio, 3)
    elif which_leaf == "lower":
        shorter, longer = _below(0.9, ratio, sd), 1 - _below(1.1, ratio, sd)
        shares = {"shorter": shorter, "about_equal": 1 - shorter - longer, "longer": longer}
        found["fold_test_lower_leaf"] = _answers(shares)
    if which_leaf == "seedling":
        found["blade_lw_ratio"] = round(measure.length_width, 2)
        notch = _notch(measure.tip_notch)
        if notch is not None:
            found["first_leaf_tip_notch"] = "absent" if notch == "none" else "present"
        return found
    if which_leaf in ("lower", "middle"):
        found["blade_lw_ratio"] = round(measure.length_width, 2)
        found["leaf_outline"] = _answers(dict(measure.outline))
        low, high = _below(0.45, measure.widest_at, 0.05), 1 - _below(0.55, measure.widest_at, 0.05)
        found["widest_point"] = _answers({"below_middle": low, "middle": 1 - low - high, "above_middle": high})
        notch = _notch(measure.tip_notch)
        if notch is not None:
            found["leaf_tip_notch"] = notch
        if measure.mm_per_px is not None:
            for character, pixels in (
                ("blade_length", measure.blade_px),
                ("blade_width", measure.width_px),
                ("petiole_length", measure.petiole_px),
            ):
                found[character] = round(pixels * measure.mm_per_px / 10, 2)
    if measure.chevron != "cannot_tell":
        found["watermark"] = measure.chevron
    return found


def named_leaf(which_leaf: str | None) -> str:
    """Which leaf it is, refused where that was not said: asked before a photo is read."""
    if which_leaf not in get_args(WhichLeaf):
        raise Refused(
            "no leaf named" if which_leaf is None else f"leaf {which_leaf!r}",
            where="which leaf",
            rule=f"A leaf is one of {', '.join(get_args(WhichLeaf))}: petioles shorten up the stem, so the ratio means "
            "something else on each.",
            step="Say which leaf was picked; a lower one tells most.",
        )
    assert which_leaf is not None
    return which_leaf


def _below(limit: float, mean: float, sd: float) -> float:
    """Chance that a normal value lies below a limit."""
    return 0.5 * (1 + math.erf((limit - mean) / (max(sd, 1e-9) * math.sqrt(2))))


def _notch(depth: float) -> str | None:
    """none, shallow or deep; None where the pixels do not say."""
    if depth < 0.004:
        return "none"
    if depth < 0.009:
        return None
    return "shallow" if depth < 0.04 else "deep"


def _answers(shares: dict[str, float]) -> str | list[str]:
    """Shares as a list of answers, largest remainders first; what has less than a twentieth is left out."""
    kept = {state: share for state, share in shares.items() if share >= 1 / _ANSWERS}
    total = sum(kept.values())
    exact = {state: _ANSWERS * share / total for state, share in kept.items()}
    counts = {state: int(value) for state, value in exact.items()}
    for state in sorted(exact, key=lambda s: counts[s] - exact[s])[: _ANSWERS - sum(counts.values())]:
        counts[state] += 1
    told = [state for state in kept for _ in range(counts[state])]
    return told[0] if len(set(told)) == 1 else told
