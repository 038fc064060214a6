"""One season as it may go: the days that are known, then each past year of the station as one possible rest."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from tepal.clock._climate import made_up_years, usual_c
from tepal.clock._columns import LONGEST_FILLED, Columns, columns_of
from tepal.clock._notes import Note
from tepal.clock._weather import Weather
from tepal.tables import Refused
from tepal.words import message

FloatArray = npt.NDArray[np.float64]

# Fewer distinct futures than this make coarse quantiles, so past years are used several times, each shifted anew.
_FUTURES = 40
# Between-year standard deviation of a season's mean temperature (judgement, about that of the Great Plains).
_SD_YEAR_C = 1.3
# And of the years to come against those of the record: a climate drifts by about that in ten or twenty (judgement).
_SD_DRIFT_C = 0.4
_FEBRUARY_29 = 59
# So far above what a latitude usually has no place is; a file in Fahrenheit is about 25 degrees above it.
_TOO_WARM_C = 13.0


@dataclass(frozen=True, slots=True, eq=False)
class Season:
    """Possible courses of one year's weather: arrays of shape (futures, days), day 0 is 1 January.

    Up to day index `known_to` all futures agree, but for unknown days at the start of the year. `past_years`: the years
    that stand behind the futures (empty: a made-up climate). `filled`: days in use that were missing and drawn between
    their neighbours, of this season and of past years. `notes`: sentences on what had to be assumed.
    """

    start: date
    as_of: date
    lat: float
    tmin_c: FloatArray
    tmax_c: FloatArray
    prcp_mm: FloatArray | None
    known_to: int
    past_years: tuple[int, ...]
    filled: tuple[date, ...]
    notes: tuple[Note, ...]

    @property
    def days(self) -> int:
        return int(self.tmin_c.shape[1])

    @property
    def futures(self) -> int:
        return int(self.tmin_c.shape[0])

    def index(self, day: date) -> int:
        """Days after 1 January."""
        return (day - self.start).days


def season(
    weather: Weather | None, *, lat: float, as_of: date, rng: np.random.Generator, outlook_c: float = 0.0
) -> Season:
    """The season of `as_of`: its known days, each joined to the rest of every past year.

    Nothing after `as_of` is looked at, neither of this year nor of later ones. A past year is a future when it has
    every day that is needed of it. With Y past years every future gets a shift of its whole remaining temperature with
    variance 1.3^2 2/Y + 0.4^2 degC^2, which stands for the climate's mean (known from Y years only), for the years that
    were not seen, and for its drift; with none, the futures come from a made-up climate of the latitude. `outlook_c`
    shifts all futures to a seasonal outlook.

    Raises
    ------
    Refused
        If the weather has no day up to `as_of`, or misses more than five days in a row of this season.
    """
    start = date(as_of.year, 1, 1)
    days = (date(as_of.year, 12, 31) - start).days + 1
    columns = None if weather is None else columns_of(weather, as_of)
    if columns is None:
        low, high, rain = made_up_years(lat, days, 2 * _FUTURES, rng)
        return Season(
            start=start, as_of=as_of, lat=lat, tmin_c=_locked(low + outlook_c), tmax_c=_locked(high + outlook_c),
            prcp_mm=_locked(rain), known_to=-1, past_years=(), filled=(), notes=(Note(_NO_STATION),),
        )  # fmt: skip
    known, first = _known(columns, start)
    rest = _past_years(columns, start, days, needed_from=0 if first else known + 1)
    notes = _too_warm(columns, lat)
    if rest.years:
        copies = max(1, math.ceil(_FUTURES / len(rest.years)))
        futures = [np.tile(column, (copies, 1)) for column in rest.columns]
        sd = math.hypot(_SD_YEAR_C * math.sqrt(2 / len(rest.years)), _SD_DRIFT_C)
        if len(rest.years) < 10:
            few = _ONE_YEAR if len(rest.years) == 1 else _FEW_YEARS
            notes.append(Note(few, count=len(rest.years)))
        if rest.holed:
            notes.append(Note(_HOLED, years=", ".join(map(str, rest.holed))))
    else:
        futures = list(made_up_years(lat, days, 2 * _FUTURES, rng))[: len(columns.values)]
        sd = 0.0
        notes.append(Note(_NO_PAST))
    shift = outlook_c + sd * rng.standard_normal((futures[0].shape[0], 1))
    futures[0] = futures[0] + shift
    futures[1] = futures[1] + shift
    if first:
        notes.append(Note(_STARTS_LATE, day=start + timedelta(days=first)))
    late = (as_of - start).days - known
    if known < 0:
        notes.append(Note(_NO_DAY, year=as_of.year))
    elif late > LONGEST_FILLED:
        notes.append(Note(_ENDS_EARLY, count=late, day=as_of))
    if known >= first:
        for column, seen in zip(futures, columns.season(start), strict=True):
            column[:, first : known + 1] = seen[first : known + 1]
    return Season(
        start=start, as_of=as_of, lat=lat, tmin_c=_locked(futures[0]), tmax_c=_locked(futures[1]),
        prcp_mm=_locked(futures[2]) if len(futures) > 2 else None, known_to=known, past_years=rest.years,
        filled=_in_use(columns.filled, start, rest.years, 0 if first else known + 1),
        notes=tuple(notes),
    )  # fmt: skip


_NO_STATION = message(
    "No weather was given: a made-up climate of the latitude stands in for it, and dates are very wide."
)
_NO_PAST = message(
    "No past year of this station can be used: a made-up climate of the latitude stands in, and dates are wide."
)
_ONE_YEAR = message("Only {count} past year of this station can be used, so dates are wide.")
_FEW_YEARS = message("Only {count} past years of this station can be used, so dates are wide.")
_HOLED = message("Not used, for days are missing: {years}.")
_STARTS_LATE = message("No weather before {day}; those days were taken from other years.")
_NO_DAY = message("The record holds no day of {year}; the whole season so far was taken from other years.")
_ENDS_EARLY = message("The weather ends {count} days before {day}; the days since were taken from other years.")
_FAHRENHEIT = message(
    "The station is {degrees} °C warmer than its latitude usually is. Are its temperatures in Fahrenheit? Columns "
    "named tmin_f and tmax_f are read as such."
)


def _in_use(filled: tuple[date, ...], start: date, years: tuple[int, ...], needed_from: int) -> tuple[date, ...]:
    """Filled days that stand in a future: all of this season's, and those of a past year that are needed of it."""
    kept = set(years)
    return tuple(
        day for day in filled
        if day >= start or (day.year in kept and (day - date(day.year, 1, 1)).days >= needed_from)
    )  # fmt: skip


