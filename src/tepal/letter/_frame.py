"""From metres on the ground to points on paper: what the map must show, and how large."""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from tepal.letter._data import MapData

# A map of one plant still shows the ground about it.
_LEAST_M = 120.0
_NICE = (1.0, 2.0, 5.0)
_FOOT = 0.3048

Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Fit:
    """A flat map of the ground within a box of `width` by `height` points."""

    west: float
    north: float
    per_metre: float
    left: float
    top: float
    width: float
    height: float

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Metres east and north to points right and down."""
        return self.left + (x - self.west) * self.per_metre, self.top + (self.north - y) * self.per_metre

    def shows(self, x: float, y: float) -> bool:
        """Whether a place falls into the box."""
        right, down = self.at(x, y)
        return 0 <= right <= self.width and 0 <= down <= self.height

    def box(self) -> BaseGeometry:
        """The ground that the box covers, in metres."""
        west = self.west - self.left / self.per_metre
        north = self.north + self.top / self.per_metre
        return shapely.box(west, north - self.height / self.per_metre, west + self.width / self.per_metre, north)


def extent(data: MapData) -> Bounds:
    """The ground to show, in metres: the site, and what was seen in or near it.

    A stop or find much farther from the boundary than the site is wide is a slip of the instrument; it may not shrink
    the site to a dot, so it stays off the map (which then says so).
    """
    places = [(s.x, s.y) for s in data.stops] + [(f.x, f.y) for f in data.finds]
    shapes = [feature.shape for feature in data.features]
    if data.boundary is not None and not data.boundary.is_empty:
        west, south, east, north = data.boundary.bounds
        reach = max(east - west, north - south, 200.0) / 2
        near = shapely.box(west - reach, south - reach, east + reach, north + reach)
        places = [p for p in places if near.contains(shapely.Point(p))]
        shapes = [data.boundary] + [s for s in shapes if s.geom_type == "Point" and near.contains(s)]
        if data.point is not None and near.contains(shapely.Point(data.point)):
            shapes.append(shapely.Point(data.point).buffer(min(max(data.point_error_m, 1.0), reach)))
    else:
        shapes += list(data.tracks)
        if data.point is not None:
            shapes.append(shapely.Point(data.point).buffer(min(max(data.point_error_m, 1.0), 2000.0)))
    boxes = [s.bounds for s in shapes if not s.is_empty] + [(x, y, x, y) for x, y in places]
    boxes = [b for b in boxes if all(math.isfinite(v) for v in b)] or [(0.0, 0.0, 0.0, 0.0)]
    west, south = min(b[0] for b in boxes), min(b[1] for b in boxes)
    east, north = max(b[2] for b in boxes), max(b[3] for b in boxes)
    return _at_least(west, south, east, north)


def aspect(data: MapData) -> float:
    """Width over height of the ground to show."""
    west, south, east, north = extent(data)
    return (east - west) / (north - south)


def fit(data: MapData, width: float, height: float, margin: float) -> Fit:
    """The largest scale that shows the extent within the box less `margin`, centred."""
    west, south, east, north = extent(data)
    per_metre = min((width - 2 * margin) / (east - west), (height - 2 * margin) / (north - south))
    left = (width - (east - west) * per_metre) / 2
    top = (height - (north - south) * per_metre) / 2
    return Fit(west, north, per_metre, left, top, width, height)


def scale_length(per_metre: float, width: float, *, feet: bool) -> tuple[float, float]:
    """A round length that takes at most `width` points: (the number in feet or metres, its points)."""
    unit = _FOOT if feet else 1.0
    most = width / per_metre / unit
    power = 10.0 ** math.floor(math.log10(most))
    number = max(n * power for n in _NICE if n * power <= most)
    return number, number * unit * per_metre


def _at_least(west: float, south: float, east: float, north: float) -> Bounds:
    # Also keeps a long thin site from being a line with no width to put a mark in.
    long = max(east - west, north - south, _LEAST_M)
    wide, high = max(east - west, long / 12, _LEAST_M), max(north - south, long / 12, _LEAST_M)
    x, y = (west + east) / 2, (south + north) / 2
    return x - wide / 2, y - high / 2, x + wide / 2, y + high / 2
