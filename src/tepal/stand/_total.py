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
from tepal.stand._field import Fit
from tepal.stand._kernel import Correlation
from tepal.stand._margin import FINE_M2, quantile
from tepal.stand._posterior import Member, Posterior

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
        # Neighbours share the very same edges: else slivers stay between them when they are joined.
        edges = [
            low + step * np.arange(math.ceil((high - low) / step) + 1) for low, high in ((west, east), (south, north))
        ]
        left, lower = np.meshgrid(edges[0][:-1], edges[1][:-1])
        right, upper = np.meshgrid(edges[0][1:], edges[1][1:])
        boxes = shapely.box(left.ravel(), lower.ravel(), right.ravel(), upper.ravel())
        shapely.prepare(boundary)
        pieces = shapely.intersection(boxes[shapely.intersects(boundary, boxes)], boundary)
        area = shapely.area(pieces)
        pieces, area = pieces[area > 0], area[area > 0]
        centres = shapely.get_coordinates(shapely.centroid(pieces))
        places = np.column_stack([counts.x_m[inside], counts.y_m[inside]])
        return cls(pieces, centres, area, _left_over(area, centres, places, counts.area_m2[inside]))


def _left_over(area: FloatArray, centres: FloatArray, places: FloatArray, looked_at: FloatArray) -> FloatArray:
    """Of each cell's area what no plot covers; a plot larger than what its cell has left covers the next nearest."""
    if places.size == 0:
        return area.copy()
    apart = (centres[:, None, 0] - places[:, 0]) ** 2 + (centres[:, None, 1] - places[:, 1]) ** 2
    left = np.asarray(area - np.bincount(apart.argmin(axis=0), looked_at, area.size))
    if (left >= 0).all():
        return left
    left = area.copy()
    for plot, nearest in zip(looked_at, np.argsort(apart, axis=0, kind="stable").T, strict=True):
        before = np.concatenate([[0.0], np.cumsum(left[nearest])[:-1]])
        left[nearest] -= np.clip(plot - before, 0.0, left[nearest])
    return np.maximum(left, 0.0)


