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
_OUT_OF_SIGHT = 7.0


@dataclass(frozen=True, slots=True, eq=False)
class Raster:
    """Cell centres over the bounding box of a site; arrays of shape = (rows, columns), read-only.

    `inside` is 1 in the site, else 0; `step` is the cell size in metres; `x`, `y` the centres along each axis.
    """

    x: FloatArray
    y: FloatArray
    step: float
    inside: FloatArray

    @classmethod
    def of(cls, boundary: BaseGeometry, sigma_m: float) -> Raster:
        """A grid fine enough for the width of sight `sigma_m`, within the limit of cells."""
        west, south, east, north = boundary.bounds
        box = max(east - west, 1e-9) * max(north - south, 1e-9)
        step = max(min(sigma_m / 2, _COARSEST_M), math.sqrt(box / _MOST_CELLS))
        # A sliver narrower than the step would vanish: at least 40 cells across the shorter side, while they fit.
        step = min(step, max(min(east - west, north - south) / 40, math.sqrt(box / _MOST_CELLS)))
        x = np.asarray(west + (np.arange(max(1, math.ceil((east - west) / step))) + 0.5) * step)
        y = np.asarray(south + (np.arange(max(1, math.ceil((north - south) / step))) + 0.5) * step)
        shapely.prepare(boundary)
        inside = shapely.contains_xy(boundary, x[None, :], y[:, None]).astype(np.float64)
        for array in (x, y, inside):
            array.setflags(write=False)
        return cls(x, y, step, inside)

    def weights(self, zones: Sequence[tuple[BaseGeometry, float]]) -> FloatArray:
        """Plants per area relative to 1 outside all zones; the greatest where zones overlap. Zero off the site."""
        best = np.full(self.inside.shape, -np.inf)
        for area, weight in zones:
            shapely.prepare(area)
            best[shapely.contains_xy(area, self.x[None, :], self.y[:, None]) & (best < weight)] = weight
        return np.where(np.isinf(best), 1.0, best) * self.inside

    def seen(self, tracks: Sequence[FloatArray], sigma_m: float) -> FloatArray:
        """Chance that a plant in each cell was seen, exp(-d²/2S²), d to the nearest point of any track."""
        chance = np.zeros(self.inside.shape)
        points = [_densified(track, sigma_m) for track in tracks if len(track)]
        if not points:
            return chance
        rows, columns = np.nonzero(self.inside)
        reach = _OUT_OF_SIGHT * sigma_m
        # Only cells near the track's own box are asked for: most of a large site often is far from the walk.
        route = np.concatenate(points)
        near = (
            (self.x[columns] >= route[:, 0].min() - reach)
            & (self.x[columns] <= route[:, 0].max() + reach)
            & (self.y[rows] >= route[:, 1].min() - reach)
            & (self.y[rows] <= route[:, 1].max() + reach)
        )
        rows, columns = rows[near], columns[near]
        if rows.size:
            from scipy.spatial import cKDTree  # here, as most readings never come this far and it is slow to load

            distance, _ = cKDTree(route).query(
                np.column_stack([self.x[columns], self.y[rows]]), distance_upper_bound=reach
            )
            chance[rows, columns] = np.where(
                np.isfinite(distance), np.exp(-0.5 * (np.minimum(distance, reach) / sigma_m) ** 2), 0.0
            )
        return chance

    def cluster_mean(self, values: FloatArray, sd_m: float) -> FloatArray:
        """Mean of `values` over a normal cluster centred in each cell, its plants all within the site."""
        from scipy.ndimage import gaussian_filter  # here, for the same reason

        sd = sd_m / self.step
        over = gaussian_filter(values * self.inside, sd, mode="constant", truncate=5)
        share = gaussian_filter(self.inside, sd, mode="constant", truncate=5)
        return np.divide(over, share, out=np.zeros_like(over), where=share > 1e-12)


def _densified(track: FloatArray, sigma_m: float) -> FloatArray:
    # Points every sigma/8: the nearest of them is at most sigma/16 along from the nearest point of the line, which
    # lowers a chance of 1 by at most 0.2 %, and by 0.07 % on average.
    track = np.asarray(track, dtype=np.float64).reshape(-1, 2)
    if len(track) == 1:
        return track
    legs = np.hypot(*np.diff(track, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(legs)])
    length = float(along[-1])
    if length == 0:
        return track[:1]
    step = max(sigma_m / 8, length / 400_000)
    at = np.union1d(np.linspace(0, length, math.ceil(length / step) + 1), along)
    return np.column_stack([np.interp(at, along, track[:, 0]), np.interp(at, along, track[:, 1])])
