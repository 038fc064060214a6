"""What a new count at a place would be: a mixture of negative binomials bent by the field."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from tepal.stand._counts import Points
from tepal.stand._margin import normal_point, size_of
from tepal.stand._posterior import Posterior

FloatArray = npt.NDArray[np.float64]

PREDICTED = (0.025, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95, 0.975)
_CHUNK = 1000
# Counts are tabled one by one up to here, beyond it on a scale of equal ratios.
_ONE_BY_ONE = 64
# More points than this are read off a lattice, where one as fine as _STEP of the extent is the smaller work.
_MANY = 6000
_STEP = 0.0125


@dataclass(frozen=True, slots=True, eq=False)
class Predicted:
    """Predictive distribution of a new count at each point: arrays of shape = (n,), quantiles (n, 9), read-only.

    Quantile p is the smallest count that is reached with probability p or more (`PREDICTED`).
    """

    mean: FloatArray
    sd: FloatArray
    p0: FloatArray
    quantiles: FloatArray


def predict(posterior: Posterior, at: Points, places: FloatArray) -> Predicted:
    """Predictive distributions at `at`; `places` (n, 2 + covariates) as in `posterior_of`.

    Many points of one area are read off a lattice between whose points all figures run straight; its step is a third
    of the shortest reach of the field. Not so with covariates, which need not run straight.
    """
    found = np.empty((len(at), 3 + len(PREDICTED)))
    areas, which = np.unique(at.area_m2, return_inverse=True)
    for k, area in enumerate(areas):
        mine = np.flatnonzero(which == k)
        found[mine] = _at_places(posterior, places[mine], float(area))
    # Quantiles run through the fractions between counts as far as here, so that they can be read between places.
    quantiles = np.ceil(found[:, 3:] - 1e-9)
    columns = (found[:, 0].copy(), found[:, 1].copy(), found[:, 2].copy(), np.maximum(quantiles, 0.0))
    for column in columns:
        column.setflags(write=False)
    return Predicted(*columns)


def _at_places(posterior: Posterior, places: FloatArray, area: float) -> FloatArray:
    if len(places) > _MANY and places.shape[1] > 2:
        return _exact(posterior, places, area, quick=True)
    low, high = places.min(axis=0), places.max(axis=0)
    step = _STEP * posterior.extent_m
    if len(places) > _MANY and step > 0 and np.prod(np.floor((high - low) / step) + 2) <= _MANY:
        axes = [low[axis] + step * np.arange(int((high[axis] - low[axis]) / step) + 2) for axis in (0, 1)]
        x, y = np.meshgrid(*axes, indexing="ij")
        lattice = _exact(posterior, np.column_stack([x.ravel(), y.ravel()]), area, quick=True).reshape(*x.shape, -1)
        return _straight(lattice, (places - low) / step)
    return _exact(posterior, places, area)


def _straight(lattice: FloatArray, at: FloatArray) -> FloatArray:
    """Values (n, q) at positions (n, 2), in steps, between the points of a lattice (p, r, q)."""
    cell = at.astype(np.int64)
    part = at - cell
    found = np.zeros((len(at), lattice.shape[2]))
    for i in (0, 1):
        for j in (0, 1):
            weight = (part[:, 0] if i else 1 - part[:, 0]) * (part[:, 1] if j else 1 - part[:, 1])
            found += weight[:, None] * lattice[cell[:, 0] + i, cell[:, 1] + j]
    return found


def _exact(posterior: Posterior, places: FloatArray, area: float, *, quick: bool = False) -> FloatArray:
    """Mean, sd, chance of none and quantiles, shape = (n, 12). `quick`: as `_below`."""
    reference = posterior.margin.reference_m2
    mean = posterior.mu * area
    size = np.broadcast_to(size_of(posterior.kappa[:, None], np.array(area), reference), mean.shape)
    counts = _table(mean, size)
    points = normal_point(counts, mean[..., None], size[..., None]).reshape(mean.size, counts.size)
    parts = []
    for start in range(0, len(places), _CHUNK):
        below = _below(posterior, points, places[start : start + _CHUNK], quick=quick)
        parts.append(_read_off(counts, np.minimum(below, 1.0)))
    return np.concatenate(parts) if parts else np.empty((0, 3 + len(PREDICTED)))


def _below(posterior: Posterior, points: FloatArray, places: FloatArray, *, quick: bool = False) -> FloatArray:
    """Chance of each tabled count or fewer at each place; `points` (nodes, counts) are the counts on the normal scale.

    At each node the shapes' normals are made one by their moments: it differs by less than the doubt about any shape.
    `quick`: the spread of a shape's normal is that of the mean over its nodes, which differ in it by little.
    """
    nodes = points.shape[0]
    total, first, second = np.zeros(nodes), np.zeros((nodes, len(places))), np.zeros((nodes, len(places)))
    for member in posterior.members:
        share, weights = member.shape.share, posterior.weights(member).ravel()
        total += weights
        if member.fit is None or member.shape.kernel is None:
            second += weights[:, None]
            continue
        nearness = member.shape.kernel(posterior.knots, places)
        middle = np.sqrt(share) * (member.fit.pull @ nearness)
        first += weights[:, None] * middle
        if quick:
            mixed = np.tensordot(weights / weights.sum(), member.fit.loss, axes=1)
            lost = np.einsum("kp,kp->p", mixed @ nearness, nearness)
            second += weights[:, None] * (np.maximum(1 - share * lost, 1e-6) + middle**2)
            continue
        for node, weight in enumerate(weights):
            lost = np.einsum("kp,kp->p", member.fit.loss[node] @ nearness, nearness)
            second[node] += weight * (np.maximum(1 - share * lost, 1e-6) + middle[node] ** 2)
    below = np.zeros((len(places), points.shape[1]))
    for node, weight in enumerate(total):
        mean = first[node] / weight
        sd = np.sqrt(np.maximum(second[node] / weight - mean**2, 1e-6))
        below += weight * ndtr((points[node] - mean[:, None]) / sd[:, None])
    return below


def _table(mean: FloatArray, size: FloatArray) -> FloatArray:
    """Counts to table: all small ones, then in equal ratios to where hardly any probability is left."""
    # The chance beyond mean·(1 + 25·(1 + 1/k)) is below 1e-9 for every k: the tail falls as exp(-k·y/mean).
    top = max(1.0, float((mean * (1 + 25 * (1 + 1 / size)) + 40).max()))
    small = np.arange(min(_ONE_BY_ONE, top) + 1)
    if top <= _ONE_BY_ONE:
        return small
    large = np.unique(np.floor(np.geomspace(_ONE_BY_ONE, min(top, 1e15), 100)))
    return np.unique(np.concatenate([small, large]))


def _read_off(counts: FloatArray, below: FloatArray) -> FloatArray:
    # Sums of P(Y > c) over all c, straight lines between tabled counts.
    above = 1 - below
    gaps = np.diff(counts)
    inner = 0.5 * (above[:, :-1] + above[:, 1:]) * gaps + 0.5 * (above[:, :-1] - above[:, 1:])
    middle = 0.5 * (counts[:-1] + counts[1:] - 1)
    mean = inner.sum(axis=1) + above[:, -1]
    second = ((2 * middle + 1) * inner).sum(axis=1)
    sd = np.sqrt(np.maximum(second - mean**2, 0.0))
    # Each quantile lies where the straight line from one tabled count to the next reaches p; below 0 it starts at -1.
    below = np.maximum.accumulate(below, axis=1)
    edge = np.concatenate([[-1.0], counts])
    rows = np.arange(len(below))
    found = [mean, sd, below[:, 0]]
    for p in PREDICTED:
        index = np.minimum((below < p).sum(axis=1), counts.size - 1)
        upper = below[rows, index]
        lower = np.where(index > 0, below[rows, np.maximum(index - 1, 0)], 0.0)
        part = np.clip((p - lower) / np.maximum(upper - lower, 1e-300), 0.0, 1.0)
        found.append(edge[index] + part * (edge[index + 1] - edge[index]))
    return np.column_stack(found)
