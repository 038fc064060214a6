"""The count model without places: negative binomial counts with area as exposure, both parameters uncertain.

A count on area a is negative binomial with mean mu·a and size k(a): the Poisson count of a gamma-distributed local
density. Half of the variation is taken to be coarse (the same all over a counted plot), half fine (patches of
about FINE_M2), which averages out on larger plots:
1/k(a) = (1/kappa)·(1/2 + 1/2·(FINE_M2 + a0)/(FINE_M2 + a)), a0 the median area counted. All of this is judgement.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import betainc, gammaln, log_ndtr, ndtr, ndtri

from tepal.stand._counts import Counts

FloatArray = npt.NDArray[np.float64]

# Area of the fine patches, and the share of variation that they carry: judgement.
FINE_M2 = 10.0
FINE_SHARE = 0.5
# Prior of mu: Jeffreys' for a negative binomial mean, falling off beyond SCALE plants/m2: judgement.
SCALE = 10.0
FALL = 2.0
# Prior of log kappa: normal. From nearly even (7) to a few dense patches (0.13) within two standard deviations.
KAPPA_MEDIAN = 1.0
KAPPA_SIGMA = 1.0
_LOG_KAPPA = np.linspace(math.log(0.003), math.log(200.0), 57)


def size_of(kappa: FloatArray, area_m2: FloatArray, reference_m2: float) -> FloatArray:
    """Size k(a) of the negative binomial on plots of `area_m2`; broadcasts."""
    fine = (FINE_M2 + reference_m2) / (FINE_M2 + area_m2)
    return np.asarray(kappa / (1 - FINE_SHARE + FINE_SHARE * fine))


def log_pmf(count: FloatArray, mean: FloatArray, size: FloatArray) -> FloatArray:
    """Log chance of a negative binomial count; broadcasts."""
    # log1p keeps the Poisson limit: size·log(size/(size+mean)) cancels badly where size is large.
    return np.asarray(
        gammaln(count + size)
        - gammaln(size)
        - gammaln(count + 1)
        - (size + count) * np.log1p(mean / size)
        + count * (np.log(mean) - np.log(size))
    )


def normal_bounds(count: FloatArray, mean: FloatArray, size: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The interval of a standard normal that stands for each count: F(count-1) to F(count) on the normal scale."""
    low = np.where(count > 0, normal_point(np.maximum(count - 1, 0), mean, size), -np.inf)
    high = normal_point(count, mean, size)
    return low, np.maximum(high, low + 1e-9)


def normal_point(count: FloatArray, mean: FloatArray, size: FloatArray) -> FloatArray:
    """Standard normal point of P(count or fewer), from whichever tail is the smaller; within +-37."""
    below = betainc(size, count + 1, size / (size + mean))
    above = betainc(count + 1, size, mean / (size + mean))
    with np.errstate(divide="ignore"):
        point = np.where(below < above, ndtri(below), -ndtri(above))
    return np.clip(point, -37.0, 37.0)


