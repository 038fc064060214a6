"""Where one may walk, and the shortest way from place to place: around holes, over the gap between parts."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

# A route may leave the site by this much (a boundary is not surveyed better), never enter a hole.
_OVER_M = 0.75
# Corners are kept so far from a hole, so that no rounding puts one into it.
_CLEAR_M = 0.5
# Half the width of the way across the gap between two parts.
_LINK_M = 1.0
# Ways across one gap that are offered.
_MOST_LINKS = 12
# Corners asked for whether a place sees them.
_NEAREST_CORNERS = 36
# Corners of the graph of ways: more make a plan slow, so an outline with more is taken more coarsely.
_MOST_CORNERS = 120


@dataclass(frozen=True, slots=True, eq=False)
class Ways:
    """The walkable area and a graph of its inward corners.

    allowed: where a route may go, and its edge, both prepared. corners: shape = (n, 2). between: shortest ways between
    corners, metres, shape = (n, n). via: the corner before, on the way from row to column; negative where none is.
    """

    allowed: BaseGeometry
    edge: BaseGeometry
    corners: FloatArray
    between: FloatArray
    via: npt.NDArray[np.int32]
    # What `reach` found, by place: drafts ask for the same ends again and again.
    _reached: dict[bytes, FloatArray] = field(default_factory=dict, repr=False)

    @classmethod
    def over(cls, site: BaseGeometry, closed: BaseGeometry | None = None) -> Ways:
        """The ways over a site, its parts joined; `closed` (such as a field with standing rows) may not be crossed."""
        links = _links(site)
        outer = shapely.union_all([Polygon(part.exterior) for part in _polygons(site)])
        holes = shapely.union_all([Polygon(ring) for part in _polygons(site) for ring in part.interiors])
        # A part that stands in a hole of another is land, not hole.
        holes = shapely.difference(holes, site)
        # A little less than the hole: a pass that ends on its edge does not meet it.
        barred = holes.buffer(-0.02, join_style="mitre")
        wide = outer.simplify(0.3).buffer(_OVER_M, quad_segs=2)
        allowed = shapely.union_all([wide, *(link.buffer(_LINK_M, quad_segs=2) for link in links)]).difference(barred)
        walkable = outer.simplify(_CLEAR_M).difference(holes.buffer(_CLEAR_M, quad_segs=4).simplify(0.8 * _CLEAR_M))
        if closed is not None and not closed.is_empty:
            allowed = allowed.difference(closed.buffer(-0.05))
            walkable = walkable.difference(closed.buffer(_CLEAR_M / 2, join_style="mitre"))
        edge = shapely.boundary(allowed)
        shapely.prepare(allowed)
        shapely.prepare(edge)
        ends = shapely.get_coordinates(links) if links else np.empty((0, 2))
        every = _inward(walkable)
        corners, tolerance = every, 1.0
        while len(corners) > _MOST_CORNERS and tolerance < 50:
            corners = _inward(walkable.simplify(tolerance))
            tolerance *= 1.6
        made = cls._through(allowed, edge, np.vstack([corners, ends]))
        if len(every) > len(corners) and not np.isfinite(made.between).all():
            # Along a ragged edge, or a headland about it, coarse corners may not see each other: as many of the fine
            # ones do, where they stand evenly.
            fine = np.vstack([every[:: math.ceil(len(every) / _MOST_CORNERS)], ends])
            made = max(made, cls._through(allowed, edge, fine), key=lambda w: int(np.isfinite(w.between).sum()))
        return made

    @classmethod
    def _through(cls, allowed: BaseGeometry, edge: BaseGeometry, corners: FloatArray) -> Ways:
        if len(corners):
            corners = corners[shapely.intersects_xy(allowed, corners[:, 0], corners[:, 1])]
        between, via = _shortest(allowed, edge, corners)
        return cls(allowed, edge, corners, between, via)

    def clear(self, a: FloatArray, b: FloatArray) -> BoolArray:
        """Whether the straight lines from each `a` to each `b` (shape = (n, 2)) may be walked."""
        if not len(a):
            return np.zeros(0, dtype=bool)
        return _clear(self.allowed, self.edge, a, b)

    def reach(self, points: FloatArray) -> FloatArray:
        """Metres straight from points to corners, shape = (n, corners); infinite where barred.

        Only each point's nearest corners are asked for; a way by farther ones leads past some of those.
        """
        keys = [point.tobytes() for point in points]
        new = {key: point for key, point in zip(keys, points, strict=True) if key not in self._reached}
        if new:
            where = np.array(list(new.values()))
            crow = np.hypot(*(where[:, None, :] - self.corners[None, :, :]).transpose(2, 0, 1))
            near = np.argsort(crow, axis=1)[:, :_NEAREST_CORNERS]
            i, j = np.repeat(np.arange(len(where)), near.shape[1]), near.ravel()
            straight = np.full(crow.shape, np.inf)
            open_ = self.clear(where[i], self.corners[j])
            straight[i[open_], j[open_]] = crow[i[open_], j[open_]]
            self._reached.update(zip(new, straight, strict=True))
        return np.array([self._reached[key] for key in keys]).reshape(len(points), len(self.corners))

    def table(self, points: FloatArray, *, nearest: int = 24) -> FloatArray:
        """Shortest ways between all of `points`, metres, shape = (n, n); infinite where there is none.

        Whether two points see each other is asked only of each point's `nearest`; farther pairs that do are taken by
        the corners, which is never too short.
        """
        crow = np.hypot(*(points[:, None, :] - points[None, :, :]).transpose(2, 0, 1))
        if not len(self.corners):
            # No inward corner: every place sees every other.
            return np.asarray(crow)
        straight = self.reach(points)
        by_any = self._by_corners(straight)
        ways = np.full(crow.shape, np.inf)
        for nth, last in enumerate(straight):  # of all corners, only those that the end of the way sees
            seen = np.flatnonzero(np.isfinite(last))
            if seen.size:
                ways[:, nth] = (by_any[:, seen] + last[seen]).min(axis=1)
        near = np.argsort(crow, axis=1)[:, : nearest + 1]
        pair = np.stack([np.repeat(np.arange(len(points)), near.shape[1]), near.ravel()])
        i, j = np.unique(np.sort(pair, axis=0), axis=1)
        open_ = self.clear(points[i], points[j]) | (crow[i, j] < 1e-9)
        ways[i[open_], j[open_]] = ways[j[open_], i[open_]] = crow[i[open_], j[open_]]
        return np.asarray(np.minimum(ways, ways.T))

    def _by_corners(self, straight: FloatArray) -> FloatArray:
        """Shortest ways from places to all corners, by the corners that each place sees."""
        ways = np.full(straight.shape, np.inf)
        for nth, first in enumerate(straight):
            seen = np.flatnonzero(np.isfinite(first))
            if seen.size:
                ways[nth] = (first[seen, None] + self.between[seen]).min(axis=0)
        return ways

    def way(self, a: FloatArray, b: FloatArray) -> FloatArray | None:
        """The points of the shortest way from a to b, both included; None where there is none."""
        if np.hypot(*(b - a)) < 1e-9 or self.clear(a[None, :], b[None, :])[0]:
            return np.stack([a, b])
        if not len(self.corners):
            return np.stack([a, b]) if shapely.get_num_geometries(self.allowed) == 1 else None
        straight = self.reach(np.stack([a, b]))
        total = straight[0][:, None] + self.between + straight[1][None, :]
        i, j = np.unravel_index(int(np.argmin(total)), total.shape)
        if not np.isfinite(total[i, j]):
            return None
        path = [int(j)]
        while path[-1] != i:
            path.append(int(self.via[i, path[-1]]))
        return np.vstack([a, self.corners[path[::-1]], b])


def _clear(allowed: BaseGeometry, edge: BaseGeometry, a: FloatArray, b: FloatArray) -> BoolArray:
    # A line that does not meet the edge lies wholly within or wholly without.
    inside = shapely.intersects_xy(allowed, a[:, 0], a[:, 1])
    met = np.ones(len(a), dtype=bool)
    met[inside] = shapely.intersects(edge, shapely.linestrings(np.stack([a[inside], b[inside]], axis=1)))
    return np.asarray(~met)


def _polygons(area: BaseGeometry) -> list[Polygon]:
    return [part for part in shapely.get_parts(area).tolist() if isinstance(part, Polygon) and not part.is_empty]


def _links(site: BaseGeometry) -> list[LineString]:
    """Straight lines over the gaps between parts, the short way across; enough of them to join all into one.

    Along two edges that run side by side there are several, so that strips can be walked to and fro.
    """
    parts = _polygons(site)
    links: list[LineString] = []
    joined, rest = parts[:1], parts[1:]
    while rest:
        # The tree of shortest links (Prim): few parts, so plainly.
        gap, i, j = min((shapely.distance(a, b), i, j) for i, a in enumerate(joined) for j, b in enumerate(rest))
        links += _across(joined[i], rest[j], gap)
        joined.append(rest.pop(j))
    others = shapely.union_all([Polygon(ring) for part in parts for ring in part.interiors]).difference(site)
    return [link for link in links if not shapely.intersects(link, others.buffer(-0.01))]


def _across(a: Polygon, b: Polygon, gap: float) -> list[LineString]:
    edge = _inset(a if a.length < b.length else b)
    other = b if a.length < b.length else a
    lines = [shapely.shortest_line(edge, other)]
    gap += _LINK_M
    places = shapely.line_interpolate_point(edge, np.arange(0, edge.length, max(20.0, edge.length / 60)))
    places = np.concatenate([places, shapely.points(shapely.get_coordinates(edge.simplify(2.0)))])
    near = shapely.distance(places, other)
    at = shapely.line_locate_point(edge, places)
    last = -np.inf
    for k in np.argsort(at, kind="stable"):
        if near[k] <= 2 * gap + 10 and at[k] - last >= max(20.0, edge.length / 60) * 0.9:
            lines.append(shapely.shortest_line(places[k], other))
            last = at[k]
    if len(lines) > _MOST_LINKS:
        keep = np.linspace(1, len(lines) - 1, _MOST_LINKS - 1).astype(int)
        lines = [lines[0], *(lines[k] for k in keep)]
    reached = []
    for line in lines:
        start, stop = shapely.get_coordinates(line)
        length = float(np.hypot(*(stop - start)))
        # A metre into either part, so that the way across is as wide at its ends.
        reach = (stop - start) / length * _LINK_M if length > 0 else np.zeros(2)
        reached.append(LineString([start - reach, stop + reach]))
    return reached


def _inset(part: Polygon) -> shapely.LinearRing:
    """The edge of a part, a little inside, so that a way across as wide as it is does not run past the part's end."""
    inner = _polygons(part.buffer(-1.2 * _LINK_M, join_style="mitre"))
    return max(inner, key=lambda p: p.area).exterior if inner else part.exterior


