"""The record's own names (kinds of ground, roles, steps, sizes) and small areas, in words for people."""

from __future__ import annotations

from tepal.words import Words

_FT2 = 0.3048**2


def ground_said(ground: str, words: Words) -> str:
    """What kind of ground it is."""
    return {
        "field": words.t("field"),
        "ditch": words.t("ditch"),
        "roadside": words.t("roadside"),
        "drainage": words.t("drainage"),
        "conservation": words.t("conservation planting"),
        "feedlot": words.t("feedlot"),
        "pasture": words.t("pasture"),
        "pivot_corner": words.t("pivot corner"),
        "other": words.t("other ground"),
    }[ground]


def roles_said(words: Words) -> dict[str, str]:
    """What somebody is to a site, by the record's name for it."""
    return {
        "owner": words.t("owns it"),
        "farms": words.t("farms it"),
        "sprays": words.t("sprays it"),
        "harvests": words.t("harvests it"),
        "decides": words.t("decides"),
        "pays": words.t("pays"),
        "may_be_told": words.t("may be told"),
    }


def done_said(what: str, words: Words) -> str:
    """What was done, as the beginning of a sentence."""
    return {
        "sprayed": words.t("It was sprayed"),
        "pulled": words.t("Plants were pulled"),
        "cut": words.t("Plants were cut"),
        "bagged": words.t("Plants were bagged"),
        "mowed": words.t("It was mowed"),
        "cultivated": words.t("It was cultivated"),
        "harvested": words.t("It was harvested"),
        "other": words.t("Something was done"),
    }[what]


def step_said(step: str, words: Words) -> str:
    """How far a sample is, as a sentence without its end."""
    return {
        "made": words.t("A sample was taken"),
        "sent": words.t("A sample was sent"),
        "received": words.t("A sample has come to the laboratory"),
        "result": words.t("The result of a sample"),
    }[step]


def stage_said(stage: str, words: Words) -> str:
    """How far along a plant is."""
    return {
        "cotyledon": words.t("with seed leaves only"),
        "seedling_2-4_leaf": words.t("with two to four true leaves"),
        "vegetative": words.t("grown, not in flower"),
        "reproductive": words.t("in flower"),
        "mature_seed": words.t("with ripe seed"),
        "unknown": words.t("stage not told"),
    }[stage]


def small_area(square_metres: float, words: Words) -> str:
    """The area of a counting stop: square feet or square metres."""
    if words.units == "us":
        return words.t("{n} square feet", n=words.number(square_metres / _FT2))
    return words.t("{n} m²", n=words.number(square_metres))
