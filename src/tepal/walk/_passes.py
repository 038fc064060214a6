"""Passes to walk an area: straight lines at one bearing, or laps along its edge."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

FloatArray = npt.NDArray[np.float64]
Passes = list[FloatArray]

# Nobody counts corners of a lap; fewer make every later step quicker.
_SMOOTH_M = 0.4
# An outline of more corners is taken more coarsely before laps are drawn.
_MOST_CORNERS = 250


def lines(
    area: BaseGeometry, spacing_m: float, bearing: float, *, side_m: float, end_m: float, least_m: float = 2.0
) -> Passes:
    """Straight passes evenly spread across each part; `bearing` in radians from north, clockwise.

    The outermost run `side_m` inside the edge or at half the spacing, whichever is less; each ends `end_m` before it.
    """
    found: Passes = []
    forward = np.array([math.sin(bearing), math.cos(bearing)])
    across = np.array([forward[1], -forward[0]])
    for part in shapely.get_parts(area):
        points = shapely.get_coordinates(part)
        low, high = float((points @ across).min()), float((points @ across).max())
        back, front = float((points @ forward).min()) - 1, float((points @ forward).max()) + 1
        width = high - low
        margin = min(side_m, spacing_m / 2, width / 2)
        count = max(1, round((width - 2 * margin) / spacing_m) + 1) if width > 2 * margin else 1
        at = np.linspace(low + margin, high - margin, count) if count > 1 else np.array([(low + high) / 2])
        start, stop = at[:, None] * across + back * forward, at[:, None] * across + front * forward
        cut = shapely.intersection(shapely.linestrings(np.stack([start, stop], axis=1)), part)
        for piece in shapely.get_parts(cut):
            if piece.geom_type != "LineString":
                continue
            a, b = shapely.get_coordinates(piece)[[0, -1]]
            length = float(np.hypot(*(b - a)))
            shorten = min(end_m, max(0.0, (length - least_m) / 2))
            if length >= least_m:
                step = (b - a) / length * shorten
                found.append(np.stack([a + step, b - step]))
    return found


def laps(area: BaseGeometry, spacing_m: float, *, first_m: float, most: int = 400) -> Passes:
    """Closed passes along the edge and the holes, the first `first_m` inside, each `spacing_m` farther in."""
    found: Passes = []
    area = _few_corners(area, spacing_m / 3)
    for nth in range(most):
        inner = area.buffer(-(first_m + nth * spacing_m), join_style="mitre", mitre_limit=1.5)
        if inner.is_empty:
            break
        for part in shapely.get_parts(inner.simplify(_SMOOTH_M)):
            found += [shapely.get_coordinates(ring) for ring in (part.exterior, *part.interiors)]
    return found


def _few_corners(area: BaseGeometry, most_m: float) -> BaseGeometry:
    """The area with an outline that can be followed: offsets of thousands of little corners take seconds."""
    tolerance = _SMOOTH_M
    while shapely.get_num_coordinates(area) > _MOST_CORNERS and tolerance <= most_m:
        area = area.simplify(tolerance)
        tolerance *= 2
    return area if shapely.get_num_coordinates(area) <= 4 * _MOST_CORNERS else shapely.MultiPolygon()


def along_edge(area: BaseGeometry, spacing_m: float) -> Passes:
    """Passes along a long narrow area, such as a band along a field's edge: side by side over its width."""
    found: Passes = []
    for part in shapely.get_parts(area):
        width = 2 * part.area / part.length
        count = max(1, round(width / spacing_m))
        outer = Polygon(part.exterior)
        if outer.area > 1.5 * part.area:  # a ring: offsets of its outer edge are side by side over its width
            for nth in range(count):
                inner = outer.buffer(-(nth + 0.5) * width / count, join_style="mitre", mitre_limit=1.5)
                for ring in shapely.get_parts(inner.simplify(_SMOOTH_M)):
                    cut = shapely.intersection(ring.exterior, part.buffer(0.5))
                    merged = shapely.line_merge(cut) if cut.geom_type == "MultiLineString" else cut
                    found += [
                        shapely.get_coordinates(piece)
                        for piece in shapely.get_parts(merged)
                        if piece.geom_type == "LineString" and piece.length > spacing_m / 2
                    ]
        else:
            if count == 1:
                found += middle(part, least_m=max(2.0, width))
                continue
            loops = max(1, round(count / 2))
            found += laps(part, width / (2 * loops), first_m=width / (4 * loops), most=loops)
    return found


def middle(area: BaseGeometry, *, least_m: float) -> Passes:
    """The middle lines of an area: equally far from two stretches of its edge that are not the same stretch.

    Edges of the Voronoi cells of points along the edge, left out where the two points are neighbors along one ring
    (those edges only run into corners). Pieces shorter than `least_m` are left out.
    """
    from scipy.spatial import Voronoi

    rings = [ring for ring in shapely.get_rings(shapely.get_parts(area)).tolist() if ring.length > 0]
    step = max(2.0, sum(ring.length for ring in rings) / 3000)
    points, ring_of, along, length = [], [], [], []
    for nth, ring in enumerate(rings):
        count = max(4, math.ceil(ring.length / step))
        at = np.arange(count) * ring.length / count
        points.append(shapely.get_coordinates(shapely.line_interpolate_point(ring, at)))
        ring_of.append(np.full(count, nth))
        along.append(at)
        length.append(np.full(count, ring.length))
    place, owner = np.concatenate(points), np.concatenate(ring_of)
    metres, whole = np.concatenate(along), np.concatenate(length)
    cells = Voronoi(place)
    a, b = cells.ridge_points.T
    ridge = np.array(cells.ridge_vertices)
    gap = np.hypot(*(place[a] - place[b]).T)
    around = np.abs(metres[a] - metres[b])
    around = np.minimum(around, whole[a] - around)
    kept = (ridge >= 0).all(axis=1) & ((owner[a] != owner[b]) | (around > 2.5 * gap + 4 * step))
    ends = cells.vertices[ridge[kept]]
    lines_ = shapely.linestrings(ends)
    shapely.prepare(area)
    lines_ = lines_[shapely.contains(area, lines_)]
    if not len(lines_):
        return []
    merged = shapely.line_merge(shapely.union_all(lines_))
    smooth = shapely.simplify(shapely.get_parts(merged), _SMOOTH_M)
    return [
        _to_edge(shapely.get_coordinates(line), area, least_m / 2) for line in smooth.tolist() if line.length >= least_m
    ]


