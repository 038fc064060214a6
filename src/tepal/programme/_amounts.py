"""A value as a programme gives it: a number known exactly, or the 10 and 90 % points of one that is not."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from tepal.doubt import log_normal_from_range, logit_normal_from_range

FloatArray = npt.NDArray[np.float64]
Kind = Literal["share", "positive"]
# Of a value that "could be none" one knows the order of magnitude at best: its range is read as from a hundredth of
# its high end, and whatever falls below that, a tenth of the weight, is none at all (judgement).
_HUNDREDTH = 0.01
_Z10 = -1.2815515655446004


@dataclass(frozen=True, slots=True)
class Amount:
    """`low` to `high` is an 80 % interval; both alike: known exactly.

    Between them a share is logit-normal, another number log-normal. A low of 0 is "could be none": a tenth of the
    weight lies at 0. A share's high of 1 is the mirror of that; a share from 0 to 1 is anything alike.
    """

    low: float
    high: float
    kind: Kind

    @property
    def known(self) -> bool:
        return self.low == self.high

    def draws(self, rng: np.random.Generator, n: int) -> FloatArray:
        """Values, shape = (n,); n numbers are taken from the generator, known or not."""
        return self.at(rng.standard_normal(n))

    def at(self, normal: FloatArray) -> FloatArray:
        """Values for standard normal numbers, any shape: rising with them, so that programmes can share their luck."""
        if self.known:
            return np.full(np.shape(normal), self.low)
        if self.kind == "positive":
            return _cut(self._positive(normal), normal) if self.low == 0 else self._positive(normal)
        if self.low == 0 and self.high == 1:
            return np.asarray([0.5 * math.erfc(-z / math.sqrt(2)) for z in np.ravel(normal)]).reshape(np.shape(normal))
        if self.high == 1:
            return 1 - Amount(0.0, 1 - self.low, "share").at(-np.asarray(normal))
        return _cut(self._share(normal), normal) if self.low == 0 else self._share(normal)

    def _positive(self, normal: FloatArray) -> FloatArray:
        spread = log_normal_from_range(self.low or self.high * _HUNDREDTH, self.high)
        return np.asarray(spread.median * np.exp(spread.sigma * normal))

    def _share(self, normal: FloatArray) -> FloatArray:
        spread = logit_normal_from_range(self.low or self.high * _HUNDREDTH, self.high)
        return np.asarray(1 / (1 + (1 / spread.median - 1) * np.exp(-spread.sigma * normal)))


def _cut(values: FloatArray, normal: FloatArray) -> FloatArray:
    return np.where(normal < _Z10, 0.0, values)