def _too_warm(columns: Columns, lat: float) -> list[Note]:
    """A note where a station is warmer than any place of its latitude: its file may be in Fahrenheit."""
    of_year = (np.arange(columns.values[0].size) + columns.first.timetuple().tm_yday - 1) % 365
    above = float(np.nanmean((columns.values[0] + columns.values[1]) / 2 - usual_c(lat, of_year)))
    if above < _TOO_WARM_C:
        return []
    return [Note(_FAHRENHEIT, degrees=round(above))]


def _known(columns: Columns, start: date) -> tuple[int, int]:
    """Index of the last and of the first known day of the season. (-1, 0) where none is known."""
    (low, *_) = columns.season(start)
    known = np.flatnonzero(~np.isnan(low))
    if not known.size:
        return -1, 0
    first, last = int(known[0]), int(known[-1])
    hole = np.flatnonzero(np.isnan(low[first : last + 1]))
    if hole.size:
        begin = first + int(hole[0])
        end = begin + int(np.argmax(~np.isnan(low[begin:])))
        day = start + timedelta(days=end)
        line = int(np.searchsorted(columns.weather.days, np.datetime64(day, "D")))
        raise Refused(
            f"{end - begin} days missing before {day}",
            where=columns.weather.where(line),
            rule=f"At most {LONGEST_FILLED} days in a row of this season are filled from their neighbors.",
            step="Get the missing days from the station, or from one nearby.",
        )
    return last, first


@dataclass(frozen=True, slots=True, eq=False)
class _Past:
    """Past years that can be futures, and those that would be but for missing days."""

    years: tuple[int, ...]
    holed: tuple[int, ...]
    columns: tuple[FloatArray, ...]


def _past_years(columns: Columns, start: date, days: int, *, needed_from: int) -> _Past:
    """Past years cut to the length of this season: 29 February is dropped, or repeats the 28th."""
    years, rows, holed = [], [], []
    for year in range(columns.first.year, start.year):
        begin = (date(year, 1, 1) - columns.first).days
        length = (date(year + 1, 1, 1) - date(year, 1, 1)).days
        pad = max(-begin, 0)
        cut = [np.concatenate([np.full(pad, np.nan), c[max(begin, 0) : begin + length]]) for c in columns.values]
        if days < length:
            cut = [np.delete(column, _FEBRUARY_29) for column in cut]
        elif days > length:
            cut = [np.insert(column, _FEBRUARY_29, column[_FEBRUARY_29 - 1]) for column in cut]
        if np.isfinite(cut[0][needed_from:]).all():
            years.append(year)
            rows.append(cut)
        else:
            holed.append(year)
    stacked = tuple(np.stack(column) for column in zip(*rows, strict=True)) if rows else ()
    return _Past(tuple(years), tuple(holed), stacked)


def _locked(column: FloatArray) -> FloatArray:
    column.setflags(write=False)
    return column
