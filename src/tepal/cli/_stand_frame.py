"""Whether counts and site stand in one frame, degrees or metres, and what is wrong where they do not."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tepal.tables import Refused, Table, Where

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


def in_degrees(table: Table, site: BaseGeometry | None = None) -> bool:
    """Whether places are lon,lat; with both, whether the site (as it was read) is in degrees.

    Raises
    ------
    Refused
        If there is neither x,y nor lon,lat.
    """
    metres = {"x", "y"} <= set(table.columns)
    degrees = {"lon", "lat"} <= set(table.columns)
    if metres and degrees:
        return site is not None and _looks_like_degrees(site)
    if metres or degrees:
        return degrees
    raise Refused(
        f"columns {', '.join(table.columns)}",
        where=Where(table.file, 1),
        rule="Places are x,y in metres or lon,lat in degrees.",
        step="Name the columns so in the first line.",
    )


def check_frame(table: Table, site: BaseGeometry | None, where: str, *, degrees: bool) -> None:
    """Refuse counts and a site (as read) of which one is in metres and one in degrees, or exchanged, or of no minus."""
    if site is None or not len(table):
        return
    if not degrees:
        if _looks_like_degrees(site):
            raise Refused(
                "a boundary in degrees, counts in x,y",
                where=where,
                rule="x,y are metres; degrees stand in lon,lat.",
                step="If the counts are in degrees, name their columns lon,lat.",
            )
        return
    import shapely

    shapely.prepare(site)
    places = [(row.optional_number("lon"), row.optional_number("lat")) for row in table]
    known = [(lon, lat) for lon, lat in places if lon is not None and lat is not None]
    if not known or any(shapely.intersects_xy(site, *place) for place in known):
        return
    for step, turned in (
        ("lon and lat are exchanged: exchange the names of the columns.", [(lat, lon) for lon, lat in known]),
        ("Longitudes west of Greenwich are below 0: put a minus before them.", [(-lon, lat) for lon, lat in known]),
        ("lon and lat are exchanged, and the minus is missing.", [(-lat, lon) for lon, lat in known]),
    ):
        if any(shapely.intersects_xy(site, *place) for place in turned):
            raise Refused(
                f"none of the {len(table)} counts lies inside the boundary",
                where=where,
                rule="lon is the degrees east (west of Greenwich below 0), lat the degrees north.",
                step=step,
            )


def _looks_like_degrees(site: BaseGeometry) -> bool:
    """Whether a site is so small, and lies so, that its figures must be degrees: under a square metre if metres."""
    west, south, east, north = site.bounds
    return bool(site.area < 1 and west >= -180 and east <= 180 and south >= -90 and north <= 90)
