"""Counts, points and boundaries from lone files, in metres or in degrees."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from tepal.ledger.formats._columns import Understood, Wanted, understand
from tepal.tables import Refused, Row, Where, geojson_object, read_bytes, read_csv

if TYPE_CHECKING:
    from shapely.geometry import MultiPolygon

FloatArray = npt.NDArray[np.float64]
_FAR_M = 1e7

XY = (
    Wanted("x", "x", ("x", "east", "easting"), "m", plain=True),
    Wanted("y", "y", ("y", "north", "northing"), "m", plain=True),
)
LONLAT = (
    Wanted("lon", "longitude", ("lon", "long", "lng", "longitude")),
    Wanted("lat", "latitude", ("lat", "latitude")),
)
AREA = Wanted("area_m2", "area looked at", ("area", "area looked at", "plot area", "quadrat area", "quadrat"), "m2")
ROW = Wanted("row_m", "row length", ("row", "row length", "length of row", "length"), "m")
ROW_WIDTH = Wanted("row_cm", "row width", ("row width", "row spacing", "spacing", "width"), "cm")
COUNT = Wanted(
    "count",
    "count",
    (
        "count",
        "counts",
        "plants",
        "number",
        "n",
        "#",
        "number of plants",
        "no of plants",
        "# of plants",
        "# plants",
        "plant count",
        "plants counted",
        "count plants",
        "total plants",
    ),
)


@dataclass(frozen=True, slots=True)
class PointTable:
    """Places with the area they stand for: shape (n,) each. `x`, `y` are metres, or degrees where `lonlat`."""

    file: str
    lonlat: bool
    x: FloatArray
    y: FloatArray
    area_m2: FloatArray
    lines: tuple[int, ...]
    said: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.x)


@dataclass(frozen=True, slots=True)
class CountTable(PointTable):
    """Places with counts: `count` has shape (n,)."""

    count: npt.NDArray[np.int64]


def read_points(path: Path | str, *, area_m2: float | None = None) -> PointTable:
    """Places: ``x,y`` (metres) or ``lon,lat``, and ``area_m2`` (or a row's length and width).

    `area_m2` stands where the file gives no area. Where a file has both frames, the metres are used.

    Raises
    ------
    Refused
        For the first line that breaks a rule, or where a column is missing.
    """
    columns, lonlat = _places(path, (AREA, ROW, ROW_WIDTH))
    rows = [_place(columns, row, lonlat, area_m2) for row in columns.table]
    return PointTable(columns.table.file, lonlat, *_arrays(rows), _lines(columns), columns.said())


def read_counts(path: Path | str, *, area_m2: float | None = None) -> CountTable:
    """Counts at places: as `read_points`, and ``count`` (0 where nothing was found).

    Raises
    ------
    Refused
        For the first line that breaks a rule (a negative or broken count, no area, a place off the earth…).
    """
    wanted = (AREA, ROW, ROW_WIDTH, COUNT)
    columns, lonlat = _places(path, wanted)
    columns.need("count", wanted=wanted)
    rows, counts = [], []
    for row in columns.table:
        rows.append(_place(columns, row, lonlat, area_m2))
        count = columns.count(row, "count")
        if count is None:
            raise Refused(
                "no count",
                where=columns.where(row, "count"),
                rule="A place where nothing was found has a 0.",
                step="Fill it in, or leave the line out.",
            )
        counts.append(count)
    found = np.array(counts, dtype=np.int64)
    found.setflags(write=False)
    return CountTable(columns.table.file, lonlat, *_arrays(rows), _lines(columns), columns.said(), found)


def read_boundary(path: Path | str, *, lonlat: bool = True) -> MultiPolygon:
    """The area drawn in a GeoJSON file, all its polygons together: degrees, or metres where not `lonlat`.

    Raises
    ------
    Refused
        If the file is no GeoJSON, has no polygon, or one that crosses itself.
    """
    from tepal.ground import boundary_from_geojson

    return boundary_from_geojson(read_geojson(path), where=Path(path).name, lonlat=lonlat)


def read_geojson(path: Path | str) -> Mapping[str, Any]:
    """The JSON object in a file.

    Raises
    ------
    Refused
        If it cannot be read, is too large, or is no JSON object of finite numbers.
    """
    path = Path(path)
    return geojson_object(read_bytes(path), file=path.name)


def _places(path: Path | str, more: Sequence[Wanted]) -> tuple[Understood, bool]:
    table = read_csv(path)
    columns = understand(table, (*XY, *LONLAT, *more))
    metres = "x" in columns and "y" in columns
    if not metres and not ("lon" in columns and "lat" in columns):
        raise Refused(
            "no columns for the place",
            where=Where(table.file, 1),
            rule=f"Places are x, y in metres or lon, lat in degrees; the columns are {', '.join(table.columns)}.",
            step="Name them so in the first line.",
        )
    if not table.rows:
        raise Refused("no rows", where=table.file, rule="At least one place is needed.", step="Check the export.")
    return columns, not metres


def _place(columns: Understood, row: Row, lonlat: bool, area_m2: float | None) -> tuple[float, float, float]:
    keys, bounds = (("lon", "lat"), (180.0, 90.0)) if lonlat else (("x", "y"), (_FAR_M, _FAR_M))
    out = []
    for key, bound in zip(keys, bounds, strict=True):
        value = columns.number(row, key, low=-bound, high=bound)
        if value is None:
            raise Refused(
                f"no {key}", where=columns.where(row, key), rule="Each line has its place.", step="Fill it in."
            )
        out.append(value)
    return out[0], out[1], area_of(columns, row, area_m2)


def area_of(columns: Understood, row: Row, default: float | None) -> float:
    """The area that was looked at on one row of a table, from an area or from a row's length and width."""
    area = columns.number(row, "area_m2", low=1e-6, high=1e8)
    length, width = columns.number(row, "row_m", low=1e-3, high=1e5), columns.number(row, "row_cm", low=1, high=1000)
    if area is None and length is not None and width is not None:
        area = length * width / 100
    area = default if area is None else area
    if area is None:
        raise Refused(
            "no area",
            where=columns.where(row, "area_m2"),
            rule="A count says on what area: area_m2, or a row's length and width.",
            step="Fill it in.",
        )
    return area


def _arrays(rows: Sequence[tuple[float, float, float]]) -> tuple[FloatArray, FloatArray, FloatArray]:
    values = np.array(rows, dtype=np.float64).reshape(-1, 3)
    x, y, area = (np.ascontiguousarray(values[:, i]) for i in range(3))
    for array in (x, y, area):
        array.setflags(write=False)
    return x, y, area


def _lines(columns: Understood) -> tuple[int, ...]:
    return tuple(row.line for row in columns.table)
