"""What grows on a site and how far it is: the crop facts that rules ask for."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from tepal.flora import CropRow, Flora
from tepal.ledger import Crop, Done, Entry, event_date
from tepal.reading._crop_stage import bbch
from tepal.reading._records import Fact, Place

# "Near" harvest: time enough to tell the harvester and to clean out.
_NEAR = timedelta(days=42)
_STUBBLE = "stubble"
_ORGANIC = "organic"


@dataclass(frozen=True, slots=True)
class Grown:
    """Crop facts, and the crops of the season where there are several parts (`parts`) or a second planting."""

    facts: dict[str, Fact]
    parts: tuple[tuple[str, str], ...] = ()  # (part, crop), where the site is split
    replanted_from: str | None = None


def grown(entries: Sequence[Entry], place: Place, as_of: date, flora: Flora) -> Grown:
    """Facts about the crop that the place follows, from the crops table and the harvests on record."""
    row, stubble = _row(place.crop, flora)
    crops = _season(entries, as_of)
    off = place.harvested or _harvest(entries, place, row, as_of)
    age = None if place.planted is None else (as_of - place.planted).days
    parts = _parts(crops)
    current = next(
        (crop for crop in reversed(crops) if crop.crop == place.crop and crop.planted == place.planted), None
    )
    facts: dict[str, Fact] = {
        "crop_kind": None if row is None else row.kind,
        "trait_sold": None if row is None else row.trait_sold,
        "crop_stage": None if current is None else current.stage,
        "harvested": stubble or off is not None,
        "harvested_days": None if off is None else float((as_of - off).days),
        "harvest_near": _near(row, place, as_of, gone=stubble or off is not None),
        "canopy_closed": _past(age, None if row is None else row.canopy_days),
        "rows_crossable": _not_past(age, None if row is None else row.cross_days),
        "cultivable": _not_past(age, None if row is None else row.cultivate_days),
        "spray_stage_open": _spray_open(row, age, None if current is None else current.stage),
        "organic": _organic(place, current),
        "split": bool(parts),
        "double_crop": _double(crops, place, flora),
    }
    return Grown(facts, parts, _replanted(crops, current))


def standing_row(place: Place, facts: Mapping[str, Fact], flora: Flora) -> CropRow | None:
    """The row crop that stands on a field now; None where none does, or no table holds it.

    Without a day until which labels let a spray over it, where its stage has closed that already or it is organic.
    """
    row, _ = _row(place.crop, flora)
    if row is None or row.kind != "row" or place.ground != "field" or facts["harvested"] is True:
        return None
    closed = facts["spray_stage_open"] is False or facts["organic"] is True
    return replace(row, spray_days=None) if closed else row


def _row(crop: str | None, flora: Flora) -> tuple[CropRow | None, bool]:
    """The crop's row, and whether the entry itself speaks of stubble."""
    words = (crop or "").replace("_", " ").strip().casefold()
    stubble = words.endswith(_STUBBLE)
    return flora.crop(words.removesuffix(_STUBBLE).strip() if stubble else words), stubble


def _season(entries: Sequence[Entry], as_of: date) -> list[Crop]:
    """Crops of this season that are planted by the day, in the order of planting."""
    crops = [
        entry.body
        for entry in entries
        if isinstance(entry.body, Crop)
        and entry.body.year in (as_of.year, as_of.year + 1)
        and (entry.body.planted is None or entry.body.planted <= as_of)
    ]
    return sorted(crops, key=lambda crop: crop.planted or date.min)


def _harvest(entries: Sequence[Entry], place: Place, row: CropRow | None, as_of: date) -> date | None:
    """The day the crop came off, from what was done since it was planted. A forage stands on after each cut."""
    if row is not None and row.kind == "forage":
        return None
    since = place.planted or date(as_of.year, 1, 1)
    days = [
        event_date(entry)
        for entry in entries
        if isinstance(entry.body, Done) and entry.body.what == "harvested" and since <= event_date(entry) <= as_of
    ]
    return max((day for day in days if day.year == as_of.year), default=None)


def _near(row: CropRow | None, place: Place, as_of: date, *, gone: bool) -> bool | None:
    if gone:
        return False
    if row is None:
        return None
    return row.harvest_near(as_of, planted=place.planted, region=place.region, within=_NEAR)


def _past(age: int | None, days: float | None) -> bool | None:
    return None if age is None or days is None else age >= days


def _not_past(age: int | None, days: float | None) -> bool | None:
    return None if age is None or days is None else age < days


def _spray_open(row: CropRow | None, age: int | None, told: str | None) -> bool | None:
    """Whether most labels still let a spray over the crop: neither its usual days nor a stage on record say no."""
    if row is None or row.spray_days is None:
        return None
    stage = bbch(told)
    if stage is not None and row.spray_bbch is not None and stage >= row.spray_bbch:
        return False
    # A stage on record may be weeks old, so that it cannot keep open what the days have closed.
    return _not_past(age, row.spray_days)


def _organic(place: Place, current: Crop | None) -> bool | None:
    """The crop is told to be organic: by its name, among its traits, in what was said of it. None: nothing is said.

    Of a site's own words "certified organic" counts alone: they may speak of a neighbor's ground.
    """
    name = (place.crop or "").strip().casefold()
    traits = {trait.strip().casefold() for trait in place.traits or ()}
    said = (current.words or "").casefold() if current is not None else ""
    told = name.startswith(f"{_ORGANIC} ") or _ORGANIC in traits or _is_organic(said)
    return True if told or "certified organic" in (place.words or "").casefold() else None


def _is_organic(said: str) -> bool:
    return re.search(r"(?<!not )(?<!non-)(?<!no longer )\borganic\b(?! (?:matter|neighbo))", said) is not None


def _parts(crops: Sequence[Crop]) -> tuple[tuple[str, str], ...]:
    """Which part carries which crop, where more than one crop stands; the newest entry of a part counts."""
    standing = {" ".join(crop.part.split()): crop.crop for crop in crops if crop.part and crop.harvested is None}
    return tuple(standing.items()) if len(set(standing.values())) > 1 else ()


def _replanted(crops: Sequence[Crop], current: Crop | None) -> str | None:
    """The crop that stood before on the same ground and was never harvested; None where nothing was replanted."""
    if current is None or current.planted is None:
        return None
    before = [
        crop
        for crop in crops
        if crop is not current
        and crop.part == current.part
        and crop.harvested is None
        and crop.year == current.year
        and crop.planted is not None
        and crop.planted < current.planted
        # Winter grain still counts as harvested when the entry of its harvest is another one.
        and (current.planted - crop.planted).days < 90
    ]
    return before[-1].crop if before else None


def _double(crops: Sequence[Crop], place: Place, flora: Flora) -> bool | None:
    """A second crop planted in the year in which a small grain stood there."""
    if place.planted is None:
        return None
    return any(
        (row := _row(crop.crop, flora)[0]) is not None
        and row.kind == "small_grain"
        and crop.crop != place.crop
        and crop.year == place.planted.year
        and (crop.planted is None or crop.planted < place.planted)
        for crop in crops
    )
