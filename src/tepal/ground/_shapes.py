"""GeoJSON to checked shapes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import shapely
from shapely.geometry import MultiLineString, MultiPolygon, Polygon, shape
from shapely.geometry.base import BaseGeometry

from tepal.ground._frame import Frame
from tepal.tables import Refused, Where


def boundary_from_geojson(data: Mapping[str, Any], *, where: Where | str, lonlat: bool = True) -> MultiPolygon:
    """The area of a GeoJSON geometry, feature or collection, all its polygons together.

    `lonlat=False` takes coordinates in metres, as in a count file with x and y.

    Raises
    ------
    Refused
        If there is no polygon, it crosses itself, has no area, or the coordinates are not degrees.
    """
    polygons = [part for geometry in _geometries(data, where) for part in _polygons(geometry)]
    if not polygons:
        raise Refused(
            "no polygon", where=where, rule="A boundary is a GeoJSON Polygon or MultiPolygon.", step="Draw it."
        )
    for polygon in polygons:
        if lonlat:
            _check_degrees(polygon, where)
        if not polygon.is_valid:
            raise Refused(
                f"the boundary is not simple: {shapely.is_valid_reason(polygon)}",
                where=where,
                rule="A boundary may not cross itself.",
                step="Move the corner near that place.",
            )
        if not polygon.area > 0:
            raise Refused("an empty polygon", where=where, rule="A boundary has an area.", step="Draw it again.")
    merged = shapely.union_all(polygons)
    return MultiPolygon(_polygons(merged))


def line_from_geojson(data: Mapping[str, Any], *, where: Where | str, lonlat: bool = True) -> MultiLineString:
    """All lines of a GeoJSON geometry, feature or collection, as one MultiLineString in degrees.

    `lonlat=False` takes coordinates in metres, as `boundary_from_geojson` does.

    Raises
    ------
    Refused
        If there is no line or the coordinates are not degrees.
    """
    lines = [g for g in _geometries(data, where) if g.geom_type in ("LineString", "MultiLineString")]
    if not lines:
        raise Refused("no line", where=where, rule="A track is a GeoJSON LineString.", step="Export the track.")
    for line in lines:
        if lonlat:
            _check_degrees(line, where)
    parts = [part for line in lines for part in getattr(line, "geoms", [line])]
    return MultiLineString(parts)


def area_m2(boundary: BaseGeometry) -> float:
    """Area in square metres of a shape given in degrees."""
    return float(Frame.around(boundary).geometry_to_metres(boundary).area)


def _geometries(data: Mapping[str, Any], where: Where | str) -> list[BaseGeometry]:
    kind = data.get("type") if isinstance(data, Mapping) else None
    if kind == "FeatureCollection":
        return [g for feature in _members(data, "features", where) for g in _geometries(feature, where)]
    if kind == "Feature":
        return _geometries(data["geometry"], where) if data.get("geometry") else []
    if kind == "GeometryCollection":
        return [g for member in _members(data, "geometries", where) for g in _geometries(member, where)]
    try:
        geometry: BaseGeometry = shape({"type": kind, "coordinates": _level(data["coordinates"])})
    except (KeyError, ValueError, TypeError, AttributeError, IndexError, RecursionError, shapely.errors.ShapelyError):
        raise _not_understood(kind, where) from None
    return [geometry]


def _members(data: Mapping[str, Any], key: str, where: Where | str) -> list[Any]:
    members = data.get(key) or []
    if not isinstance(members, list | tuple):
        raise _not_understood(data.get("type"), where)
    return list(members)


def _level(coordinates: Any) -> Any:
    """Coordinates without heights, which a track may have at some of its points only; ValueError if one is NaN."""
    if coordinates and isinstance(coordinates[0], int | float):
        if not all(map(math.isfinite, coordinates[:2])):
            raise ValueError("a coordinate is not finite")
        return coordinates[:2]
    return [_level(part) for part in coordinates]


def _not_understood(kind: object, where: Where | str) -> Refused:
    return Refused(
        f"GeoJSON of type {kind!r} was not understood",
        where=where,
        rule="A GeoJSON geometry, Feature or FeatureCollection is needed.",
        step="Export it again as GeoJSON.",
    )


def _polygons(geometry: BaseGeometry) -> list[Polygon]:
    if isinstance(geometry, Polygon):
        return [] if geometry.is_empty else [geometry]
    return [part for member in getattr(geometry, "geoms", []) for part in _polygons(member)]


def _check_degrees(geometry: BaseGeometry, where: Where | str) -> None:
    west, south, east, north = geometry.bounds
    if not (-180 <= west <= east <= 180 and -90 <= south <= north <= 90):
        raise Refused(
            f"coordinates from ({west:g}, {south:g}) to ({east:g}, {north:g})",
            where=where,
            rule="GeoJSON has longitude, then latitude, in degrees.",
            step="Project to WGS84 or swap the order.",
        )
