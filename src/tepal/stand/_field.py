"""A hidden normal field that ties counts of one neighbourhood together, its strength and reach averaged over.

Each count is the value of its own negative binomial margin at a standard normal z (a Gaussian copula):
z_i = sqrt(share)·s(place) + sqrt(1 - share)·e_i, s a stationary field (`_kernel`), e_i on its
own. So a count's margin never depends on the field, and far from all counts a prediction is the plain count model.
Given (mu, kappa, share, reach), s is found by expectation propagation (each count an interval of z).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.linalg.lapack import dpotrf, dpotri

from tepal.stand._margin import truncated

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# The field is carried at no more places than this; more counts share places (far below the reach of the field).
MOST_KNOTS = 200
_DAMP = 0.8
# A knot whose counts say nothing keeps this much precision, so that dividing by it stays exact to 1e-8.
_LEAST = 1e-8
# From this size on, a symmetric inverse one by one beats the general one in a batch.
_SMALL = 24


def knots_of(places: FloatArray) -> tuple[FloatArray, IntArray]:
    """Places where the field is carried, and the knot of each count, shape = (n,).

    `places` (n, 2) or, with covariates, (n, more): knots have as many columns, those of shared knots are means.
    """
    knots, index = np.unique(places, axis=0, return_inverse=True)
    index = index.reshape(-1)
    side = int(np.sqrt(MOST_KNOTS))
    while len(knots) > MOST_KNOTS:
        low, high = places[:, :2].min(axis=0), places[:, :2].max(axis=0)
        # One step for both directions, so that a long strip gets its knots along the strip.
        step = float((high - low).max()) / side
        box = np.floor((places[:, :2] - low) / step).astype(np.int64)
        _, index = np.unique(box, axis=0, return_inverse=True)
        index = index.reshape(-1)
        times = np.bincount(index)
        knots = np.column_stack([np.bincount(index, column) / times for column in places.T])
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
