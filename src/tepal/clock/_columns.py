"""A station's days on a calendar without holes, up to the as-of date."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt

from tepal.clock._weather import Weather
from tepal.tables import Refused

FloatArray = npt.NDArray[np.float64]

# The longest run of missing days that is drawn straight between its neighbours; weather keeps its character for about
# that long (judgement).
LONGEST_FILLED = 5


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """The station day by day, without holes in the calendar, up to the as-of date; NaN where still missing."""

    first: date
    values: tuple[FloatArray, ...]
    filled: tuple[date, ...]
    weather: Weather

    def season(self, start: date) -> tuple[FloatArray, ...]:
        """This season's days from 1 January, NaN before the first day of the record."""
        offset = (start - self.first).days
        if offset >= 0:
            return tuple(column[offset:] for column in self.values)
        return tuple(np.concatenate([np.full(-offset, np.nan), column]) for column in self.values)


def columns_of(weather: Weather, as_of: date) -> Columns:
    """The days up to the as-of date on a calendar without holes, short gaps filled.

    Raises
    ------
    Refused
        If there is no day up to `as_of`.
    """
    last = np.datetime64(as_of, "D")
    measured = ~(np.isnan(weather.tmin_c) | np.isnan(weather.tmax_c))
    use = measured & (weather.days <= last)
    if not use.any():
        raise Refused(
            f"no weather up to {as_of}",
            where=weather.where(0),
            rule="Days after the as-of date are never used, so there must be some before it.",
            step="Give the station's earlier days, or no weather at all for a rough climate of the latitude.",
        )
    days = weather.days[use]
    first = days[0]
    at = (days - first).astype(np.int64)
    length = int((last - first).astype(np.int64)) + 1
    missing = np.ones(length, dtype=np.bool_)
    missing[at] = False
    short = missing & _in_short_run(missing)
    values = []
    for name in ("tmin_c", "tmax_c", "prcp_mm"):
        column = getattr(weather, name)
        if column is None:
            continue
        full = np.full(length, np.nan)
        full[at] = column[use]
        if name == "prcp_mm":
            # Rain is not drawn between days: it would rain on every one of them.
            full[np.isnan(full)] = 0.0
        else:
            full[short] = np.interp(np.flatnonzero(short), at, column[use])
        values.append(full)
    filled = tuple((first + np.flatnonzero(short)).tolist())
    return Columns(first.item(), tuple(values), filled, weather)


def _in_short_run(missing: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Whether a missing day is one of a run of at most LONGEST_FILLED with a known day on both sides."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], missing, [False]]).astype(np.int8)))
    short = np.zeros(missing.size, dtype=np.bool_)
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        if end - begin <= LONGEST_FILLED and begin > 0 and end < missing.size:
            short[begin:end] = True
    return short