def _inward(area: BaseGeometry) -> FloatArray:
    """Corners of more than 180 degrees: only there does a shortest way turn."""
    found = []
    for part in _polygons(shapely.normalize(area)):
        turned = shapely.geometry.polygon.orient(part)
        for ring in (turned.exterior, *turned.interiors):
            points = shapely.get_coordinates(ring)[:-1]
            before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
            cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
            found.append(points[cross < 0])
    return np.concatenate(found) if found else np.empty((0, 2))


def _shortest(
    allowed: BaseGeometry, edge: BaseGeometry, corners: FloatArray
) -> tuple[FloatArray, npt.NDArray[np.int32]]:
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import dijkstra

    n = len(corners)
    if n < 2:
        return np.zeros((n, n)), np.full((n, n), -9999, dtype=np.int32)
    i, j = np.triu_indices(n, 1)
    open_ = _clear(allowed, edge, corners[i], corners[j])
    i, j = i[open_], j[open_]
    crow = np.maximum(np.hypot(*(corners[i] - corners[j]).T), 1e-6)
    graph = csr_array((crow, (i, j)), shape=(n, n))
    between, via = dijkstra(graph, directed=False, return_predecessors=True)
    return between, via


def site_of(parts: BaseGeometry) -> MultiPolygon:
    """The polygons of a geometry as one MultiPolygon."""
    return MultiPolygon(_polygons(parts))