def density_draws(
    posterior: Posterior, cells: Cells, places: FloatArray, rng: np.random.Generator, n: int
) -> tuple[FloatArray, FloatArray]:
    """Draws of each cell's mean density (plants/m2, shape = (n, m)) and of the plants not looked at (n,).

    `places` (m, 2 + covariates): the cells' centres as in `posterior_of`.
    """
    weights = [posterior.weights(member) for member in posterior.members]
    each = np.concatenate([weight.sum(axis=1) for weight in weights])
    # Systematic: each shape and kappa gets its share of the draws to within one.
    chosen = np.searchsorted(np.cumsum(each) / each.sum(), (rng.random() + np.arange(n)) / n)
    chosen = np.minimum(chosen, each.size - 1)
    density = np.empty((n, cells.area_m2.size))
    spread = np.empty((n, cells.area_m2.size))
    roots: dict[Correlation, FloatArray] = {}
    for k, member in enumerate(posterior.members):
        rows = np.flatnonzero(chosen // posterior.kappa.size == k)
        if rows.size == 0:
            continue
        shape = member.shape
        field = None
        if shape.kernel:
            if shape.kernel not in roots:
                roots[shape.kernel] = _root(shape.kernel, places, posterior.knots)
            nearness = shape.kernel(posterior.knots, places)
            field = _Draws.of(roots[shape.kernel], nearness, rng, rows.size)
        for j, kappa in enumerate(posterior.kappa):
            mine = np.flatnonzero(chosen[rows] % posterior.kappa.size == j)
            if mine.size == 0:
                continue
            mu = _mu_draws(posterior, member, j, rng, mine.size)
            if field and member.fit:
                s = field.given(member.fit, j, _between(posterior.mu[j], mu), mine)
            else:
                s = np.zeros((mine.size, cells.area_m2.size))
            mean, variance = _local(float(kappa), shape.share, s)
            density[rows[mine]], spread[rows[mine]] = mu[:, None] * mean, mu[:, None] ** 2 * variance
    # What places have on their own varies so from plot to plot: on u square metres its mean varies by a share of that,
    # (FINE_M2 + a0)/(FINE_M2 + u), as in `size_of`. Cells smaller than a plot share it, so u is all that is left.
    unseen = float(cells.unseen_m2.sum())
    together = (FINE_M2 + posterior.margin.reference_m2) / (FINE_M2 + unseen)
    variance = (spread @ cells.unseen_m2) * unseen * min(1.0, together)
    mean = density @ cells.unseen_m2
    return density, _over_dispersed(mean, variance, rng)


def _mu_draws(posterior: Posterior, member: Member, j: int, rng: np.random.Generator, n: int) -> FloatArray:
    """Draws of mu given kappa and shape: one from each of n parts of equal weight, in no order."""
    margin = posterior.margin
    mass = margin.mu_given(float(posterior.kappa[j]))
    gain = np.interp(margin.log_mu, np.log(posterior.mu[j]), member.log_gain[j])
    mass = mass * np.exp(gain - gain.max())
    log_mu = quantile(margin.log_mu, mass, (np.arange(n) + rng.random(n)) / n)
    rng.shuffle(log_mu)
    return np.asarray(np.exp(log_mu))


def _between(nodes: FloatArray, mu: FloatArray) -> FloatArray:
    """Weights (n, i) with which each mu stands between its two nodes, on a straight line of log mu, also beyond."""
    at = np.log(nodes)
    left = np.clip(np.searchsorted(at, np.log(mu)) - 1, 0, at.size - 2)
    part = np.clip((np.log(mu) - at[left]) / (at[left + 1] - at[left]), -1.0, 2.0)
    weight = np.zeros((mu.size, at.size))
    weight[np.arange(mu.size), left] = 1 - part
    weight[np.arange(mu.size), left + 1] = part
    return weight


def _over_dispersed(mean: FloatArray, variance: FloatArray, rng: np.random.Generator) -> FloatArray:
    shape = np.divide(mean**2, variance, out=np.full_like(mean, 1e12), where=variance > 0)
    rate = mean * rng.gamma(np.clip(shape, 1e-6, 1e12)) / np.clip(shape, 1e-6, 1e12)
    # The Poisson sampler takes no mean beyond 2^63; there its own spread is invisible anyway.
    large = rate > 1e12
    return np.where(large, np.round(rate), rng.poisson(np.where(large, 0.0, rate)))


def _root(kernel: Correlation, centres: FloatArray, knots: FloatArray) -> FloatArray:
    """Root of the field's correlation at cells, then knots."""
    places = np.vstack([centres, knots])
    # A cell centre may be a knot, and strips hang together closely: a breath on the diagonal keeps the root real.
    return np.asarray(np.linalg.cholesky(kernel(places, places) + 1e-6 * np.eye(len(places))))


def _local(kappa: float, share: float, s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean density where the field is s, in units of mu, and its variance among fine patches there."""
    z = math.sqrt(share) * _SCALE[:, None] + math.sqrt(1 - share) * _NODES[None, :]
    level = gammaincinv(kappa, np.clip(ndtr(z), 0, 1 - 1e-15)) / kappa
    mean = level @ _WEIGHTS
    square = level**2 @ _WEIGHTS
    # At share 0 the rule integrates the gamma itself; its known mean 1 takes out what the few nodes miss.
    correct = 1 / float(mean @ _NORMAL)
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
    def of(cls, root: FloatArray, nearness: FloatArray, rng: np.random.Generator, k: int) -> _Draws:
        b, m = nearness.shape
        field = rng.standard_normal((k, m + b)) @ root.T
        return cls(field[:, :m], field[:, m:], rng.standard_normal((k, b)), nearness)

    def given(self, fit: Fit, j: int, between: FloatArray, rows: npt.NDArray[np.int64]) -> FloatArray:
        """The same draws after the counts: moved by what the counts say less what they would say of the draw itself.

        `between` (n, i): how each draw stands between the nodes of mu; the fits at kappa node j are mixed so.
        """
        move = np.zeros((rows.size, self.knots.shape[1]))
        for i in range(between.shape[1]):
            row = j * between.shape[1] + i
            part = np.flatnonzero(between[:, i])
            # A pretended reading of the drawn field has the counts' own precision; a knot without pull has loss 0.
            noise = self.noise[rows[part]] / np.sqrt(np.maximum(fit.precision[row], 1e-12))
            news = fit.pull[row] - (self.knots[rows[part]] + noise) @ fit.loss[row]
            move[part] += between[part, i : i + 1] * news
        return np.asarray(self.cells[rows] + move @ self.nearness)
