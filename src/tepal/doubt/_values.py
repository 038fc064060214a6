"""Uncertain numbers. Each gives draws; none gives a quantile that another step could misuse."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
# Standard normal point of 90 %: a published low and high are read as an 80 % interval unless said otherwise.
Z90 = 1.2815515655446004


@runtime_checkable
class Drawable(Protocol):
    """Anything uncertain: `draws(rng, n)` gives n values, shape = (n,)."""

    def draws(self, rng: np.random.Generator, n: int) -> FloatArray: ...


@dataclass(frozen=True, slots=True)
class Fixed:
    """A number taken as known."""

    value: float

    def draws(self, rng: np.random.Generator, n: int) -> FloatArray:  # noqa: ARG002 - the protocol's signature
        return np.full(n, self.value)


@dataclass(frozen=True, slots=True)
class LogNormal:
    """A positive number: median and standard deviation of its natural logarithm."""

    median: float
    sigma: float

    def __post_init__(self) -> None:
        if not (self.median > 0 and self.sigma >= 0):
            raise ValueError(f"log-normal needs median > 0 and sigma >= 0, got {self.median}, {self.sigma}")

    def draws(self, rng: np.random.Generator, n: int) -> FloatArray:
        return self.median * np.exp(self.sigma * rng.standard_normal(n))


@dataclass(frozen=True, slots=True)
class LogitNormal:
    """A share in (0, 1): median and standard deviation of its logit."""

    median: float
    sigma: float

    def __post_init__(self) -> None:
        if not (0 < self.median < 1 and self.sigma >= 0):
            raise ValueError(f"logit-normal needs 0 < median < 1 and sigma >= 0, got {self.median}, {self.sigma}")

    def draws(self, rng: np.random.Generator, n: int) -> FloatArray:
        logit = math.log(self.median / (1 - self.median)) + self.sigma * rng.standard_normal(n)
        return np.asarray(1 / (1 + np.exp(-logit)))


@dataclass(frozen=True, slots=True)
class TruncatedNormal:
    """A normal number cut at `low` and `high`, by drawing again."""

    mean: float
    sd: float
    low: float = -math.inf
    high: float = math.inf

    def __post_init__(self) -> None:
        if not (self.sd >= 0 and self.low <= self.mean <= self.high):
            raise ValueError(f"truncated normal needs sd >= 0 and low <= mean <= high, got {self}")

    def draws(self, rng: np.random.Generator, n: int) -> FloatArray:
        values = self.mean + self.sd * rng.standard_normal(n)
        # The mean lies inside, so at least about half of each round is kept on the narrower side.
        while True:
            outside = (values < self.low) | (values > self.high)
            if not outside.any():
                return values
            values[outside] = self.mean + self.sd * rng.standard_normal(int(outside.sum()))


@dataclass(frozen=True, eq=False)
class Samples:
    """Draws already made, read-only; drawing picks from them at random with replacement."""

    values: FloatArray

    def __post_init__(self) -> None:
        values = np.array(self.values, dtype=np.float64)
        if values.ndim != 1 or values.size == 0:
            raise ValueError(f"samples need shape (n,) with n > 0, got {values.shape}")
        values.setflags(write=False)
        object.__setattr__(self, "values", values)

    def draws(self, rng: np.random.Generator, n: int) -> FloatArray:
        return self.values[rng.integers(0, self.values.size, n)]


def log_normal_from_range(low: float, high: float, *, widen: float = 1.0) -> LogNormal:
    """The log-normal whose 10 and 90 % points are `low` and `high`; `widen` multiplies the spread (for judgement)."""
    if not 0 < low <= high:
        raise ValueError(f"a positive range needs 0 < low <= high, got {low}, {high}")
    sigma = math.log(high / low) / (2 * Z90)
    return LogNormal(math.sqrt(low * high), widen * sigma)


def logit_normal_from_range(low: float, high: float, *, widen: float = 1.0) -> LogitNormal:
    """The logit-normal share whose 10 and 90 % points are `low` and `high`."""
    if not 0 < low <= high < 1:
        raise ValueError(f"a range of shares needs 0 < low <= high < 1, got {low}, {high}")
    a, b = (math.log(p / (1 - p)) for p in (low, high))
    return LogitNormal(1 / (1 + math.exp(-(a + b) / 2)), widen * (b - a) / (2 * Z90))
