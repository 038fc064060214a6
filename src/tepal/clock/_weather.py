"""Daily weather of one station, as it was measured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt

from tepal.tables import Refused, Where

FloatArray = npt.NDArray[np.float64]

COLDEST_C, HOTTEST_C = -70.0, 60.0


@dataclass(frozen=True, slots=True, eq=False)
class Weather:
    """Days of one station: `dates`, lowest and highest temperature (degC), rain (mm) or None.

    Days may come in any order and are put in order; each day once. A missing temperature is NaN, or the day is left
    out. A rain of NaN counts as none, and a column of them as no rain known. `lines` says in which line of `file` each
    day stands, for refusals.

    Raises
    ------
    Refused
        If the columns differ in length, a day comes twice, a lowest temperature exceeds the highest, or a value is
        impossible.
    """

    dates: Sequence[date] | npt.NDArray[np.datetime64]
    tmin_c: FloatArray
    tmax_c: FloatArray
    prcp_mm: FloatArray | None = None
    file: str = "weather"
    lines: Sequence[int] | None = None
    days: npt.NDArray[np.datetime64] = None  # type: ignore[assignment]  # set below, in order of time

    def __post_init__(self) -> None:
        days = np.asarray(self.dates, dtype="datetime64[D]")
        columns = [np.asarray(self.tmin_c, dtype=np.float64), np.asarray(self.tmax_c, dtype=np.float64)]
        if self.prcp_mm is not None and np.isfinite(self.prcp_mm).any():
            columns.append(np.asarray(self.prcp_mm, dtype=np.float64))
        else:
            object.__setattr__(self, "prcp_mm", None)
        if any(column.shape != days.shape for column in columns):
            raise Refused(
                f"{days.size} dates and columns of {', '.join(str(column.size) for column in columns)} values",
                where=self.file,
                rule="Each day has one value in each column.",
                step="Look for a torn column.",
            )
        # Stable, so that of two equal days the later line comes second and is the one named.
        order = np.argsort(days, kind="stable")
        lines = None if self.lines is None else tuple(int(self.lines[i]) for i in order)
        object.__setattr__(self, "lines", lines)
        object.__setattr__(self, "days", _locked(days[order]))
        object.__setattr__(self, "dates", tuple(self.days.tolist()))
        for name, column in zip(("tmin_c", "tmax_c", "prcp_mm"), columns, strict=False):
            object.__setattr__(self, name, _locked(column[order]))
        self._check()

    def _check(self) -> None:
        twice = np.flatnonzero(self.days[1:] == self.days[:-1])
        if twice.size:
            raise Refused(
                f"the day {self.days[twice[0]]} twice",
                where=self.where(int(twice[0]) + 1),
                rule="Each day of a station comes once.",
                step="Take out one of the two lines.",
            )
        wrong = np.flatnonzero(self.tmin_c > self.tmax_c)
        if wrong.size:
            at = int(wrong[0])
            raise Refused(
                f"lowest {self.tmin_c[at]:g} above highest {self.tmax_c[at]:g} on {self.days[at]}",
                where=self.where(at),
                rule="tmin_c is at most tmax_c.",
                step="Correct the day, or leave it out.",
            )
        for name, column, low, high in (
            ("tmin_c", self.tmin_c, COLDEST_C, HOTTEST_C),
            ("tmax_c", self.tmax_c, COLDEST_C, HOTTEST_C),
            ("prcp_mm", self.prcp_mm, 0.0, 2000.0),
        ):
            if column is None:
                continue
            wrong = np.flatnonzero((column < low) | (column > high))
            if wrong.size:
                at = int(wrong[0])
                raise Refused(
                    f"{name} is {column[at]:g} on {self.days[at]}",
                    where=self.where(at),
                    rule=f"It must lie between {low:g} and {high:g}.",
                    step="Check the unit (degC, mm), or leave the day out.",
                )

    def where(self, index: int) -> Where:
        """The place of a day, by its index in order of time."""
        return Where(self.file, self.lines[index] if self.lines is not None and index < len(self.lines) else None)


def _locked(values: npt.NDArray[np.generic]) -> npt.NDArray[np.generic]:
    copy = values.copy()
    copy.setflags(write=False)
    return copy
