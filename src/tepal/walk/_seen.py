"""What walks saw of a site, cell by cell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from shapely.geometry.base import BaseGeometry

from tepal.walk._raster import Raster

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Walked:
    """One walk: by whom, when and at which stage decide how much it saw.

    tracks: arrays of shape = (n_i, 2), metres; the gap between two of them is not walked. sigma_m: width of sight.
    up: share of the plants asked about that were up on that day; a flush after the walk lowers it. known: chance that
    a plant within sight was known for what it is, such as one taxon among many of another that looks like it. times:
    factor by which the width of sight may be off, one standard deviation of its log; 1 where it is known.
    """

    tracks: Sequence[npt.ArrayLike]
    sigma_m: float
    up: float = 1.0
    known: float = 1.0
    times: float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class SeenMap:
    """Chance that a plant was seen, cell by cell: centres x_m (c,), y_m (r,), cells of step_m; seen (r, c), 0 off the
    site."""

    x_m: FloatArray
    y_m: FloatArray
    step_m: float
    seen: FloatArray


def seen_map(boundary: BaseGeometry, walks: Sequence[Walked]) -> tuple[SeenMap, ...]:
    """What walks saw of a site, on one grid for each group of parts that lie near each other."""
    walked = [(walk, [np.asarray(t, dtype=np.float64).reshape(-1, 2) for t in walk.tracks]) for walk in walks]
    grids = Raster.each(boundary, min(walk.sigma_m for walk in walks))
    return tuple(SeenMap(grid.x, grid.y, grid.step, seen_by(grid, walked)) for grid in grids)


def seen_by(grid: Raster, walks: Sequence[tuple[Walked, Sequence[FloatArray]]]) -> FloatArray:
    """Chance that a plant in each cell was seen on at least one of the walks."""
    missed = np.ones(grid.inside.shape)
    for walk, tracks in walks:
        missed *= 1 - walk.up * walk.known * grid.seen(tracks, walk.sigma_m)
    return np.asarray((1 - missed) * (grid.inside > 0))
