"""Letting sightings choose among members: adaptive importance sampling in the space of standard normal numbers."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from tepal.clock._traits import DIMENSIONS, spread_evenly

FloatArray = npt.NDArray[np.float64]

_ROUNDS = 8
# Sightings that are possible reach power 1 in two to five rounds, and fast near the end. A power that is still low
# after three rounds and no longer rises by a sixth stays there: more rounds would only take time.
_STUCK_AFTER, _STUCK_BELOW, _RISES = 3, 0.5, 7 / 6
# The prior's part in every proposal: no possible field is left out, and weights stay bounded.
_PRIOR_PART = 0.15
_WANTED = 0.12


def choose(
    log_likelihood: Callable[[FloatArray], FloatArray], *, count: int, tried: int, rng: np.random.Generator
) -> tuple[FloatArray, float]:
    """`count` draws of z (count, DIMENSIONS) from prior times likelihood; and the power of the likelihood in use.

    `log_likelihood` takes z (tried, DIMENSIONS) and gives (tried,). Rounds start from the standard normal prior. Each
    raises the likelihood to the greatest power that leaves 12 % effective draws, and proposes the next round from the
    normal distribution fitted to them, mixed with the prior. When power 1 is reached, draws are picked in proportion to
    their weights. A power below 1 after the last round means that the sightings are hardly possible in the model: the
    draws nearest to them are taken, and the doubt stays wider.
    """
    z = spread_evenly(rng, tried)
    log_offer = _log_prior(z)
    power = 0.0
    for round_ in range(_ROUNDS):
        found = log_likelihood(z)
        ready = _log_prior(z) - log_offer
        before, power = power, _power(ready, found)
        weight = _weights(ready + power * found)
        stuck = round_ >= _STUCK_AFTER and power < min(_STUCK_BELOW, _RISES * before)
        if power == 1.0 or stuck or round_ == _ROUNDS - 1:
            break
        mean = weight @ z
        centred = z - mean
        # einsum, not a matrix product: that wakes a thread on every core for a matrix of twenty columns.
        covariance = 1.3 * np.einsum("i,ij,ik->jk", weight, centred, centred) + 0.03 * np.eye(DIMENSIONS)
        z, log_offer = _offer(mean, covariance, tried, rng)
    picked = np.searchsorted(np.cumsum(weight), (np.arange(count) + rng.random()) / count)
    return z[rng.permutation(np.minimum(picked, tried - 1))], power


def _offer(
    mean: FloatArray, covariance: FloatArray, tried: int, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    root = np.linalg.cholesky(covariance)
    z = spread_evenly(rng, tried)
    near = np.arange(tried) >= _PRIOR_PART * tried
    z[near] = mean + np.einsum("ij,kj->ik", z[near], root)
    standard = np.einsum("ij,kj->ik", z - mean, np.linalg.inv(root))
    log_near = -0.5 * (standard**2).sum(axis=1) - np.log(np.diag(root)).sum()
    return z, np.logaddexp(np.log(_PRIOR_PART) + _log_prior(z), np.log(1 - _PRIOR_PART) + log_near)


def _log_prior(z: FloatArray) -> FloatArray:
    return np.asarray(-0.5 * (z**2).sum(axis=1))


def _power(ready: FloatArray, found: FloatArray) -> float:
    """The greatest power in (0, 1] that keeps the effective share of draws at _WANTED, by halving the interval."""
    if _effective(ready + found) >= _WANTED:
        return 1.0
    low, high = 0.0, 1.0
    for _ in range(25):
        middle = (low + high) / 2
        low, high = (middle, high) if _effective(ready + middle * found) >= _WANTED else (low, middle)
    return low


def _weights(log_weight: FloatArray) -> FloatArray:
    weight = np.exp(log_weight - log_weight.max())
    # Numbers too small to be stored in full make every product with them slow, and count for nothing.
    weight[weight < 1e-15] = 0.0
    return np.asarray(weight / weight.sum())


def _effective(log_weight: FloatArray) -> float:
    weight = _weights(log_weight)
    return float(1 / (weight.size * (weight**2).sum()))