def _to_edge(points: FloatArray, area: BaseGeometry, margin_m: float) -> FloatArray:
    """A line with each end led on, the way it was going, until `margin_m` before the edge."""
    for _ in range(2):
        points = points[::-1]
        back = min(
            len(points) - 1, int(np.searchsorted(np.cumsum(np.hypot(*np.diff(points, axis=0)[::-1].T)), 15.0)) + 1
        )
        step = points[-1] - points[-1 - back]
        length = float(np.hypot(*step))
        if length > 0:
            ray = shapely.LineString([points[-1], points[-1] + step / length * 500])
            free = shapely.get_parts(shapely.intersection(ray, area))
            first = [shapely.get_coordinates(g) for g in free if shapely.distance(g, shapely.Point(points[-1])) < 0.1]
            if first:
                room = max(float(np.hypot(*(c - points[-1]).T).max()) for c in first) - margin_m
                if room > 0.5:
                    points = np.vstack([points, points[-1] + step / length * room])
    return points


def sweep(area: BaseGeometry, spacing_m: float, sigma_m: float) -> Passes:
    """Passes over a zone, in the way that its shape asks for: along it where it is long, else along its longer side."""
    found: Passes = []
    for part in shapely.get_parts(area):
        box = shapely.minimum_rotated_rectangle(part)
        if part.area < 0.6 * box.area and 4 * math.pi * part.area / part.length**2 < 0.4:
            found += along_edge(part, spacing_m)
        else:
            end = min(spacing_m / 2, sigma_m)
            found += lines(part, spacing_m, longer_side(part), side_m=spacing_m / 2, end_m=end)
    return found


def longer_side(area: BaseGeometry) -> float:
    """Bearing (radians from north) of the longer side of the smallest rectangle around an area."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(area))
    if len(corners) < 4:
        return 0.0
    sides = np.diff(corners[:3], axis=0)
    east, north = sides[int(np.argmax(np.hypot(*sides.T)))]
    return math.atan2(east, north) % math.pi


def bearings(area: BaseGeometry, most: int) -> list[float]:
    """Bearings worth trying: along the most edge, along the smallest rectangle, and some in between."""
    shape = area.simplify(1.0)
    directions, metres = [], []
    for ring in shapely.get_rings(shapely.get_parts(shape)):
        sides = np.diff(shapely.get_coordinates(ring), axis=0)
        directions.append(np.arctan2(sides[:, 0], sides[:, 1]) % math.pi)
        metres.append(np.hypot(*sides.T))
    bins = np.bincount((np.concatenate(directions) / math.pi * 60).astype(int) % 60, np.concatenate(metres), 60)
    both = bins + np.roll(bins, 1)
    every, weight = np.concatenate(directions), np.concatenate(metres)
    box = longer_side(shape)
    chosen = [box, (box + math.pi / 2) % math.pi]
    for k in np.argsort(-both, kind="stable"):
        if len(chosen) >= most:
            break
        near = np.abs((every - k * math.pi / 60 + math.pi / 2) % math.pi - math.pi / 2) <= math.pi / 60 + 1e-9
        if both[k] <= 0 or not weight[near].sum() > 0:
            break
        # the mean direction, on the doubled circle
        angle = 0.5 * math.atan2(*(np.sum(weight[near] * f(2 * every[near])) for f in (np.sin, np.cos))) % math.pi
        if all(_apart(angle, other) > math.radians(4) for other in chosen):
            chosen.append(angle)
    return chosen[:most]


def _apart(a: float, b: float) -> float:
    return abs((a - b + math.pi / 2) % math.pi - math.pi / 2)


def in_pieces(passes: Sequence[FloatArray], most_m: float) -> Passes:
    """The passes cut into pieces of at most `most_m`, so that a part of one can be walked alone."""
    found: Passes = []
    for points in passes:
        legs = np.hypot(*np.diff(points, axis=0).T)
        along = np.concatenate([[0.0], np.cumsum(legs)])
        closed = len(points) > 2 and np.hypot(*(points[0] - points[-1])) < 1e-6
        count = max(2 if closed else 1, math.ceil(along[-1] / most_m))
        cuts = np.linspace(0, along[-1], count + 1)
        for a, b in pairwise(cuts):
            inside = points[(along > a + 1e-9) & (along < b - 1e-9)]
            found.append(np.vstack([_at(points, along, a), inside, _at(points, along, b)]))
    return found


def _at(points: FloatArray, along: FloatArray, metres: float) -> FloatArray:
    return np.array([np.interp(metres, along, points[:, 0]), np.interp(metres, along, points[:, 1])])


def length_of(points: FloatArray) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).sum()) if len(points) > 1 else 0.0


def cut_to(points: FloatArray, metres: float) -> FloatArray:
    """The first `metres` of a line."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    if along[-1] <= metres:
        return points
    return np.vstack([points[along < metres], _at(points, along, metres)])
