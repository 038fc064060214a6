"""Crops as a weed office needs them: when they stand, when rows close, until when people and machines can pass."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from types import MappingProxyType
from typing import Literal, get_args

from tepal.doubt import Basis
from tepal.flora._cells import Folder, choice
from tepal.flora._law import month_day
from tepal.flora._records import REGIONS
from tepal.tables import Refused, Row

# row: sown in rows that a machine can pass; small_grain: stubble follows; forage: cut again and again; cover: ended
# before a crop is planted into it; none: no crop stands (fallow, prevented planting).
CropKind = Literal["row", "small_grain", "forage", "cover", "none"]
CROP_KINDS: tuple[CropKind, ...] = get_args(CropKind)
_COLUMNS = ("crop", "other_names", "kind", "days_to_harvest", "canopy_days", "cross_days", "cross_stage",
            "cultivate_days", "cultivate_stage", "spray_days", "spray_stage", "spray_bbch", "trait_sold", "basis",
            "sources", "note")  # fmt: skip
_SEASON_COLUMNS = ("crop", "region", "plant_first", "plant_last", "harvest_first", "harvest_last", "basis", "sources",
                   "note")  # fmt: skip
# Winter wheat is planted in one year and harvested in the next.
_YEAR = timedelta(days=365)


@dataclass(frozen=True, slots=True)
class Season:
    """Usual days of planting and harvest of a crop in a region, as (month, day)."""

    plant: tuple[tuple[int, int], tuple[int, int]]
    harvest: tuple[tuple[int, int], tuple[int, int]]
    basis: Basis
    sources: tuple[str, ...]

    def harvest_days(self, year: int) -> tuple[date, date]:
        """First and last usual day of harvest in a year."""
        first, last = self.harvest
        return date(year, *first), date(year, *last)


@dataclass(frozen=True, slots=True)
class CropRow:
    """One crop. Days count from planting; None: it has none (no rows, no canopy, no harvest).

    `canopy_days`: rows have usually closed. `cross_days`, `cross_stage`: until then people can cross the rows without
    harm. `cultivate_days`, `cultivate_stage`: until then a cultivator can pass. `spray_days`, `spray_stage`,
    `spray_bbch` (the stage by the BBCH scale): by then most labels end sprays over the crop. `trait_sold`: seed with
    herbicide traits is sold, so that the trait has to be asked for.
    """

    crop: str
    other_names: tuple[str, ...]
    kind: CropKind
    days_to_harvest: float | None
    canopy_days: float | None
    cross_days: float | None
    cross_stage: str
    cultivate_days: float | None
    cultivate_stage: str
    spray_days: float | None
    spray_stage: str
    spray_bbch: float | None
    trait_sold: bool
    seasons: Mapping[str, Season]
    basis: Basis
    sources: tuple[str, ...]
    note: str

    def messages(self) -> tuple[str, ...]:
        """Its name and the stages at which something ends: texts that people read."""
        return self.crop, self.cross_stage, self.spray_stage

    def harvest_near(self, as_of: date, *, planted: date | None, region: str | None, within: timedelta) -> bool | None:
        """Whether harvest is due within so many days; by the planting day, else by the region; None: not known."""
        if planted is not None and self.days_to_harvest is not None:
            # A planting day more than a year back belongs to another season.
            return planted + timedelta(days=self.days_to_harvest) - within <= as_of < planted + _YEAR
        season = self.seasons.get(region or "")
        if season is None:
            return None
        first, last = season.harvest_days(as_of.year)
        return first - within <= as_of <= last


def read_crops(folder: Folder) -> Mapping[str, CropRow]:
    """crops.csv with crop_seasons.csv, by every name of a crop (small letters); empty where the table is absent."""
    seasons = _read_seasons(folder)
    found: dict[str, CropRow] = {}
    known = set()
    for row in folder.table("crops.csv", _COLUMNS, required=False):
        name = row.text("crop")
        folder.once(row, name)
        known.add(name)
        sources = folder.keys(row)
        crop = CropRow(
            crop=name,
            other_names=row.items("other_names"),
            kind=choice(row, "kind", CROP_KINDS),
            days_to_harvest=row.optional_number("days_to_harvest", low=1, high=400),
            canopy_days=row.optional_number("canopy_days", low=1, high=400),
            cross_days=row.optional_number("cross_days", low=0, high=400),
            cross_stage=row.text("cross_stage", ""),
            cultivate_days=row.optional_number("cultivate_days", low=0, high=400),
            cultivate_stage=row.text("cultivate_stage", ""),
            spray_days=row.optional_number("spray_days", low=0, high=400),
            spray_stage=row.text("spray_stage", ""),
            spray_bbch=row.optional_number("spray_bbch", low=0, high=99),
            trait_sold=choice(row, "trait_sold", ("yes", "no")) == "yes",
            seasons=MappingProxyType(seasons.get(name, {})),
            basis=folder.basis(row, sources),
            sources=sources,
            note=row.text("note", ""),
        )
        for one in (crop.crop, *crop.other_names):
            if found.setdefault(one.casefold(), crop) is not crop:
                raise Refused(
                    f"{one!r} names two crops",
                    where=row.where("other_names"),
                    rule="A name belongs to one crop.",
                    step="Drop it from one of the two.",
                )
    for name in seasons:
        if name not in known:
            raise Refused(
                f"crop {name!r} is not declared",
                where="crop_seasons.csv",
                rule="crops.csv declares the crops.",
                step="Declare it there, or correct the name.",
            )
    return MappingProxyType(found)


def _read_seasons(folder: Folder) -> dict[str, dict[str, Season]]:
    seasons: dict[str, dict[str, Season]] = {}
    for row in folder.table("crop_seasons.csv", _SEASON_COLUMNS, required=False):
        name, region = row.text("crop"), choice(row, "region", REGIONS)
        folder.once(row, name, region)
        sources = folder.keys(row)
        season = Season(_span(row, "plant"), _span(row, "harvest"), folder.basis(row, sources), sources)
        if season.harvest[0] > season.harvest[1]:
            raise Refused(
                "the first day of harvest after the last",
                where=row.where("harvest_first"),
                rule="A harvest lies within one year.",
                step="Correct the row.",
            )
        seasons.setdefault(name, {})[region] = season
    return seasons


def _span(row: Row, what: str) -> tuple[tuple[int, int], tuple[int, int]]:
    return month_day(row, f"{what}_first"), month_day(row, f"{what}_last")
