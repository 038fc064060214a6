"""Money per area and yields in the units that people use for them."""

from __future__ import annotations

from tepal.words import Words

_ACRES_PER_HA = 2.4710538147
# Kilograms of a US bushel (USDA: corn and sorghum 56 lb, soybean 60, oat 32) or of a pound.
_LB = 0.45359237
_BUSHEL_KG = {"corn": 56 * _LB, "sorghum": 56 * _LB, "soybean": 60 * _LB, "oat": 32 * _LB}
_SHORT_TON_KG = 2000 * _LB


def land_unit(words: Words) -> str:
    return words.t("an acre") if words.units == "us" else words.t("a hectare")


def money_here(per_ha: float, words: Words) -> float:
    """Money per hectare as money for the unit of land that is used."""
    return per_ha / _ACRES_PER_HA if words.units == "us" else per_ha


def money(per_ha: float, currency: str, words: Words) -> str:
    """A sum for the unit of land: to two figures, and to whole units above ten."""
    value = money_here(per_ha, words)
    amount = words.about(value) if value >= 1 or value == 0 else words.number(value, 2)
    return f"{currency}{amount}" if not currency[-1].isalnum() else f"{amount} {currency}"


def yields(t_ha: float, crop: str, words: Words) -> str:
    """A harvest by the unit in which the crop is sold: 52 bushels an acre."""
    kg_acre = 1000 * t_ha / _ACRES_PER_HA
    if words.units != "us":
        return words.t("{n} t a hectare", n=words.number(t_ha, 1))
    if crop in _BUSHEL_KG:
        return words.t("{n} bushels an acre", n=words.about(kg_acre / _BUSHEL_KG[crop]))
    if crop == "alfalfa":
        return words.t("{n} tons an acre", n=words.number(kg_acre / _SHORT_TON_KG, 1))
    return words.t("{n} lb an acre", n=words.about(kg_acre / _LB))
