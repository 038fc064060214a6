"""How alike two places are: correlations of the hidden field, and the shapes that are averaged over."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

# Prior chance of no field, and the shares of variation that a field may carry.
NO_FIELD = 0.2
SHARES = (0.4, 0.9)
# Of what is left, covariates that were given get this much: a guess of whoever names them, no knowledge yet.
BY_COVARIATE = 0.3
# Reach of likeness along a covariate, in its standard deviations: a bend, or a straight slope.
COVARIATE_REACHES = (0.7, 2.0)
_HALVES = 0.1


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
        """Correlation between places of shape = (n, 2 or more) and (m, 2 or more): shape = (n, m)."""
        x = np.abs(np.subtract.outer(first[:, 0], second[:, 0])) / self.reach_x_m
        y = np.abs(np.subtract.outer(first[:, 1], second[:, 1])) / self.reach_y_m
        if self.kind == "strips":
            return np.asarray(0.5 * (_matern(x) + _matern(y)))
        # Roots of squares: `hypot` guards against overflow that metres cannot reach, at eight times the time.
        return np.asarray(np.exp(-np.sqrt(x * x + y * y)))


@dataclass(frozen=True, slots=True)
class Along:
    """Correlation (1 + t)·exp(-t), t = sqrt(3)·d, d the difference of one covariate in reaches: alike where it is."""

    column: int
    reach: float

    def __call__(self, first: FloatArray, second: FloatArray) -> FloatArray:
        """Correlation between places (n, 2 + covariates) and (m, 2 + covariates): shape = (n, m)."""
        apart = np.abs(np.subtract.outer(first[:, self.column], second[:, self.column]))
        return _matern(apart / self.reach)


@dataclass(frozen=True, slots=True)
class Mean:
    """The mean of several correlations: several causes of one weight."""

    parts: tuple[Kernel | Along, ...]

    def __call__(self, first: FloatArray, second: FloatArray) -> FloatArray:
        return np.asarray(sum(part(first, second) for part in self.parts) / len(self.parts))


Correlation = Kernel | Along | Mean


def columns_of(kernel: Correlation | None) -> frozenset[int]:
    """Columns of covariates on which a correlation stands."""
    parts = kernel.parts if isinstance(kernel, Mean) else (kernel,)
    return frozenset(part.column for part in parts if isinstance(part, Along))


def _matern(t: FloatArray) -> FloatArray:
    t = 1.7320508075688772 * t
    return np.asarray((1 + t) * np.exp(-t))


@dataclass(frozen=True, slots=True)
class Shape:
    """Share of variation that the field carries, its correlation (None: no field), log prior."""

    share: float
    kernel: Correlation | None
    log_prior: float


def shapes_for(extent_m: float, covariates: int = 0) -> tuple[Shape, ...]:
    """No field at all, or one of thirty: alike in all directions, four times as long one way, or in strips.

    Reaches run from a 25th of the extent to more than half of it (strips: to all of it). Judgement, kept where real
    counts that were asked about in `bench/stand_peers.py` bore it out. With `covariates` (columns 2, 3, … of the
    places, in standard deviations), also fields that are alike where one of them is, or all, alone or beside a rough
    field.
    """
    kernels = _of_places(extent_m)
    given = _of_covariates(extent_m, covariates)
    left = 1 - NO_FIELD
    shares = ((kernels, left * (1 - BY_COVARIATE if given else 1)), (given, left * BY_COVARIATE))
    fields = [
        Shape(share, kernel, float(np.log(mass * weight / sum(group.values()) / len(SHARES))))
        for group, mass in shares
        for kernel, weight in group.items()
        for share in SHARES
    ]
    return (Shape(0.0, None, float(np.log(NO_FIELD))), *fields)


def _of_places(extent_m: float) -> dict[Correlation, float]:
    kernels: dict[Correlation, float] = {}
    for reach in (0.04 * extent_m, 0.1 * extent_m, 0.25 * extent_m, 0.6 * extent_m):
        kernels[Kernel("rough", reach, reach)] = 1.0
        kernels[Kernel("rough", 2 * reach, reach / 2)] = 0.5
        kernels[Kernel("rough", reach / 2, 2 * reach)] = 0.5
    for reach in (0.1 * extent_m, 0.3 * extent_m, extent_m):
        kernels[Kernel("strips", reach, reach)] = 1.0
    return kernels


def _of_covariates(extent_m: float, covariates: int) -> dict[Correlation, float]:
    kernels: dict[Correlation, float] = {}
    rough = Kernel("rough", _HALVES * extent_m, _HALVES * extent_m)
    for reach in COVARIATE_REACHES:
        each = [Along(2 + k, reach) for k in range(covariates)]
        for one in each:
            kernels[one] = 1.0
            kernels[Mean((one, rough))] = 1.0
        if covariates > 1:
            kernels[Mean(tuple(each))] = 1.0
            kernels[Mean((*each, rough))] = 1.0
    return kernels
