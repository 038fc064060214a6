"""Features of map files, whatever the format: a shape in longitude and latitude, and what is said of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from tepal.tables import Refused, Where


@dataclass(frozen=True, slots=True)
class Feature:
    """One feature of a map file: GeoJSON geometry in longitude and latitude, what it says, and its times.

    `problem` is what is wrong with its coordinates, where they could not be read; `carried` what a file of ours says of
    the entry that it draws (`_carried`).
    """

    where: Where
    geometry: Mapping[str, Any] | None
    properties: Mapping[str, Any]
    started: datetime | None = None
    ended: datetime | None = None
    minutes: float | None = None
    problem: str | None = None
    carried: str | None = None


@dataclass(frozen=True, slots=True)
class Shapes:
    """The single shapely shapes of one feature."""

    polygons: list[Any]
    lines: list[Any]
    points: list[Any]


def shapes_of(feature: Feature) -> Shapes:
    """The polygons, lines and points of a feature.

    Raises
    ------
    Refused
        If there is none, they cannot be read, or they are not in degrees.
    """
    import numpy as np
    import shapely
    from shapely.geometry import shape

    problem = feature.problem
    parts: list[Any] = []
    if problem is None and feature.geometry:
        try:
            parts = _single(shape(dict(feature.geometry)))
        except (ValueError, TypeError, AttributeError, IndexError, shapely.errors.ShapelyError) as trouble:
            problem = " ".join(str(trouble).split())[:100]
    if problem is not None:
        raise Refused(
            f"a shape that cannot be read: {problem}",
            where=feature.where,
            rule="A polygon has three corners, a line two points, each with longitude and latitude.",
            step="Draw it again.",
        )
    if not parts:
        raise Refused("no shape", where=feature.where, rule="A feature has a place.", step="Draw it again.")
    for part in parts:
        west, south, east, north = part.bounds
        # Bounds pass over what is not finite.
        finite = bool(np.isfinite(shapely.get_coordinates(part)).all())
        if not (finite and -180 <= west <= east <= 180 and -90 <= south <= north <= 90):
            raise Refused(
                f"coordinates from ({west:g}, {south:g}) to ({east:g}, {north:g})",
                where=feature.where,
                rule="Places have longitude, then latitude, in degrees.",
                step="Export in WGS84, or swap the order.",
            )
    return Shapes(*([p for p in parts if p.geom_type == kind] for kind in ("Polygon", "LineString", "Point")))


def _single(shape: Any) -> list[Any]:
    import shapely

    if shape.geom_type == "LinearRing":
        return [shapely.LineString(shape.coords)]
    members = getattr(shape, "geoms", None)
    if members is None:
        return [] if shape.is_empty else [shape]
    return [part for member in members for part in _single(member)]
