"""Daily weather: immutable batches by station, and what stands when they are laid over each other."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

from tepal.ledger._ids import canonical, content_id
from tepal.tables import Refused, Where

FloatArray = npt.NDArray[np.float64]
COLDEST_C, HOTTEST_C, WETTEST_MM = -70.0, 60.0, 2000.0

DayValues = tuple[float, float, float | None]


@dataclass(frozen=True, slots=True)
class WeatherDay:
    """One day at one station: temperatures in °C, rain in mm (None where not measured), and the line it stood on.

    Values are kept to four figures behind the point: a thermometer reads to 0.1, and 50 °F are an even 10 °C.
    """

    on: date
    tmin_c: float
    tmax_c: float
    prcp_mm: float | None = None
    line: int | None = None

    def __post_init__(self) -> None:
        for name in ("tmin_c", "tmax_c", "prcp_mm"):
            value = getattr(self, name)
            if value is not None:
                object.__setattr__(self, name, round(float(value), 4) + 0.0)  # no -0.0

    @property
    def values(self) -> DayValues:
        return self.tmin_c, self.tmax_c, self.prcp_mm


@dataclass(frozen=True, slots=True)
class WeatherBatch:
    """Days of one station that came together. `corrects` lets them replace days that are already known otherwise.

    Raises
    ------
    Refused
        If a day comes twice, or a value is impossible.
    """

    station: str
    days: tuple[WeatherDay, ...]
    lon: float | None = None
    lat: float | None = None
    corrects: bool = False
    seq: int | None = None

    def __post_init__(self) -> None:
        days = tuple(sorted(self.days, key=lambda day: day.on))
        object.__setattr__(self, "days", days)
        for first, second in pairwise(days):
            if first.on == second.on:
                raise Refused(
                    f"{second.on} twice",
                    where=Where(self.station, second.line),
                    rule="A batch has one row a day.",
                    step="Drop one of them.",
                )
        for day in days:
            problem = day_problem(day)
            if problem:
                where = Where(self.station, day.line)
                raise Refused(f"{day.on}: {problem[0]}", where=where, rule=problem[1], step="Correct the day.")
        for name, value, most in (("lon", self.lon, 180), ("lat", self.lat, 90)):
            if value is not None and not abs(value) <= most:
                raise Refused(
                    f"{name} is {value}", where=self.station, rule=f"It lies within {most} degrees.", step="Correct it."
                )

    @property
    def rows(self) -> str:
        """The days as canonical text."""
        return canonical([[day.on.isoformat(), *day.values] for day in self.days])

    @property
    def id(self) -> str:
        """A UUIDv8 from everything the batch says."""
        return content_id(canonical([self.station, self.lon, self.lat, self.corrects]), self.rows)


@dataclass(frozen=True, slots=True)
class WeatherTable:
    """What stands of one station's weather: shape (n,) each, by date; a date that is missing is not there.

    `dates` are datetime64[D]; `prcp_mm` is NaN where rain was not measured. `batches` are the batch ids it stands on.
    """

    station: str
    lon: float | None
    lat: float | None
    dates: npt.NDArray[np.datetime64]
    tmin_c: FloatArray
    tmax_c: FloatArray
    prcp_mm: FloatArray
    batches: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.dates)


def day_problem(day: WeatherDay) -> tuple[str, str] | None:
    """What is impossible about a day, and the rule; None where it can be."""
    low, high, rain = day.values
    for name, value in (("tmin", low), ("tmax", high)):
        if not COLDEST_C <= value <= HOTTEST_C:  # also refuses NaN
            return f"{name} is {value:g} °C", (
                f"A temperature lies between {COLDEST_C:g} and {HOTTEST_C:g} °C; "
                "columns named tmin_f and tmax_f are read as Fahrenheit."
            )
    if low > high:
        return f"tmin {low:g} lies above tmax {high:g}", "The least temperature of a day is not above the greatest."
    if rain is not None and not 0 <= rain <= WETTEST_MM:
        return f"rain is {rain:g} mm", f"A day's rain lies between 0 and {WETTEST_MM:g} mm."
    return None


def batch_from_rows(
    station: str, rows: Iterable[Sequence[Any]], *, lon: float | None, lat: float | None, corrects: bool, seq: int
) -> WeatherBatch:
    """A batch as it was stored."""
    days = tuple(
        WeatherDay(date.fromisoformat(str(on)), float(low), float(high), None if rain is None else float(rain))
        for on, low, high, rain in rows
    )
    return WeatherBatch(station, days, lon, lat, corrects, seq)


def standing_days(batches: Iterable[WeatherBatch]) -> dict[date, tuple[DayValues, str]]:
    """Day → values and batch id: the later batch counts, which `news` has allowed only where it agrees or corrects."""
    out: dict[date, tuple[DayValues, str]] = {}
    for batch in batches:
        name = batch.id
        for day in batch.days:
            # A batch that does not know the rain leaves the rain that is known.
            known = out.get(day.on)
            rain = known[0][2] if day.prcp_mm is None and known else day.prcp_mm
            out[day.on] = ((day.tmin_c, day.tmax_c, rain), name)
    return out


def table(batches: Sequence[WeatherBatch], station: str) -> WeatherTable:
    """The batches of one station laid over each other, as arrays."""
    layers = [(b.id, b.lon, b.lat, [(day.on.isoformat(), *day.values) for day in b.days]) for b in batches]
    return laid_over(station, layers)


def laid_over(
    station: str,
    layers: Iterable[tuple[str, float | None, float | None, Iterable[tuple[str, float, float, float | None]]]],
) -> WeatherTable:
    """Layers of days as arrays: (batch id, lon, lat, days); a day is (ISO date, tmin, tmax, rain or None)."""
    days: dict[str, tuple[float, float, float | None, str]] = {}
    lon: float | None = None
    lat: float | None = None
    for name, east, north, layer in layers:
        if east is not None and north is not None:
            lon, lat = east, north
        for on, low, high, fallen in layer:
            rain = fallen
            # A batch that does not know the rain leaves the rain that is known.
            if rain is None and on in days:
                rain = days[on][2]
            days[on] = (low, high, rain, name)
    order = sorted(days)
    values = np.array([days[on][:3] for on in order], dtype=np.float64).reshape(-1, 3)  # None becomes NaN
    dates = np.array(order, dtype="datetime64[D]")
    columns = [np.ascontiguousarray(values[:, i]) for i in range(3)]
    for array in (dates, *columns):
        array.setflags(write=False)
    used = dict.fromkeys(days[on][3] for on in order)
    return WeatherTable(station, lon, lat, dates, columns[0], columns[1], columns[2], tuple(used))


def news(batch: WeatherBatch, known: Sequence[WeatherBatch], *, file: str) -> tuple[WeatherBatch, tuple[Refused, ...]]:
    """The days of `batch` that say something new, and refusals of those that contradict what stands.

    A day that says what an earlier batch said, replaced since or not, is no news. A day that contradicts what stands
    is news only where the batch says that it corrects.
    """
    stands = standing_days(known)
    ever = {(day.on, *day.values) for old in known for day in old.days}
    fresh, refused = [], []
    for day in batch.days:
        old = stands.get(day.on)
        if old is None:
            fresh.append(day)
            continue
        low, high, rain = old[0]
        agrees = (day.tmin_c, day.tmax_c) == (low, high) and (rain is None or day.prcp_mm in (None, rain))
        if agrees and day.prcp_mm in (None, rain):
            continue
        if agrees or batch.corrects:
            fresh.append(day)
        elif (day.on, *day.values) not in ever:
            refused.append(
                Refused(
                    f"{day.on} at {batch.station} is {_words(day.values)} here and {_words(old[0])} in the ledger",
                    where=Where(file, day.line),
                    rule="What is known of a day is replaced only by what says that it corrects it.",
                    step="Compare the files; take it with --corrects if the station has revised the day.",
                )
            )
    return WeatherBatch(batch.station, tuple(fresh), batch.lon, batch.lat, batch.corrects), tuple(refused)


def _words(values: DayValues) -> str:
    low, high, rain = values
    return f"{low:g} to {high:g} °C" + ("" if rain is None else f", {rain:g} mm")
