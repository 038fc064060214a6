"""What `tepal stand` is given: counts, site, places asked about and covariates, read and brought into one frame."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from tepal.cli import _stand_covariates, _stand_frame, _stand_table
from tepal.cli._files import read_geojson
from tepal.tables import Refused, Table

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from tepal.ground import Frame
    from tepal.stand import Counts, Points, Surface


@dataclass(frozen=True, slots=True, eq=False)
class Given:
    """In metres of `frame` (None: metres as they were given)."""

    counts: Counts
    site: BaseGeometry | None
    frame: Frame | None
    asked: Points | None
    covariates: dict[str, Surface]
    warnings: tuple[str, ...]


def read(
    table: Table,
    site: BaseGeometry | None,
    *,
    degrees: bool,
    at: Path | None,
    tracks: tuple[Path, ...],
    sigma: float | None,
    covariates: str | None,
    waterways: Path | None,
) -> Given:
    """Everything of one question. `site` as in its file, in the frame of the table.

    Raises
    ------
    Refused
        If a file or a cell cannot be used.
    """
    frame = _frame(table, site) if degrees else None
    site = frame.geometry_to_metres(site) if frame is not None and site is not None else site
    counts = _stand_table.counts_of(table, frame)
    warnings = [twice] if (twice := _stand_table.written_twice(table)) else []
    if tracks:
        counts = _with_passed(counts, tracks, sigma, frame)
    if waterways is not None and _stand_covariates.WATERWAY not in _stand_covariates.names_of(covariates):
        raise Refused(
            "--waterways without the covariate waterway",
            where="--waterways",
            rule="Lines of water are used for the way to water, where it is asked for.",
            step="Give --covariates waterway.",
        )
    places = _stand_table.read_table(at) if at else None
    surfaces: dict[str, Surface] = {}
    if covariates:
        tables = (table,) if places is None else (table, places)
        surfaces, more = _stand_covariates.surfaces(covariates, tables, frame, site, waterways)
        warnings += more
    asked = None if places is None else _stand_table.points_of(places, frame)
    return Given(counts, site, frame, asked, surfaces, tuple(warnings))


def boundary_of(path: Path | None, table: Table) -> tuple[BaseGeometry | None, bool]:
    """The site as it stands in its file, and whether it and the table are in degrees.

    Raises
    ------
    Refused
        If there is no site in the file, or it and the counts are plainly not in one frame.
    """
    if path is None:
        return None, _stand_frame.in_degrees(table)
    from tepal.ground import boundary_from_geojson

    data = read_geojson(path)
    # Whether it is in degrees shows only when it has been read: first as figures without a unit.
    site: BaseGeometry = boundary_from_geojson(data, where=path.name, lonlat=False)
    degrees = _stand_frame.in_degrees(table, site)
    _stand_frame.check_frame(table, site, path.name, degrees=degrees)
    return boundary_from_geojson(data, where=path.name, lonlat=degrees), degrees


def _frame(table: Table, site: BaseGeometry | None) -> Frame | None:
    import shapely

    from tepal.ground import Frame

    if site is not None:
        return Frame.around(site)
    lon = _stand_table.numbers(table, "lon", low=-180, high=180)
    lat = _stand_table.numbers(table, "lat", low=-90, high=90)
    return Frame.around(shapely.MultiPoint(list(zip(lon, lat, strict=True)))) if len(table) else None


def _with_passed(counted: Counts, tracks: tuple[Path, ...], sigma: float | None, frame: Frame | None) -> Counts:
    """The counts and what was walked past without stopping."""
    from tepal.cli._walk_files import track_of
    from tepal.stand import with_passed

    if sigma is None or frame is None:
        raise Refused(
            "no --sigma" if sigma is None else "counts in metres",
            where="--stopped-where-seen",
            rule="What was passed is a strip as wide as one sees, along a track in degrees.",
            step="Give --sigma 3 for three metres, and the counts as lon,lat.",
        )
    return with_passed(counted, [part for path in tracks for part in track_of(path, frame).tracks], sigma)
