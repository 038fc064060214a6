"""Counts and places from a table as people write it: names of columns, units of area."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tepal.tables import Refused, Row, Table, Where, meant, read_csv

if TYPE_CHECKING:
    from tepal.ground import Frame
    from tepal.stand import Counts, Points

# What spreadsheets and receivers call them, besides the names themselves; case, spaces, hyphens do not matter.
_NAMES = {
    "x": ("x_m", "easting", "easting_m", "east_m", "utm_e", "utm_x"),
    "y": ("y_m", "northing", "northing_m", "north_m", "utm_n", "utm_y"),
    "lon": ("longitude", "long", "lng"),
    "lat": ("latitude",),
    "area_m2": ("m2", "m²", "area_m²", "sq_m", "area_sq_m", "square_metres", "square_meters"),
    "area_ft2": ("ft2", "ft²", "area_ft²", "sq_ft", "sqft", "area_sq_ft", "area_sqft", "square_feet"),
    "count": ("counts", "plants", "plant_count", "number_of_plants"),
}
_MEANT = {other: name for name, others in _NAMES.items() for other in (name, *others)}
_M2_PER_FT2 = 0.09290304


def read_table(path: Path) -> Table:
    """A table of counts or places, its columns called x, y, lon, lat, area_m2 and count where they are meant.

    Raises
    ------
    Refused
        As `read_csv`; if two columns mean one thing; if an area has no unit.
    """
    table = read_csv(path)
    wanted = {column: _MEANT.get(_plain(column), column) for column in table.columns}
    # A name as it should be is left alone, whatever else could mean the same.
    names = {column: column if name in table.columns else name for column, name in wanted.items()}
    doubled = [name for name, times in Counter(names.values()).items() if times > 1]
    if doubled:
        said = ", ".join(column for column, name in names.items() if name == doubled[0])
        raise Refused(
            f"columns {said}",
            where=Where(table.file, 1),
            rule=f"Each may be meant by {doubled[0]}.",
            step=f"Call one of them {doubled[0]} and the other something else.",
        )
    table = _renamed(table, names)
    if "area_ft2" in table.columns and "area_m2" not in table.columns:
        table = _in_square_metres(table)
    if "area_m2" not in table.columns and any(_plain(column) in ("area", "size") for column in table.columns):
        raise Refused(
            "an area without a unit",
            where=Where(table.file, 1),
            rule="The area looked at stands in area_m2 (square metres) or area_ft2 (square feet).",
            step="Name the column so, with its unit.",
        )
    return table


def need(table: Table, columns: tuple[str, ...]) -> None:
    """Refuse a table without one of `columns`, with the name that may be meant."""
    missing = [name for name in columns if name not in table.columns]
    if missing:
        others = [column for column in table.columns if column not in columns]
        raise Refused(
            f"no column {', '.join(missing)}",
            where=Where(table.file, 1),
            rule=f"The table needs {', '.join(columns)}; it has {', '.join(table.columns) or 'nothing'}.",
            step=meant(missing[0], others, "Name the columns so in the first line; an area without counts is a 0."),
        )


def written_twice(table: Table) -> str | None:
    """A warning where whole lines are alike in place and in all else: one count may have been written twice."""
    times = Counter(tuple(row.cells.values()) for row in table)
    more = sum(n - 1 for n in times.values())
    if not more:
        return None
    first = next(cells for cells, n in times.items() if n > 1)
    lines = " and ".join([str(row.line) for row in table if tuple(row.cells.values()) == first][:2])
    return (
        f"{more} of {len(table)} lines repeat another one in every cell (as lines {lines}): each is taken as a count "
        "of its own. If one was written twice, delete it."
    )


def counts_of(table: Table, frame: Frame | None) -> Counts:
    """The counts in metres."""
    from tepal.stand import Counts

    need(table, ("area_m2", "count"))
    x, y, area = places_of(table, frame)
    counts = [row.number("count", low=0, high=1e12) for row in table]
    for row, count in zip(table, counts, strict=True):
        if count != int(count):
            raise Refused(
                f"count {count:g}",
                where=row.where("count"),
                rule="A count is a whole number of plants.",
                step="Give the plants counted and their area, not plants per area.",
            )
    if not counts:
        raise Refused("no counts", where=table.file, rule="At least one count is needed.", step="Count one place.")
    return Counts(x, y, area, counts)  # type: ignore[arg-type]


def points_of(table: Table, frame: Frame | None) -> Points:
    """Places and areas in metres."""
    from tepal.stand import Points

    need(table, ("lon", "lat", "area_m2") if frame else ("x", "y", "area_m2"))
    return Points(*places_of(table, frame))


def places_of(table: Table, frame: Frame | None) -> tuple[Any, Any, Any]:
    """East and north in metres and area in square metres, each of shape = (n,)."""
    import numpy as np

    if frame is not None:
        degrees = [numbers(table, "lon", low=-180, high=180), numbers(table, "lat", low=-90, high=90)]
        metres = frame.to_metres(np.column_stack(degrees).reshape(-1, 2))
    else:
        metres = np.column_stack([numbers(table, "x"), numbers(table, "y")]).reshape(-1, 2)
    area = numbers(table, "area_m2", low=0)
    empty = np.flatnonzero(area <= 0)
    if empty.size:
        raise Refused(
            "area_m2 is 0",
            where=table.rows[empty[0]].where("area_m2"),
            rule="The area looked at is above 0.",
            step="Give its square metres.",
        )
    return metres[:, 0], metres[:, 1], area


def numbers(table: Table, column: str, *, low: float = -math.inf, high: float = math.inf) -> Any:
    """A column, shape = (n,): all at once where all is well, else row by row, so that the refusal names the line."""
    import numpy as np

    try:
        values = np.array([float(row.cells[column]) for row in table], dtype=np.float64)
        good = bool(np.isfinite(values).all() and (values >= low).all() and (values <= high).all())
    except (KeyError, ValueError):
        good = False
    if good:
        return values
    if column == "lat":
        _check_exchanged(table)
    return np.array([row.number(column, low=low, high=high) for row in table], dtype=np.float64)


def _check_exchanged(table: Table) -> None:
    """Latitudes beyond the pole where the longitudes could be latitudes: the columns were exchanged."""
    for row in table:
        lat, lon = row.number("lat"), row.number("lon")
        if abs(lat) > 90 >= abs(lon) and abs(lat) <= 180:
            raise Refused(
                f"lat is {lat:g}",
                where=row.where("lat"),
                rule="A latitude lies between -90 and 90.",
                step="lon and lat seem to be exchanged: exchange the names of the columns.",
            )


def _plain(name: str) -> str:
    kept = "".join(sign if sign.isalnum() or sign == "²" else " " for sign in name.casefold())
    return "_".join(kept.split())


def _renamed(table: Table, names: dict[str, str]) -> Table:
    if all(column == name for column, name in names.items()):
        return table
    rows = (Row({names[column]: cell for column, cell in row.cells.items()}, row.file, row.line) for row in table)
    return replace(table, columns=tuple(names[column] for column in table.columns), rows=tuple(rows))


def _in_square_metres(table: Table) -> Table:
    rows = []
    for row in table:
        area = row.optional_number("area_ft2")
        metres = "" if area is None else repr(area * _M2_PER_FT2)
        rows.append(Row({**row.cells, "area_m2": metres}, row.file, row.line))
    return replace(table, columns=(*table.columns, "area_m2"), rows=tuple(rows))
