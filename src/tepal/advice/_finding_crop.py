"""A pass that the crop cannot bear, or that nobody knows whether it can."""

from __future__ import annotations

from collections.abc import Sequence

from tepal.advice._finding import Finding
from tepal.advice._passes import Pass
from tepal.doubt import Provenance
from tepal.flora import Flora

_LABEL = Provenance(("USLabels",), "judgement")
_JUDGED = Provenance((), "judgement")


def over_the_top(one: Pass, crop: str | None, traits: Sequence[str] | None, flora: Flora) -> list[Finding]:
    if one.kind != "post" or not one.over_crop or crop is None:
        return []
    if traits is None:
        return [
            Finding(
                "trait_unknown",
                lambda w: w.t(
                    "Not advised over the {crop}: its herbicide traits are not on record. Ask first.", crop=w.t(crop)
                ),
                lambda w: w.t("A crop without the trait can be lost, and the label forbids it."),
                _JUDGED,
            )
        ]
    return [
        *_past_stage(one, crop, flora),
        *(finding for group in one.groups for finding in _use(group, crop, traits, flora)),
    ]


def _past_stage(one: Pass, crop: str, flora: Flora) -> list[Finding]:
    """A pass planned for a day by which most labels have ended sprays over the crop."""
    row = flora.crop(crop)
    if row is None or row.spray_days is None or one.days is None or one.days < row.spray_days:
        return []
    return [
        Finding(
            "past_crop_stage",
            lambda w: w.t(
                "{days} days after planting the {crop} is usually past {stage}, where most labels end sprays over it.",
                days=one.days,
                crop=w.t(crop),
                stage=w.t(row.spray_stage),
            ),
            lambda w: w.t("The label in hand governs: read its last crop stage and its days to harvest first."),
            _JUDGED,
        )
    ]


def has_trait(ingredient: str, traits: Sequence[str]) -> bool:
    """Whether seed with these traits bears an ingredient: a trait is called by what it bears."""
    return any(ingredient.casefold().startswith(trait.casefold()) for trait in traits)


def _use(group: int, crop: str, traits: Sequence[str], flora: Flora) -> list[Finding]:
    items = [
        item
        for item in flora.ingredients.values()
        if group in item.groups and any("POST" in part or part.startswith("residual") for part in item.timing)
    ]
    uses = {item.crops[crop] for item in items if crop in item.crops}
    if "yes" in uses or (not uses and crop not in next(iter(flora.ingredients.values())).crops):
        return []
    if "trait" in uses:
        names = [item.name for item in items if item.crops[crop] == "trait"]
        if any(has_trait(name, traits) for name in names):
            return []
        return [
            Finding(
                "trait_missing",
                lambda w: w.t(
                    "Group {group} goes over {crop} only where the seed has the trait, and none is on record.",
                    group=group, crop=w.t(crop),
                ),
                lambda w: w.t("A crop without the trait can be lost, and the label forbids it."),
                _LABEL,
            )
        ]  # fmt: skip
    directed = "directed" in uses
    return [
        Finding(
            "not_over_crop",
            (lambda w: w.t("In {crop}, group {group} is only sprayed below the leaves.", crop=w.t(crop), group=group))
            if directed
            else lambda w: w.t("We know of no use of group {group} over {crop}.", crop=w.t(crop), group=group),
            lambda w: w.t("So we recall the labels; read the label, it is the law."),
            _LABEL,
        )
    ]
