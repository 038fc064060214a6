"""Days on which the work can be done: the station's rain of past years, wind by judgement, and getting people together.

In each draw the coming weeks have the rain of one past year of the station, the same days of the year. A day is lost
where it rains more than the work bears, where the day before soaked the ground, or, for spraying, where the wind never
lets up long enough. Wind is not on record at a rain station: its share of days is a judgement with a wide spread.

- days lost = days of getting together + days until the first fit day, counted from a day in the next three weeks;
- spray days left = fit days from today until the tallest pass 10 cm.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

from tepal.advice._effort import Effort, FloatArray
from tepal.doubt import Provenance, generator_for, summary
from tepal.reading import StationRecord
from tepal.words import Words

BoolArray = npt.NDArray[np.bool_]
Work = Literal["crew", "spray", "machine"]
WORKS: tuple[Work, ...] = ("crew", "spray", "machine")
# With fewer years than this the rain of a station tells less than the table of usual losses.
_LEAST_YEARS = 5
_ENOUGH = 0.8  # of the days of a year's stretch, measured
_START_WITHIN, _MOST_WAIT = 21, 40
_AHEAD = 90  # no window is looked at further ahead


@dataclass(frozen=True, slots=True, eq=False)
class WorkDays:
    """Days of work of one site from one day on. `years`: the station's that stand behind it; none: the table's."""

    lost: Mapping[str, FloatArray]
    fit_to_spray: BoolArray | None  # shape = (n, 90), day 0 is today
    years: tuple[int, ...]
    stands_on: Provenance


def work_days(station: StationRecord | None, effort: Effort) -> WorkDays:
    """Days lost by each kind of work, shape = (n,), and the days fit to spray; from the record where it is long enough.

    `effort` gives the numbers (`labour.csv`) and the draws' size and seed.
    """
    rain, years = _years(station, effort.day)
    if rain is None:
        return WorkDays({work: effort.parameter("days_lost", work) for work in WORKS}, None, (), effort.used)
    rng = generator_for(*effort.seed, "advice", "work days")
    n = effort.size
    year = rng.integers(0, len(rain), n)
    start = rng.integers(0, _START_WITHIN, n)
    lost: dict[str, FloatArray] = {}
    spray: BoolArray | None = None
    for work in WORKS:
        fit = _fit(rain[year], work, effort, rng)
        if work == "spray":
            spray = fit[:, :_AHEAD]
        waited = fit[np.arange(n)[:, None], start[:, None] + np.arange(_MOST_WAIT)]
        days = np.where(waited.any(axis=1), waited.argmax(axis=1), _MOST_WAIT)
        lost[work] = days + effort.parameter("gathering_days", work)
    return WorkDays(lost, spray, years, effort.used)


def _years(station: StationRecord | None, day: float) -> tuple[FloatArray | None, tuple[int, ...]]:
    """Rain of past years from the day before today on, shape = (years, days); the year is a ring of 365 days."""
    if station is None:
        return None, ()
    columns = (int(day) - 1 + np.arange(_AHEAD + _START_WITHIN + 1)) % 365
    # The last row is the season under way: its coming days are not known.
    rain = station.rain_mm[:-1, columns]
    enough = np.isfinite(rain).mean(axis=1) >= _ENOUGH if len(rain) else np.zeros(0, dtype=bool)
    if enough.sum() < _LEAST_YEARS:
        return None, ()
    years = tuple(year for year, kept in zip(station.years[:-1], enough, strict=True) if kept)
    return np.nan_to_num(rain[enough]), years


def _fit(rain: FloatArray, work: Work, effort: Effort, rng: np.random.Generator) -> BoolArray:
    """Whether each day bears the work, shape = (n, days); `rain` begins the day before the first."""
    today, before = rain[:, 1:], rain[:, :-1]
    dry = today <= effort.parameter("rain_stops_mm", work)[:, None]
    firm = before <= effort.parameter("rain_soaks_mm", work)[:, None]
    if work != "spray":
        return np.asarray(dry & firm)
    calm = rng.random(today.shape) >= effort.parameter("wind_stops", "spray")[:, None]
    return np.asarray(dry & firm & calm)


@dataclass(frozen=True, slots=True)
class SprayDays:
    """Days fit to spray from today until the tallest plants pass 10 cm: a summary of draws, and the chance of none."""

    days: Mapping[str, float]
    none: float
    years: tuple[int, ...]
    stands_on: Provenance = field(default_factory=Provenance)

    def text(self, words: Words) -> str:
        """One sentence on how many, one on what that rests on."""
        low, middle, high = (round(self.days[key]) for key in ("q05", "q50", "q95"))
        if high == 0:
            told = words.t(
                "Hardly a day fit to spray is left before the tallest pass {height}.", height=words.length(0.1)
            )
        elif low == high:
            told = words.plural(
                "Until the tallest pass {height}, about {count} day fit to spray is left.",
                "Until the tallest pass {height}, about {count} days fit to spray are left.",
                middle,
                height=words.length(0.1),
            )
        else:
            told = words.plural(
                "Until the tallest pass {height}, about {count} day fit to spray is left; 9 chances in 10 that it is "
                "{low} to {high}.",
                "Until the tallest pass {height}, about {count} days fit to spray are left; 9 chances in 10 that it is "
                "{low} to {high}.",
                middle,
                height=words.length(0.1),
                low=low,
                high=high,
            )
        rest = words.t(
            "Rain is that of {years} past years at the station; wind is a rough guess.", years=len(self.years)
        )
        if high > 0 and self.none >= 0.05:
            return f"{told} {words.t('That there is none: {chance}.', chance=words.chance(self.none))} {rest}"
        return f"{told} {rest}"


def spray_days(work: WorkDays, effort: Effort) -> SprayDays | None:
    """The days left to spray; None without a rain record, without the day of 10 cm, or where it has likely passed."""
    passes = effort.draws.get("height_10_cm_day")
    if work.fit_to_spray is None or passes is None:
        return None
    left = np.nan_to_num(passes, nan=np.inf) - effort.day
    if np.mean(left <= 0) > 0.9:
        return None
    within = np.arange(_AHEAD)[None, :] < np.clip(left, 0, _AHEAD)[:, None]
    days = (work.fit_to_spray & within).sum(axis=1).astype(np.float64)
    return SprayDays(summary(days), float(np.mean(days == 0)), work.years, work.stands_on)
