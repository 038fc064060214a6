"""How many on the whole site: what was counted, plus draws of what was not looked at, cell by cell."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from scipy.special import gammaincinv, ndtr
from shapely.geometry.base import BaseGeometry

from tepal.stand._counts import Counts
from tepal.stand._field import Shape
from tepal.stand._margin import FINE_M2
from tepal.stand._posterior import Component, Posterior, by_fit

FloatArray = npt.NDArray[np.float64]

_CELLS = 350
# Gauss-Hermite points for the part of the variation that each place has on its own.
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(15)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()
_SCALE = np.linspace(-5.0, 5.0, 25)


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """The site cut into about 350 pieces: shapes (m,), centres (m, 2), area (m,), and of it not looked at (m,)."""

    pieces: npt.NDArray[Any]
    centres: FloatArray
    area_m2: FloatArray
    unseen_m2: FloatArray

    @classmethod
    def of(cls, boundary: BaseGeometry, counts: Counts, inside: npt.NDArray[np.bool_]) -> Cells:
        west, south, east, north = boundary.bounds
        step = math.sqrt(boundary.area / _CELLS)
        # A thin winding site has a large box for its area: the grid over the box has its limit too.
        step = max(step, math.sqrt((east - west) * (north - south) / 20_000))
        x, y = np.meshgrid(np.arange(west, east, step), np.arange(south, north, step))
        boxes = shapely.box(x.ravel(), y.ravel(), x.ravel() + step, y.ravel() + step)
        shapely.prepare(boundary)
        pieces = shapely.intersection(boxes[shapely.intersects(boundary, boxes)], boundary)
        area = shapely.area(pieces)
        pieces, area = pieces[area > 0], area[area > 0]
        centres = shapely.get_coordinates(shapely.centroid(pieces))
        unseen = area.copy()
        if inside.any():
            places = np.column_stack([counts.x_m[inside], counts.y_m[inside]])
            nearest = np.argmin(
                (centres[:, None, 0] - places[None, :, 0]) ** 2 + (centres[:, None, 1] - places[None, :, 1]) ** 2,
                axis=0,
            )
            unseen = unseen - np.bincount(nearest, counts.area_m2[inside], area.size)
            # A plot larger than its cell has covered neighbours too: what is too much is taken from all alike.
            left = max(float(unseen.sum()), 0.0)
            unseen = np.maximum(unseen, 0.0)
            unseen *= left / unseen.sum() if unseen.sum() > 0 else 0.0
        return cls(pieces, centres, area, unseen)


def density_draws(
    posterior: Posterior, cells: Cells, rng: np.random.Generator, n: int
) -> tuple[FloatArray, FloatArray]:
    """Draws of each cell's mean density (plants/m2, shape = (n, m)) and of the plants not looked at (n,)."""
    components = posterior.heaviest(0.99, 100)
    chosen = rng.choice(len(components), size=n, p=np.array([c.weight for c in components]))
    density = np.empty((n, cells.area_m2.size))
    spread = np.empty((n, cells.area_m2.size))
    for shape, members in by_fit(components):
        rows = np.flatnonzero(np.isin(chosen, members))
        if rows.size == 0:
            continue
        field = _Draws.of(shape, posterior.knots, cells.centres, rng, rows.size) if shape.share > 0 else None
        for index in members:
            mine = np.flatnonzero(chosen[rows] == index)
            if mine.size:
                s = field.given(components[index], mine) if field else np.zeros((mine.size, cells.area_m2.size))
                density[rows[mine]], spread[rows[mine]] = _local(components[index], s)
    # Fine patches: each cell has as many of them as its area holds, so their sum varies by so much.
    variance = (spread * cells.unseen_m2**2 * (FINE_M2 / (FINE_M2 + cells.unseen_m2))).sum(axis=1)
    mean = density @ cells.unseen_m2
    return density, _over_dispersed(mean, variance, rng)


def _over_dispersed(mean: FloatArray, variance: FloatArray, rng: np.random.Generator) -> FloatArray:
    shape = np.divide(mean**2, variance, out=np.full_like(mean, 1e12), where=variance > 0)
    rate = mean * rng.gamma(np.clip(shape, 1e-6, 1e12)) / np.clip(shape, 1e-6, 1e12)
    # The Poisson sampler takes no mean beyond 2^63; there its own spread is invisible anyway.
    large = rate > 1e12
    return np.where(large, np.round(rate), rng.poisson(np.where(large, 0.0, rate)))


def _local(c: Component, s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean density where the field is s, and its variance among fine patches there."""
    share = c.shape.share
    z = math.sqrt(share) * _SCALE[:, None] + math.sqrt(1 - share) * _NODES[None, :]
    level = c.mu / c.kappa * gammaincinv(c.kappa, np.clip(ndtr(z), 0, 1 - 1e-15))
    mean = level @ _WEIGHTS
    square = level**2 @ _WEIGHTS
    # At share 0 the rule integrates the gamma itself; its known mean mu takes out what the few nodes miss.
    correct = c.mu / float(mean @ _NORMAL)
    local_mean = np.interp(s, _SCALE, mean) * correct
    local_square = np.interp(s, _SCALE, square) * correct**2
    return local_mean, np.maximum(local_square - local_mean**2, 0.0)


_NORMAL = np.exp(-0.5 * _SCALE**2)
_NORMAL = _NORMAL / _NORMAL.sum()


@dataclass(frozen=True, slots=True, eq=False)
class _Draws:
    """Draws of the field before the counts, at cells (k, m) and knots (k, b), and what carries news to the cells."""

    cells: FloatArray
    knots: FloatArray
    noise: FloatArray
    nearness: FloatArray

    @classmethod
    def of(cls, shape: Shape, knots: FloatArray, centres: FloatArray, rng: np.random.Generator, k: int) -> _Draws:
        places = np.vstack([centres, knots])
        # A cell centre may be a knot: a breath on the diagonal keeps the root real.
        root = np.linalg.cholesky(shape.correlation(places, places) + 1e-8 * np.eye(len(places)))
        field = rng.standard_normal((k, len(places))) @ root.T
        m = len(centres)
        return cls(field[:, :m], field[:, m:], rng.standard_normal((k, len(knots))), shape.correlation(knots, centres))

    def given(self, c: Component, rows: npt.NDArray[np.int64]) -> FloatArray:
        """The same draws after the counts: moved by what the counts say less what they would say of the draw itself."""
        assert c.knots is not None
        pull, loss, precision = c.knots.pull[c.row], c.knots.loss[c.row], c.knots.precision[c.row]
        # A pretended reading of the drawn field has the counts' own precision; a knot without pull has loss 0.
        seen = self.knots[rows] + self.noise[rows] / np.sqrt(np.maximum(precision, 1e-12))
        return np.asarray(self.cells[rows] + (pull - seen @ loss) @ self.nearness)