@dataclass(frozen=True, slots=True, eq=False)
class Margin:
    """Posterior of (log mu, log kappa) on a grid, places ignored. `log_post` has shape = (n_mu, n_kappa)."""

    log_mu: FloatArray
    log_kappa: FloatArray
    log_post: FloatArray
    reference_m2: float

    @classmethod
    def of(cls, counts: Counts) -> Margin:
        reference = float(np.median(counts.area_m2))
        # Equal plots with equal counts are one term: three thousand quadrats are often fifty.
        rows, times = np.unique(np.column_stack([counts.area_m2, counts.count]), axis=0, return_counts=True)
        centre = math.log((counts.count.sum() + 0.5) / counts.area_m2.sum())
        # First wide, then once more where there is mass: a hundred quadrats need a finer grid than one.
        log_mu = centre + np.linspace(-14, 14, 113)
        for _ in range(2):
            log_post = _log_posterior(log_mu, rows[:, 0], rows[:, 1], times, reference)
            mass = log_post.max(axis=1) > log_post.max() - 16
            low, high = np.flatnonzero(mass)[[0, -1]]
            step = log_mu[1] - log_mu[0]
            log_mu = np.linspace(log_mu[low] - step, log_mu[high] + step, 121)
        log_post = _log_posterior(log_mu, rows[:, 0], rows[:, 1], times, reference)
        return cls(log_mu, _LOG_KAPPA, log_post, reference)

    def draw(self, rng: np.random.Generator, n: int) -> tuple[FloatArray, FloatArray]:
        """n draws of (mu, kappa), spread evenly over the posterior, in order of mu."""
        p = np.exp(self.log_post - self.log_post.max()).ravel()
        # Systematic draws along kappa within mu: even cover with few draws.
        at = (rng.random() + np.arange(n)) / n
        cell = np.minimum(np.searchsorted(np.cumsum(p / p.sum()), at), p.size - 1)
        i, j = np.unravel_index(cell, self.log_post.shape)
        jitter = rng.random((2, n)) - 0.5
        log_mu = self.log_mu[i] + jitter[0] * (self.log_mu[1] - self.log_mu[0])
        log_kappa = self.log_kappa[j] + jitter[1] * (self.log_kappa[1] - self.log_kappa[0])
        return np.exp(log_mu), np.exp(log_kappa)

    def nodes(self, n_kappa: int, n_mu: int) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Gauss-Hermite nodes of kappa (j,), of mu given kappa (j, i), and their weights (j, i), adding to 1.

        Each is brought to a normal scale by its own distribution function: exact for what is a polynomial there.
        """
        at_kappa, weight_kappa = np.polynomial.hermite_e.hermegauss(n_kappa)
        at_mu, weight_mu = np.polynomial.hermite_e.hermegauss(n_mu)
        log_kappa = quantile(self.log_kappa, np.exp(self.log_post - self.log_post.max()).sum(axis=0), ndtr(at_kappa))
        log_mu = np.array([quantile(self.log_mu, self.mu_given(k), ndtr(at_mu)) for k in np.exp(log_kappa)])
        weight = np.outer(weight_kappa, weight_mu)
        return np.exp(log_kappa), np.exp(log_mu), weight / weight.sum()

    def mu_given(self, kappa: float) -> FloatArray:
        """Posterior of log mu on the grid `log_mu` given kappa, adding to 1."""
        position = np.interp(math.log(kappa), self.log_kappa, np.arange(self.log_kappa.size))
        j = min(int(position), self.log_kappa.size - 2)
        column = (j + 1 - position) * self.log_post[:, j] + (position - j) * self.log_post[:, j + 1]
        p = np.exp(column - column.max())
        return np.asarray(p / p.sum())


def quantile(at: FloatArray, mass: FloatArray, p: FloatArray) -> FloatArray:
    """Quantiles of masses on an even grid, each spread evenly over its own step."""
    step = at[1] - at[0]
    below = np.concatenate([[0.0], np.cumsum(mass)]) / mass.sum()
    edges = np.append(at - step / 2, at[-1] + step / 2)
    kept = np.concatenate([[True], np.diff(below) > 1e-12])
    return np.asarray(np.interp(p, below[kept], edges[kept]))


def _log_posterior(
    log_mu: FloatArray, area: FloatArray, count: FloatArray, times: npt.NDArray[np.int64], reference: float
) -> FloatArray:
    total = np.zeros((log_mu.size, _LOG_KAPPA.size))
    for j, log_kappa in enumerate(_LOG_KAPPA):
        size = size_of(np.exp(log_kappa), area, reference)
        mean = np.exp(log_mu)[:, None] * area
        total[:, j] = log_pmf(count, mean, size) @ times
    return total + log_prior(log_mu[:, None], _LOG_KAPPA, reference)


def log_prior(log_mu: FloatArray, log_kappa: FloatArray, reference_m2: float) -> FloatArray:
    """Log density of (log mu, log kappa), up to a constant; broadcasts."""
    mu = np.exp(log_mu)
    # Jeffreys' prior of a negative binomial mean, of log mu: one plot holds the less, the more the plots differ.
    of_mu = 0.5 * log_mu - 0.5 * np.log1p(mu * reference_m2 / np.exp(log_kappa)) - FALL * np.log1p(mu / SCALE)
    return np.asarray(of_mu - 0.5 * ((log_kappa - math.log(KAPPA_MEDIAN)) / KAPPA_SIGMA) ** 2)


def truncated(low: FloatArray, high: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Log mass, mean and variance of a standard normal between `low` and `high` (low < high; may be infinite)."""
    flip = low + high > 0
    a, b = np.where(flip, -high, low), np.where(flip, -low, high)
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        log_b, log_a = log_ndtr(b), log_ndtr(a)
        log_mass = log_b + np.log1p(-np.exp(log_a - log_b))
        pdf_a = np.where(np.isinf(a), 0.0, np.exp(-0.5 * a**2 - 0.9189385332046727 - log_mass))
        pdf_b = np.exp(-0.5 * b**2 - 0.9189385332046727 - log_mass)
        mean = pdf_a - pdf_b
        variance = 1 + np.where(np.isinf(a), 0.0, a * pdf_a) - b * pdf_b - mean**2
    # Differences of nearly equal numbers: a short interval is a short piece of a parabola.
    width, middle = b - a, 0.5 * (a + b)
    short = (width < 1e-2) & (width * np.abs(middle) < 1e-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        log_short = -0.5 * middle**2 - 0.9189385332046727 + np.log(width) + (middle**2 - 1) * width**2 / 24
        log_mass = np.where(short, log_short, log_mass)
        mean = np.where(short, middle * (1 - width**2 / 12), mean)
        variance = np.where(short, width**2 / 12, np.clip(variance, 1e-12, 1.0))
    return log_mass, np.where(flip, -mean, mean), variance
