"""What a new count at a place would be: a mixture of negative binomials bent by the field."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from tepal.stand._counts import Points
from tepal.stand._margin import normal_point, size_of
from tepal.stand._posterior import Component, Posterior, by_fit

FloatArray = npt.NDArray[np.float64]

PREDICTED = (0.025, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95, 0.975)
_CHUNK = 2000
# Counts are tabled one by one up to here, beyond it on a scale of equal ratios.
_ONE_BY_ONE = 64
_FAR = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Predicted:
    """Predictive distribution of a new count at each point: arrays of shape = (n,), quantiles (n, 9), read-only.

    Quantile p is the smallest count that is reached with probability p or more (`PREDICTED`).
    """

    mean: FloatArray
    sd: FloatArray
    p0: FloatArray
    quantiles: FloatArray


def predict(posterior: Posterior, at: Points) -> Predicted:
    """Predictive distributions at `at`."""
    n = len(at)
    components = posterior.heaviest(0.995 if n <= _CHUNK else 0.9, 120 if n <= _CHUNK else 12)
    parts = [
        _chunk(posterior, components, at.x_m[i : i + _CHUNK], at.y_m[i : i + _CHUNK], at.area_m2[i : i + _CHUNK])
        for i in range(0, n, _CHUNK)
    ]
    if not parts:
        return Predicted(np.empty(0), np.empty(0), np.empty(0), np.empty((0, len(PREDICTED))))
    columns = [np.concatenate(column) for column in zip(*parts, strict=True)]
    for column in columns:
        column.setflags(write=False)
    return Predicted(*columns)


def _chunk(
    posterior: Posterior, components: tuple[Component, ...], x: FloatArray, y: FloatArray, area: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    areas, which = np.unique(area, return_inverse=True)
    counts = _table(components, float(areas.max()), posterior.margin.reference_m2)
    places = np.column_stack([x, y])
    below = np.zeros((x.size, counts.size))
    for shape, members in by_fit(components):
        nearness = shape.correlation(posterior.knots, places)
        for index in members:
            c = components[index]
            mean, sd = np.zeros(x.size), np.ones(x.size)
            if c.knots is not None:
                pull, loss = c.knots.pull[c.row], c.knots.loss[c.row]
                mean = np.sqrt(shape.share) * (pull @ nearness)
                lost = np.einsum("ip,ip->p", nearness, loss @ nearness)
                sd = np.sqrt(np.maximum(1 - shape.share * lost, 1e-6))
            point = normal_point(
                counts[None, :],
                c.mu * areas[:, None],
                size_of(np.array(c.kappa), areas[:, None], posterior.margin.reference_m2),
            )
            below += c.weight * ndtr((point[which] - mean[:, None]) / sd[:, None])
    return _read_off(counts, np.minimum(below, 1.0))


def _table(components: tuple[Component, ...], area: float, reference: float) -> FloatArray:
    """Counts to table: all small ones, then in equal ratios to where hardly any probability is left."""
    top = 1.0
    for c in components:
        mean, size = np.array(c.mu * area), size_of(np.array(c.kappa), np.array(area), reference)
        # The chance beyond mean·(1 + 25·(1 + 1/k)) is below 1e-9 for every k: the tail falls as exp(-k·y/mean).
        top = max(top, float(mean * (1 + 25 * (1 + 1 / size)) + 40)) if c.weight > _FAR else top
    small = np.arange(min(_ONE_BY_ONE, top) + 1)
    if top <= _ONE_BY_ONE:
        return small
    large = np.unique(np.floor(np.geomspace(_ONE_BY_ONE, min(top, 1e15), 220)))
    return np.unique(np.concatenate([small, large]))


def _read_off(counts: FloatArray, below: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    # Sums of P(Y > c) over all c, straight lines between tabled counts.
    above = 1 - below
    gaps = np.diff(counts)
    inner = 0.5 * (above[:, :-1] + above[:, 1:]) * gaps + 0.5 * (above[:, :-1] - above[:, 1:])
    middle = 0.5 * (counts[:-1] + counts[1:] - 1)
    mean = inner.sum(axis=1) + above[:, -1]
    second = ((2 * middle + 1) * inner).sum(axis=1)
    sd = np.sqrt(np.maximum(second - mean**2, 0.0))
    quantiles = np.empty((len(below), len(PREDICTED)))
    for row, p in enumerate(below):
        reached = np.interp(PREDICTED, np.maximum.accumulate(p), counts)
        index = np.searchsorted(p, PREDICTED)
        exact = counts[np.minimum(index, counts.size - 1)]
        # In the tabled part the count itself; beyond it the line between two tabled counts, rounded up.
        quantiles[row] = np.where(exact <= _ONE_BY_ONE, exact, np.ceil(reached))
    return mean, sd, below[:, 0].copy(), quantiles
