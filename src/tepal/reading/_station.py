"""What the station has measured, year by year, on the same days: what weather may do next is what it did before."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from tepal.ledger import WeatherTable
from tepal.reading._records import Fact, FloatArray, StationRecord

_DAYS = 366
# A day at or over this is hot for people at work (judgement: 90 degF, where warnings of heat begin).
HOT_C = 32.0
_WEEK, _LATELY = 7, 3
# A year says something of a week where most of its days were measured.
_ENOUGH = 0.8


def station_record(weather: WeatherTable | None, as_of: date) -> StationRecord | None:
    """The station's years up to a day, one row a year; None where there is no station or no day by then.

    Days after `as_of` are left out, so that nothing is known before it has happened.
    """
    if weather is None or not len(weather):
        return None
    known = weather.dates <= np.datetime64(as_of)
    if not known.any():
        return None
    days = weather.dates[known]
    in_year = days.astype("datetime64[Y]").astype(int) + 1970
    at = (days - days.astype("datetime64[Y]").astype("datetime64[D]")).astype(int)
    years = np.arange(in_year.min(), in_year.max() + 1)

    def table(values: FloatArray) -> FloatArray:
        rows = np.full((years.size, _DAYS), np.nan)
        rows[in_year - years[0], at] = values[known]
        rows.setflags(write=False)
        return rows

    return StationRecord(
        weather.station, tuple(years.tolist()), table(weather.prcp_mm), table(weather.tmin_c), table(weather.tmax_c)
    )


def heat_facts(record: StationRecord | None, as_of: date) -> dict[str, Fact]:
    """How hot the coming week usually is, and how hot the last days were."""
    none: dict[str, Fact] = {"hot_days": None, "hottest_lately_c": None}
    if record is None:
        return none
    today = as_of.timetuple().tm_yday - 1
    week = record.tmax_c[np.array(record.years) < as_of.year, today : today + _WEEK]
    week = week[np.isfinite(week).mean(axis=1) >= _ENOUGH] if week.shape[1] else week
    lately = [
        value
        for back in range(_LATELY)
        if (day := as_of - timedelta(days=back)).year in record.years
        and np.isfinite(value := record.tmax_c[record.years.index(day.year), day.timetuple().tm_yday - 1])
    ]
    return {
        "hot_days": float(np.mean(np.nansum(week >= HOT_C, axis=1))) if week.size else None,
        "hottest_lately_c": float(max(lately)) if lately else None,
    }
