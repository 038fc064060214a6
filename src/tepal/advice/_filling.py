"""The values of one site for the braces of its sentences: names, groups, days, the law."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

import numpy as np

from tepal.advice._effort import Effort
from tepal.advice._fills import Fills, Law
from tepal.advice._finding_crop import has_trait
from tepal.advice._population import population, verdict
from tepal.flora import Flora
from tepal.reading import Fact, Reading

# A hunted taxon is named in a sentence from this chance on.
_NAMED_AT_LEAST = 0.1
# Below this share the likeliest pigweed is not called by its name: some cannot be told apart before they flower.
_SURE_SHARE = 0.8
_FIRST = 0.3  # as the condition `first_find` has it
_COMMON = 0.3  # weight in the region from which on a taxon is no news there (judgement)


def fills_of(reading: Reading, facts: Mapping[str, Fact], effort: Effort) -> Fills:
    names = {code: _short(effort.flora.taxa[code].english_name) for code in effort.flora.hunted()}
    chances = {code: _number(facts.get(f"p_any.{code}")) or 0.0 for code in names}
    # A plant that may be either is pulled either way.
    told = sorted((c for c in names if chances[c] >= _NAMED_AT_LEAST), key=lambda code: -chances[code])
    leading = facts.get("leading")
    share = _number(facts.get("leading_share"))
    sure = share is None or share >= _SURE_SHARE
    taxon = effort.flora.taxa.get(leading) if isinstance(leading, str) and sure else None
    re_entry = facts.get("re_entry_until")
    doubtful, left = _sites_of_action(reading, effort.flora)
    return Fills(
        hunted=tuple(names[code] for code in told),
        leading=_short(taxon.english_name) if taxon else None,
        seeds_each=float(np.median(effort.per_female())) if effort.known else None,
        ceiling_per_ha=float(np.median(effort.parameter("pull_ceiling_per_ha"))),
        p_hunted=_number(facts.get("p_hunted")),
        seen_share=_number(facts.get("seen_share")),
        sprayed_groups=_parts(facts.get("sprayed_groups"), ","),
        re_entry=re_entry if isinstance(re_entry, datetime) else None,
        pre_harvest=_day(facts.get("pre_harvest_until")),
        nesting_until=_day(facts.get("nesting.until")),
        law=_law(facts, names),
        first=_first(facts, names, effort.flora),
        doubtful_groups=doubtful,
        left_groups=left,
        moved_out=_moved_out(facts),
        year=reading.as_of.year,
        ground=str(facts.get("ground") or ""),
        resistant_groups=_parts(facts.get("resistant_groups"), ","),
        beside=_parts(facts.get("beside"), ";"),
        spray_stage=_spray_stage(facts, effort.flora),
    )


def _spray_stage(facts: Mapping[str, Fact], flora: Flora) -> str:
    """The stage by which most labels end sprays over the crop, in the table's words; empty where none is known."""
    row = flora.crop(str(facts.get("crop") or ""))
    return "" if row is None else row.spray_stage


def _parts(value: Fact, mark: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in value.split(mark) if part.strip()) if isinstance(value, str) else ()


def _first(facts: Mapping[str, Fact], names: Mapping[str, str], flora: Flora) -> tuple[str, ...]:
    """The taxa that would be proved here for the first time, the likeliest first; of several not the common one."""
    chances = {code: _number(facts.get(f"p_any.{code}")) or 0.0 for code in names}
    new = [code for code in names if facts.get(f"first_find.{code}") is True and chances[code] >= _FIRST]
    region = str(facts.get("region"))
    told = [code for code in new if flora.taxa[code].weights.get(region, 0.0) < _COMMON] or new
    return tuple(names[code] for code in sorted(told, key=lambda code: -chances[code]))


def _sites_of_action(reading: Reading, flora: Flora) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Sites of action that act on plants that are up: those not to be counted on before a test, and those left.

    What is left is what the crop can bear by the ingredients' table; of a crop that it does not hold, all.
    """
    shares = {code: _number(reading.facts.get(f"p_any.{code}")) or 0.0 for code in flora.hunted()}
    here = population(max(shares, key=lambda code: shares[code]), reading=reading)
    groups = sorted({group for item in flora.ingredients.values() for group in item.groups})
    row = flora.crop(str(reading.facts.get("crop") or ""))
    crop = None if row is None else row.crop
    told = [verdict(group, here, on_leaves=True, flora=flora, crop=crop) for group in groups]
    doubtful = [one.group for one in told if one.standing in ("doubtful", "failed")]
    traits = reading.facts.get("traits")
    held = _parts(traits, ";") if isinstance(traits, str) else None
    left = [
        one.group for one in told if one.standing == "sure" and (crop is None or _borne(one.group, crop, held, flora))
    ]
    return tuple(map(str, doubtful)), tuple(map(str, left))


def _borne(group: int, crop: str, traits: tuple[str, ...] | None, flora: Flora) -> bool:
    """Whether some ingredient of a group goes over a crop, by its seed's traits where they are known; True where no row
    tells."""
    uses = [
        (item.name, item.crops[crop])
        for item in flora.ingredients.values()
        if group in item.groups and crop in item.crops
    ]
    return not uses or any(
        use == "yes" or (use == "trait" and (traits is None or has_trait(name, traits))) for name, use in uses
    )


def _moved_out(facts: Mapping[str, Fact]) -> tuple[tuple[str, date], ...]:
    """What left and on which day, from the two facts that tell it in one order."""
    what, on = (str(facts.get(key) or "").split("; ") for key in ("moved_out", "moved_out_on"))
    return tuple((one, date.fromisoformat(day)) for one, day in zip(what, on, strict=False) if one and day)


def _law(facts: Mapping[str, Fact], names: Mapping[str, str]) -> Law:
    def text(key: str) -> str:
        value = facts.get(f"law.{key}")
        return value if isinstance(value, str) else ""

    return Law(
        listed=text("listed"),
        name=names.get(text("taxon"), ""),
        class_words=text("class"),
        tell=text("tell"),
        must=text("must"),
        how_soon=text("how_soon"),
        moving=text("transport"),
        checked=_day(facts.get("law.checked")),
        status=text("status"),
    )


def _short(name: str) -> str:
    """A name as it is spoken, without what stands in brackets."""
    return name.partition(" (")[0]


def _day(value: Fact) -> date | None:
    return value if isinstance(value, date) else None


def _number(value: Fact) -> float | None:
    return float(value) if isinstance(value, (int, float)) else None
