"""What the station's record says of a planned pass: will plants be too tall, will rain wash a residual in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from tepal.advice._effort import FloatArray
from tepal.clock import degree_days
from tepal.doubt import Provenance, generator_for
from tepal.flora import Flora
from tepal.reading import Reading, StationRecord

_YEAR = 365
_ENOUGH = 0.8
_LEAST_YEARS = 5


@dataclass(frozen=True, slots=True, eq=False)
class Chance:
    """A chance with the years and sources that it stands on; `seen`: measured, no longer a chance."""

    value: float
    years: int
    stands_on: Provenance
    seen: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class PlanWeather:
    """One site's station and season, asked about planned days. Without a station everything is None."""

    reading: Reading
    flora: Flora
    taxon: str

    def too_tall(self, on: date, since: date | None) -> Chance | None:
        """The chance that the tallest pass 10 cm by a day.

        Without `since` it is that of the clock for the season under way. With it, that of plants that come up the day
        after `since`: the share of draws in which the degree days from then on reach those of 10 cm.
        """
        if since is None:
            days = self.reading.draws.get("height_10_cm_day")
            if days is None or on.year != self.reading.as_of.year or not self._right_taxon():
                return None
            by = (on - date(on.year, 1, 1)).days
            return Chance(float(np.mean(np.nan_to_num(days, nan=np.inf) <= by)), 0, self.reading.why.get(
                "/windows/0", Provenance()))  # fmt: skip
        warmth = self._degree_days(since, on)
        if warmth is None or on <= since:
            return None
        rng = generator_for("programme", self.taxon, since, on)
        need = self.flora.parameter("dd_to_10_cm", self.taxon)
        there = rng.choice(warmth, size=2000) * self.flora.parameter("growth_site", self.taxon).value().draws(rng, 2000)
        value = float(np.mean(there >= need.value().draws(rng, 2000)))
        return Chance(value, warmth.size, Provenance(need.sources, need.basis))

    def no_rain(self, on: date) -> Chance | None:
        """The chance that too little rain washes a residual in; what was measured, where the days have passed."""
        station = self.reading.station
        if station is None:
            return None
        rain, days = (self.flora.parameter(name, "*") for name in ("rain_to_activate_mm", "days_to_activate"))
        stands_on = Provenance(rain.sources, rain.basis)
        rng = generator_for("programme", "rain", on)
        need, within = rain.value().draws(rng, 2000), np.round(days.value().draws(rng, 2000)).astype(int)
        longest = int(within.max())
        measured = self._window(on, longest, station.years)
        if measured is not None and (self.reading.as_of - on).days >= longest:
            return Chance(float(np.mean(_sums(measured, within) < need)), 1, stands_on, seen=True)
        past = [
            found
            for year in station.years
            if year < self.reading.as_of.year
            and (found := self._window(_in_year(on, year), longest, station.years)) is not None
        ]
        if len(past) < _LEAST_YEARS:
            return None
        pick = rng.integers(0, len(past), 2000)
        got = np.array([past[i][: within[j]].sum() for j, i in enumerate(pick)])
        return Chance(float(np.mean(got < need)), len(past), stands_on)

    def _right_taxon(self) -> bool:
        return bool(self.reading.windows) and self.reading.windows[0].taxon == self.taxon

    def _window(self, on: date, days: int, years: tuple[int, ...]) -> FloatArray | None:
        station = self.reading.station
        if station is None or on.year not in years:
            return None
        first = on.timetuple().tm_yday - 1
        rain = station.rain_mm[years.index(on.year), first : first + days]
        if rain.size < days or np.isfinite(rain).mean() < _ENOUGH:
            return None
        return np.nan_to_num(rain)

    def _degree_days(self, since: date, on: date) -> FloatArray | None:
        """Degree days from the day after `since` through the day before `on`, in each past year, shape = (years,)."""
        station = self.reading.station
        if station is None or since.year != on.year:
            return None
        return _past_warmth(station, self.reading.as_of.year, since=since, on=on, flora=self.flora, taxon=self.taxon)


def _past_warmth(
    station: StationRecord, this_year: int, *, since: date, on: date, flora: Flora, taxon: str
) -> FloatArray | None:
    low, high = (flora.parameter(name, taxon).mean for name in ("growth_base_c", "growth_upper_c"))
    assert low is not None
    first, last = (day.timetuple().tm_yday - 1 for day in (since, on))
    past = np.array(station.years) < this_year
    cold, warm = station.tmin_c[past, first + 1 : last], station.tmax_c[past, first + 1 : last]
    known = np.isfinite(cold) & np.isfinite(warm)
    kept = known.mean(axis=1) >= _ENOUGH if known.shape[1] else np.zeros(len(known), dtype=bool)
    if kept.sum() < _LEAST_YEARS:
        return None
    daily = degree_days(np.nan_to_num(cold), np.nan_to_num(warm), lower_c=low, upper_c=high or np.inf)
    daily = np.where(known, daily, np.nan)[kept]
    return np.asarray(np.nanmean(daily, axis=1) * daily.shape[1])


def _sums(rain: FloatArray, within: np.ndarray) -> FloatArray:
    return np.asarray(np.cumsum(rain)[np.minimum(within, rain.size) - 1])


def _in_year(day: date, year: int) -> date:
    return day.replace(year=year, day=min(day.day, 28) if day.month == 2 else day.day)
