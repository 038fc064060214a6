"""A site as a fine grid: where it is, how much risk each cell has, how likely a plant there was seen."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

FloatArray = npt.NDArray[np.float64]

# Above this many cells a plan would take seconds; the step then grows with the site.
_MOST_CELLS = 1_200_000
# Steps beyond which the grid would no longer resolve a cluster of sd 8 m, whatever the width of sight.
_COARSEST_M = 2.5
# A plant at seven widths is seen with probability 2e-11: it need not be looked up.
OUT_OF_SIGHT = 7.0
# A leg of a track is looked at in pieces of twice the reach of sight, or of so many cells if that is more.
_PIECE_CELLS = 40
# Lines along each row of cells, on which areas are measured; less than the least share is rounding.
_LINES, _LEAST_SHARE = 8, 1e-9
# Parts of a site farther apart than this have a grid each: no cluster and no sight reaches across.
_APART_M = 150.0


@dataclass(frozen=True, slots=True, eq=False)
class Raster:
    """Cell centres over the bounding box of a site; arrays of shape = (rows, columns), read-only.

    `inside` is the share of each cell on the site; `step` is the cell size in metres; `x`, `y` the centres along each
    axis.
    """

    x: FloatArray
    y: FloatArray
    step: float
    inside: FloatArray

    @classmethod
    def of(cls, boundary: BaseGeometry, sigma_m: float, *, most_cells: int = _MOST_CELLS) -> Raster:
        """A grid fine enough for the width of sight `sigma_m`, within the limit of cells."""
        return cls._with_step(boundary, _step([boundary], sigma_m, most_cells))

    @classmethod
    def each(cls, boundary: BaseGeometry, sigma_m: float, *, most_cells: int = _MOST_CELLS) -> tuple[Raster, ...]:
        """One grid for each group of parts that lie near each other, all of one step.

        The box around two distant parts is mostly neither; a grid over it would be too coarse for both.
        """
        groups = _near_each_other(boundary)
        step = _step(groups, sigma_m, most_cells)
        return tuple(cls._with_step(group, step) for group in groups)

    @classmethod
    def _with_step(cls, boundary: BaseGeometry, step: float) -> Raster:
        west, south, east, north = boundary.bounds
        x = np.asarray(west + (np.arange(max(1, math.ceil((east - west) / step))) + 0.5) * step)
        y = np.asarray(south + (np.arange(max(1, math.ceil((north - south) / step))) + 0.5) * step)
        inside = _covered(boundary, x, y, step)
        for array in (x, y, inside):
            array.setflags(write=False)
        return cls(x, y, step, inside)

    def weights(self, zones: Sequence[tuple[BaseGeometry, float]]) -> FloatArray:
        """Plants per area relative to 1 outside all zones; the greatest where zones overlap. Zero off the site.

        A cell that an edge cuts has what its parts have together.
        """
        return np.asarray(sum(weight * share for weight, share in self.shares(zones)))

    def shares(self, zones: Sequence[tuple[BaseGeometry, float]]) -> list[tuple[float, FloatArray]]:
        """For each weight, the heaviest first, the share of each cell that has it; 1 where no zone is."""
        free, found = self.inside.copy(), []
        for weight in sorted({weight for _, weight in zones}, reverse=True):
            taken = np.zeros(free.shape)
            for area in (area for area, w in zones if w == weight):
                taken += np.minimum(free - taken, _covered(area, self.x, self.y, self.step))
            free -= taken
            found.append((weight, taken))
        same = [k for k, (weight, _) in enumerate(found) if weight == 1.0]
        if same:
            found[same[0]] = (1.0, found[same[0]][1] + free)
        else:
            found.append((1.0, free))
        return sorted(found, key=lambda pair: -pair[0])

    def seen(self, tracks: Sequence[FloatArray], sigma_m: float, *, reach: float = OUT_OF_SIGHT) -> FloatArray:
        """Chance that a plant in each cell was seen, exp(-d²/2S²), d to the nearest point of any track; 0 off the site.

        Beyond `reach` widths of sight it is 0.
        """
        square = self.square_distance(tracks, reach * sigma_m)
        chance = np.zeros(square.shape)
        near = np.isfinite(square) & (self.inside > 0)
        chance[near] = np.exp(-0.5 / sigma_m**2 * square[near])
        return chance

    def square_distance(self, tracks: Sequence[FloatArray], reach_m: float) -> FloatArray:
        """Squared metres from each cell to the nearest point of any track; infinite where that is beyond reach."""
        best = np.full(self.inside.shape, np.inf)
        pieces = [_pieces(np.asarray(track, dtype=np.float64).reshape(-1, 2), reach_m, self.step) for track in tracks]
        pieces = [piece for piece in pieces if len(piece)]
        if not pieces:
            return best
        every = np.concatenate(pieces)
        low = np.minimum(every[:, :2], every[:, 2:]) - reach_m
        high = np.maximum(every[:, :2], every[:, 2:]) + reach_m
        first = np.ceil((low - (self.x[0], self.y[0])) / self.step).astype(np.int64).clip(0)
        last = (np.floor((high - (self.x[0], self.y[0])) / self.step).astype(np.int64) + 1).clip(0)
        # A window about each short piece: only cells that a piece can reach are ever asked for.
        for (ax, ay, bx, by), (c0, r0), (c1, r1) in zip(every.tolist(), first.tolist(), last.tolist(), strict=True):
            window = best[r0:r1, c0:c1]
            if not window.size:
                continue
            dx, dy, ux, uy = self.x[c0:c1] - ax, self.y[r0:r1] - ay, bx - ax, by - ay
            length2 = ux * ux + uy * uy
            # |p - a|² - 2 t (p - a)·u + t² |u|², with t the nearest place on the piece
            square = (dy * dy)[:, None] + dx * dx
            if length2 > 0:
                along = (dy * uy)[:, None] + dx * ux
                t = np.clip(along / length2, 0.0, 1.0)
                square += t * (t * length2 - 2 * along)
            np.minimum(window, square, out=window)
        best[best > reach_m * reach_m] = np.inf
        np.maximum(best, 0.0, out=best)
        return best

    def cluster_mean(self, values: FloatArray, sd_m: float) -> FloatArray:
        """Mean of `values` over a normal cluster centred in each cell, its plants all within the site."""
        from scipy.ndimage import gaussian_filter  # here, as most readings never come this far and it is slow to load

        sd = sd_m / self.step
        over = gaussian_filter(values * self.inside, sd, mode="constant", truncate=5)
        share = gaussian_filter(self.inside, sd, mode="constant", truncate=5)
        return np.asarray(np.divide(over, share, out=np.zeros_like(over), where=share > 1e-12))


def _step(groups: Sequence[BaseGeometry], sigma_m: float, most_cells: int) -> float:
    sides = [(max(g.bounds[2] - g.bounds[0], 1e-9), max(g.bounds[3] - g.bounds[1], 1e-9)) for g in groups]
    least = math.sqrt(sum(width * height for width, height in sides) / most_cells)
    # A sliver narrower than the step would vanish: at least 40 cells across the shorter side, while they fit.
    across = min(min(pair) for pair in sides) / 40
    # So would a narrow rim; twice its area over its edge is its width.
    across = min(across, min(2 * g.area / g.length for g in groups) / 6)
    return min(max(min(sigma_m / 2, _COARSEST_M), least), max(across, least))


def _near_each_other(boundary: BaseGeometry) -> list[BaseGeometry]:
    parts = list(shapely.get_parts(boundary))
    if len(parts) < 2:
        return [boundary]
    groups: list[list[BaseGeometry]] = []
    for part in parts:
        reach = shapely.box(*part.bounds).buffer(_APART_M)
        touching = [group for group in groups if any(reach.intersects(shapely.box(*other.bounds)) for other in group)]
        groups = [group for group in groups if group not in touching]
        groups.append([part, *(other for group in touching for other in group)])
    return [shapely.MultiPolygon(shapely.get_parts(group).tolist()) for group in groups]


def _covered(area: BaseGeometry, x: FloatArray, y: FloatArray, step: float) -> FloatArray:
    """The share of each cell in an area: along each of several lines a row, inside and outside change at every edge."""
    rings = shapely.get_rings(shapely.get_parts(area))
    points, ring = shapely.get_coordinates(rings, return_index=True)
    whole = ring[1:] == ring[:-1]
    a, b = points[:-1][whole], points[1:][whole]
    lines = _LINES * len(y)
    apart = step / _LINES
    lowest = y[0] - step / 2 + apart / 2
    first = np.ceil((np.minimum(a[:, 1], b[:, 1]) - lowest) / apart).astype(np.int64).clip(0, lines)
    last = np.ceil((np.maximum(a[:, 1], b[:, 1]) - lowest) / apart).astype(np.int64).clip(0, lines)
    times = last - first
    edge = np.repeat(np.arange(len(a)), times)
    line = np.arange(times.sum()) - np.repeat(np.cumsum(times) - times, times) + first[edge]
    if not line.size:
        return np.zeros((len(y), len(x)))
    slope = (b[edge, 0] - a[edge, 0]) / (b[edge, 1] - a[edge, 1])
    crossing = a[edge, 0] + (lowest + apart * line - a[edge, 1]) * slope
    across = ((crossing - x[0]) / step + 0.5).clip(0, len(x))
    order = np.lexsort((across, line))
    line, across = line[order], across[order]
    # A ring crosses a line an even number of times, so going in and coming out alternate over all of them.
    turn = np.where(np.arange(line.size) % 2 == 0, 1.0, -1.0) / _LINES
    column = across.astype(np.int64)
    on = (line // _LINES) * (len(x) + 2) + column
    # From where one goes in, the rest of that cell and all of the next ones are inside.
    part = across - column
    changes = np.bincount(on, turn * (1 - part), len(y) * (len(x) + 2))
    changes += np.bincount(on + 1, turn * part, len(y) * (len(x) + 2))
    share = np.cumsum(changes.reshape(len(y), -1), axis=1)[:, : len(x)]
    share[share < _LEAST_SHARE] = 0.0
    return np.asarray(np.minimum(share, 1.0))


def _pieces(track: FloatArray, reach_m: float, step_m: float) -> FloatArray:
    """The track as short straight pieces, shape = (n, 4): from x, y to x, y."""
    if not len(track):
        return np.empty((0, 4))
    if len(track) == 1 or not np.ptp(track, axis=0).any():
        return np.concatenate([track[0], track[0]])[None, :]
    if len(track) > 50:
        # A receiver writes a point a second: merging what is straight within a fiftieth of the sight spares most.
        track = shapely.get_coordinates(shapely.simplify(shapely.LineString(track), reach_m / OUT_OF_SIGHT / 50))
    a, b = track[:-1], track[1:]
    # Longer ones would ask for many cells out of reach where a leg runs aslant, shorter ones for many windows.
    longest = max(2 * reach_m, _PIECE_CELLS * step_m)
    times = np.maximum(1, np.ceil(np.hypot(*(b - a).T) / longest).astype(np.int64))
    leg = np.repeat(np.arange(len(a)), times)
    nth = np.arange(times.sum()) - np.repeat(np.cumsum(times) - times, times)
    step = ((b - a) / times[:, None])[leg]
    start = a[leg] + step * nth[:, None]
    return np.column_stack([start, start + step])
