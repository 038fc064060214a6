"""The herbicide passes of a season, from a plan or from what was done, in order of their day."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Literal

from tepal.flora import Flora
from tepal.programme import Post, Programme, Residual, Season
from tepal.reading import Reading

# A pass on plants that are up is a post; one on the soil before they come is a residual.
PassKind = Literal["residual", "post", "sprayed"]


@dataclass(frozen=True, slots=True)
class Pass:
    """One pass. `days`: after planting; `height_cm`: the usual plant's, high end; `lasts_days`: (low, high) where told.

    `over_crop`: it falls on a crop that is up. `sprayed` was done already: its ingredients are on record.
    """

    kind: PassKind
    groups: tuple[int, ...]
    on: date | None = None
    days: int | None = None
    height_cm: float | None = None
    lasts_days: tuple[float, float] | None = None
    over_crop: bool = False
    tallest_cm: float | None = None
    ingredients: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PlannedSeason:
    """One season of a plan: its crop, planting day (`usual`: taken from the crop's table), passes, other tactics."""

    year: int
    crop: str
    planted: date | None
    usual: bool
    passes: tuple[Pass, ...]
    other_tactics: bool


def planned(plan: Programme, *, year: int, region: str | None, flora: Flora) -> tuple[PlannedSeason, ...]:
    """The seasons of a plan from a year on."""
    return tuple(_season(season, year + i, region, flora) for i, season in enumerate(plan.season))


def _season(season: Season, year: int, region: str | None, flora: Flora) -> PlannedSeason:
    planted, usual = _planted(season, year, region, flora)
    sprays: tuple[Residual | Post, ...] = (*season.residual, *season.post)
    found = [_of(spray, planted, season.crop) for spray in sprays]
    # A pass whose day is told by height alone comes after those of the same kind; a residual before a post.
    order = sorted(found, key=lambda one: (_days(one), one.kind == "post"))
    other = bool(season.pull or season.cut or season.cultivate or season.cover_crop_t_ha or season.inversion)
    return PlannedSeason(year, season.crop, planted, usual, tuple(order), other)


def _days(one: Pass) -> float:
    if one.days is not None:
        return one.days
    return 30.0  # by height alone: about when the first flush is small


def _of(spray: Residual | Post, planted: date | None, crop: str) -> Pass:
    days = spray.days_after_planting
    made = Pass(
        kind="residual" if isinstance(spray, Residual) else "post",
        groups=tuple(int(group) for group in spray.groups),
        on=None if planted is None or days is None else planted + timedelta(days=days),
        days=days,
        over_crop=crop != "fallow" and (days is None or days > 0),
    )
    if isinstance(spray, Residual):
        lasts = spray.lasts_days
        return made if lasts is None else replace(made, lasts_days=(lasts.low, lasts.high))
    return made if spray.height_cm is None else replace(made, height_cm=spray.height_cm.high)


def _planted(season: Season, year: int, region: str | None, flora: Flora) -> tuple[date | None, bool]:
    if season.planted is not None:
        month, day = (int(part) for part in season.planted.split("-"))
        return date(year, month, day), False
    row = flora.crop(season.crop)
    usual = row.seasons.get(region or "") if row is not None else None
    if usual is None:
        return None, False
    first, last = (date(year, *point) for point in usual.plant)
    return first + (last - first) / 2, True


def sprayed(reading: Reading) -> tuple[Pass, ...]:
    """This season's sprayings on record, in order; those without a group known say nothing here."""
    found = []
    for line in reading.done:
        groups = [int(item["group"]) for item in line.detail.get("ingredients", ()) if item["group"] is not None]
        if line.what == "sprayed" and line.on.year == reading.as_of.year and groups:
            names = tuple(str(item["name"]) for item in line.detail["ingredients"])
            tallest = line.detail.get("tallest_cm")
            found.append(
                Pass(
                    "sprayed",
                    tuple(dict.fromkeys(groups)),
                    on=line.on,
                    tallest_cm=None if tallest is None else float(tallest),
                    ingredients=names,
                )
            )
    return tuple(found)
