"""A hidden normal field that ties counts of one neighbourhood together, its strength and reach averaged over.

Each count is the value of its own negative binomial margin at a standard normal z (a Gaussian copula):
z_i = sqrt(share)·s(place) + sqrt(1 - share)·e_i, s a stationary field with correlation exp(-distance/reach), e_i on its
own. So a count's margin never depends on the field, and far from all counts a prediction is the plain count model.
Given (mu, kappa, share, reach), s is found by expectation propagation (each count an interval of z).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.linalg.lapack import dpotrf, dpotri

from tepal.stand._margin import truncated

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# The field is carried at no more places than this; more counts share places (far below the reach of the field).
MOST_KNOTS = 200
# Prior chance of no field, and the shares of variation that a field may carry.
NO_FIELD = 0.2
SHARES = (0.4, 0.9)
_DAMP = 0.8
# A knot whose counts say nothing keeps this much precision, so that dividing by it stays exact to 1e-8.
_LEAST = 1e-8
# From this size on, a symmetric inverse one by one beats the general one in a batch.
_SMALL = 24


@dataclass(frozen=True, slots=True)
class Kernel:
    """Correlation of the field between two places, with a reach for each axis of the frame.

    `rough`: exp(-d), d the distance in reaches. `strips`: the mean of two correlations (1 + t)·exp(-t), t = sqrt(3)·d,
    d along one axis only: what rows, headlands and a slope share all along.
    """

    kind: Literal["rough", "strips"]
    reach_x_m: float
    reach_y_m: float

    def __call__(self, first: FloatArray, second: FloatArray) -> FloatArray:
        """Correlation between places of shape = (n, 2) and (m, 2): shape = (n, m)."""
        x = np.abs(np.subtract.outer(first[:, 0], second[:, 0])) / self.reach_x_m
        y = np.abs(np.subtract.outer(first[:, 1], second[:, 1])) / self.reach_y_m
        if self.kind == "strips":
            return np.asarray(0.5 * (_matern(x) + _matern(y)))
        # Roots of squares: `hypot` guards against overflow that metres cannot reach, at eight times the time.
        return np.asarray(np.exp(-np.sqrt(x * x + y * y)))


def _matern(t: FloatArray) -> FloatArray:
    t = 1.7320508075688772 * t
    return np.asarray((1 + t) * np.exp(-t))


@dataclass(frozen=True, slots=True)
class Shape:
    """Share of variation that the field carries, its correlation (None: no field), log prior."""

    share: float
    kernel: Kernel | None
    log_prior: float


def shapes_for(extent_m: float) -> tuple[Shape, ...]:
    """No field at all, or one of thirty: alike in all directions, four times as long one way, or in strips.

    Reaches run from a 25th of the extent to more than half of it (strips: to all of it). Judgement, kept where real
    counts that were asked about in `bench/stand_peers.py` bore it out.
    """
    kernels = {}
    for reach in (0.04 * extent_m, 0.1 * extent_m, 0.25 * extent_m, 0.6 * extent_m):
        kernels[Kernel("rough", reach, reach)] = 1.0
        kernels[Kernel("rough", 2 * reach, reach / 2)] = 0.5
        kernels[Kernel("rough", reach / 2, 2 * reach)] = 0.5
    for reach in (0.1 * extent_m, 0.3 * extent_m, extent_m):
        kernels[Kernel("strips", reach, reach)] = 1.0
    prior = np.array(list(kernels.values()))
    prior = (1 - NO_FIELD) * prior / prior.sum() / len(SHARES)
    fields = [
        Shape(share, kernel, float(np.log(p))) for kernel, p in zip(kernels, prior, strict=True) for share in SHARES
    ]
    return (Shape(0.0, None, float(np.log(NO_FIELD))), *fields)


def knots_of(places: FloatArray) -> tuple[FloatArray, IntArray]:
    """Places where the field is carried, shape = (b, 2), and the knot of each count, shape = (n,)."""
    knots, index = np.unique(places, axis=0, return_inverse=True)
    index = index.reshape(-1)
    side = int(np.sqrt(MOST_KNOTS))
    while len(knots) > MOST_KNOTS:
        low, high = places.min(axis=0), places.max(axis=0)
        # One step for both directions, so that a long strip gets its knots along the strip.
        step = float((high - low).max()) / side
        box = np.floor((places - low) / step).astype(np.int64)
        _, index = np.unique(box, axis=0, return_inverse=True)
        index = index.reshape(-1)
        times = np.bincount(index)
        knots = np.column_stack([np.bincount(index, places[:, axis]) / times for axis in (0, 1)])
        side -= 1
    return knots, index.astype(np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """The field at the knots for m pairs (mu, kappa) and one shape.

    log_evidence (m,): log chance of the counts. rate, precision (m, b): the counts' pull on s as exp(rate·s -
    precision·s²/2). pull (m, b) and loss (m, b, b): mean of s elsewhere is r'pull, variance 1 - r'loss r, with r the
    correlations to the knots.
    """

    log_evidence: FloatArray
    rate: FloatArray
    precision: FloatArray
    pull: FloatArray
    loss: FloatArray


def fit(
    low: FloatArray,
    high: FloatArray,
    knot: IntArray,
    correlation: FloatArray,
    share: float,
    *,
    times: IntArray | None = None,
    rounds: int = 10,
    enough: float = 3e-3,
) -> Fit:
    """Expectation propagation, all counts at once, damped; for m pairs (mu, kappa) together.

    `low`, `high` (m, n): each count's interval of z. `knot` (n,): where it stands. `correlation` (b, b) between knots.
    `times` (n,): how often that count was made there, once if not given.
    Stops after `rounds`, or when no precision moves by more than `enough` (relative to 1 + itself).
    """
    m, n = low.shape
    often = np.ones(n) if times is None else times.astype(np.float64)
    gather = np.zeros((n, len(correlation)))
    gather[np.arange(n), knot] = often
    rate_i, precision_i = np.zeros((m, n)), np.zeros((m, n))
    change = np.inf
    for turn in range(rounds):
        rate, precision = rate_i @ gather, np.maximum(precision_i @ gather, _LEAST)
        pull, loss, mean, variance, log_det = _solve(rate, precision, correlation)
        # Each count's own pull is taken out again before it is asked anew.
        v = 1 / np.maximum(1 / variance[:, knot] - precision_i, 1e-9)
        u = v * (mean[:, knot] / variance[:, knot] - rate_i)
        total = share * v + 1 - share
        log_mass, shift, spread = truncated(
            (low - np.sqrt(share) * u) / np.sqrt(total), (high - np.sqrt(share) * u) / np.sqrt(total)
        )
        if change < enough or turn == rounds - 1:
            break
        new_mean = u + np.sqrt(share / total) * v * shift
        new_variance = np.maximum(v - share * v**2 / total * (1 - spread), 1e-9)
        step = np.maximum(1 / new_variance - 1 / v, 0) - precision_i
        damp = 1.0 if turn == 0 else _DAMP
        change = float(np.max(np.abs(step) / (1 + precision_i)))
        precision_i = precision_i + damp * step
        rate_i = rate_i + damp * (new_mean / new_variance - u / v - rate_i)
    # exp(rate·s - precision·s²/2) stands for the count, scaled so that its mean over u, v is the count's own chance.
    own = -0.5 * np.log1p(precision_i * v) + 0.5 * ((u / v + rate_i) ** 2 / (1 / v + precision_i) - u**2 / v)
    log_evidence = (log_mass - own) @ often - 0.5 * log_det + 0.5 * np.einsum("mi,mi->m", rate, mean)
    return Fit(log_evidence, rate, precision, pull, loss)


def _solve(rate: FloatArray, precision: FloatArray, correlation: FloatArray) -> tuple[FloatArray, ...]:
    """Pull, loss, mean and variance of s at the knots, and log |I + P^1/2 K P^1/2|."""
    root = np.sqrt(precision)
    scaled = np.eye(len(correlation)) + root[:, :, None] * correlation * root[:, None, :]
    inverse, log_det = _inverse(scaled)
    loss = root[:, :, None] * inverse * root[:, None, :]
    pull = rate - np.matmul(loss, (rate @ correlation)[:, :, None])[:, :, 0]
    # The posterior variance is (I - inverse) between the roots of the precisions: no product of matrices is needed.
    variance = np.clip((1 - np.diagonal(inverse, axis1=1, axis2=2)) / precision, 1e-9, 1.0)
    return pull, loss, pull @ correlation, variance, log_det


def _inverse(scaled: FloatArray) -> tuple[FloatArray, FloatArray]:
    if scaled.shape[1] < _SMALL:
        return np.asarray(np.linalg.inv(scaled)), np.asarray(np.linalg.slogdet(scaled)[1])
    inverse, log_det = np.empty_like(scaled), np.empty(len(scaled))
    for i, matrix in enumerate(scaled):
        root, _ = dpotrf(matrix, lower=1, clean=1)
        log_det[i] = 2 * np.log(np.diagonal(root)).sum()
        inverse[i] = dpotri(root, lower=1)[0]
    # LAPACK fills the lower triangle only; the root left zeros above the diagonal.
    diagonal = np.arange(scaled.shape[1])
    kept = inverse[:, diagonal, diagonal].copy()
    inverse += inverse.transpose(0, 2, 1)
    inverse[:, diagonal, diagonal] = kept
    return inverse, log_det
