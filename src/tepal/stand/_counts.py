"""Counts with the area they were made on, checked once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tepal.tables import Refused

FloatArray = npt.NDArray[np.float64]

# Whole numbers above this are no longer exact in a float, and no one has counted so far.
MOST = 1e12
# No frame in metres has coordinates beyond twice the way round the Earth.
_FARTHEST_M = 1e8


@dataclass(frozen=True, slots=True, eq=False)
class Points:
    """Places of a known area: east and north in metres, area in square metres; arrays of shape = (n,), read-only."""

    x_m: FloatArray
    y_m: FloatArray
    area_m2: FloatArray

    def __post_init__(self) -> None:
        for name in ("x_m", "y_m", "area_m2"):
            object.__setattr__(self, name, _column(name, getattr(self, name), "place"))
        _same_length(self.x_m, self.y_m, self.area_m2)
        _check_place(self.x_m, self.y_m, "place")
        _check_area(self.area_m2, "place")

    def __len__(self) -> int:
        return self.x_m.size


@dataclass(frozen=True, slots=True, eq=False)
class Counts:
    """Plants counted: places as in `Points` and whole numbers `count` >= 0; arrays of shape = (n,), n >= 1, read-only.

    Raises
    ------
    Refused
        If there is no count, lengths differ, a value is not finite, a place is beyond the Earth, an area is not above
        0, or a count is negative or fractional. The refusal names the number of the count, from 1.
    """

    x_m: FloatArray
    y_m: FloatArray
    area_m2: FloatArray
    count: FloatArray

    def __post_init__(self) -> None:
        for name in ("x_m", "y_m", "area_m2", "count"):
            object.__setattr__(self, name, _column(name, getattr(self, name), "count"))
        _same_length(self.x_m, self.y_m, self.area_m2, self.count)
        if self.count.size == 0:
            raise Refused("no counts", where="counts", rule="At least one count is needed.", step="Count one place.")
        _check_place(self.x_m, self.y_m, "count")
        _check_area(self.area_m2, "count")
        bad = np.flatnonzero((self.count < 0) | (self.count != np.floor(self.count)) | (self.count > MOST))
        if bad.size:
            raise Refused(
                f"count {self.count[bad[0]]:g}",
                where=f"count {bad[0] + 1}",
                rule="A count is a whole number, 0 or more.",
                step="Give the plants counted, not plants per area.",
            )

    def __len__(self) -> int:
        return self.count.size


def _column(name: str, values: npt.ArrayLike, row: str) -> FloatArray:
    column = np.array(values, dtype=np.float64).reshape(-1)
    bad = np.flatnonzero(~np.isfinite(column))
    if bad.size:
        raise Refused(f"{name} is no number", where=f"{row} {bad[0] + 1}", rule="All are finite.", step="Correct it.")
    column.setflags(write=False)
    return column


def _same_length(*columns: FloatArray) -> None:
    if len({column.size for column in columns}) != 1:
        raise ValueError(f"columns of different length: {[column.size for column in columns]}")


def _check_place(x_m: FloatArray, y_m: FloatArray, row: str) -> None:
    bad = np.flatnonzero(np.maximum(np.abs(x_m), np.abs(y_m)) > _FARTHEST_M)
    if bad.size:
        raise Refused(
            f"place {x_m[bad[0]]:g}, {y_m[bad[0]]:g}",
            where=f"{row} {bad[0] + 1}",
            rule="x and y are metres on Earth.",
            step="Correct the place, or give lon and lat in degrees.",
        )


def _check_area(area_m2: FloatArray, row: str) -> None:
    bad = np.flatnonzero(area_m2 <= 0)
    if bad.size:
        raise Refused(
            f"area {area_m2[bad[0]]:g} m2",
            where=f"{row} {bad[0] + 1}",
            rule="The area looked at is above 0.",
            step="Give its square metres.",
        )
