"""Parameters: numbers that models draw from, each with its declared kind of distribution."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

from tepal.doubt import (
    Basis,
    Drawable,
    LogitNormal,
    LogNormal,
    TruncatedNormal,
    log_normal_from_range,
    logit_normal_from_range,
)

ParameterKind = Literal["log_normal", "logit_normal", "normal"]
PARAMETER_KINDS: tuple[ParameterKind, ...] = get_args(ParameterKind)

_Z90 = 1.2815515655446004
# What a number says of its doubt is itself doubted more the weaker its basis. Judgement of the house: a range set by
# judgement is taken as the middle half rather than the middle 80 %, so it is spread by 1.28 / 0.67, about 1.9, and a
# review's or fact sheet's range sits between.
WIDEN: dict[Basis, float] = {
    "measured": 1.0,
    "flora_range": 1.25,
    "fact_sheet": 1.25,
    "review": 1.25,
    "judgement": 1.9,
}
# The sd, on the scale of the kind (of the logarithm, of the logit, or relative to the mean), of a number that came
# with no spread at all. Judgement of the house; already wide, so not widened again.
BARE_SPREAD: dict[Basis, float] = {
    "measured": 0.3,
    "flora_range": 0.4,
    "fact_sheet": 0.4,
    "review": 0.4,
    "judgement": 0.7,
}


@dataclass(frozen=True, slots=True)
class Declared:
    """What a parameter is: unit, kind of distribution, hard bounds (None: none), meaning."""

    name: str
    unit: str
    kind: ParameterKind
    least: float | None
    most: float | None
    meaning: str


@dataclass(frozen=True, slots=True)
class Parameter:
    """One number for a model: `code` may be `*` (all taxa); `low` to `high` are its 10 and 90 % points.

    `mean` is the central value: the median of a log-normal or logit-normal when a range is given.
    """

    name: str
    code: str
    condition: str
    mean: float | None
    sd: float | None
    low: float | None
    high: float | None
    unit: str
    kind: ParameterKind
    least: float | None
    most: float | None
    basis: Basis
    sources: tuple[str, ...]
    recalled: tuple[str, ...]
    note: str
    file: str
    line: int

    def value(self) -> Drawable:
        """The uncertain value: log-normal, logit-normal or truncated normal by its kind, widened by its basis."""
        widen = WIDEN[self.basis]
        if self.kind == "log_normal":
            return self._log_normal(widen)
        if self.kind == "logit_normal":
            return self._logit_normal(widen)
        return self._normal(widen)

    def _log_normal(self, widen: float) -> Drawable:
        if self.low is not None and self.high is not None:
            drawn = log_normal_from_range(self.low, self.high, widen=widen)
            return drawn if self.mean is None else LogNormal(self.mean, drawn.sigma)
        mean = self._central()
        if self.sd is not None:
            # The log-normal with this mean and sd: sigma^2 = ln(1 + (sd/mean)^2).
            sigma = math.sqrt(math.log1p((self.sd / mean) ** 2))
            return LogNormal(mean / math.exp(sigma**2 / 2), widen * sigma)
        return LogNormal(mean, BARE_SPREAD[self.basis])

    def _logit_normal(self, widen: float) -> Drawable:
        if self.low is not None and self.high is not None:
            drawn = logit_normal_from_range(self.low, self.high, widen=widen)
            return drawn if self.mean is None else LogitNormal(self.mean, drawn.sigma)
        mean = self._central()
        if self.sd is not None:
            # First-order: d logit(p) = dp / (p (1 - p)).
            return LogitNormal(mean, widen * self.sd / (mean * (1 - mean)))
        return LogitNormal(mean, BARE_SPREAD[self.basis])

    def _normal(self, widen: float) -> Drawable:
        least = -math.inf if self.least is None else self.least
        most = math.inf if self.most is None else self.most
        if self.low is not None and self.high is not None:
            middle = (self.low + self.high) / 2 if self.mean is None else self.mean
            return TruncatedNormal(middle, widen * (self.high - self.low) / (2 * _Z90), least, most)
        mean = self._central()
        if self.sd is not None:
            return TruncatedNormal(mean, widen * self.sd, least, most)
        return TruncatedNormal(mean, BARE_SPREAD[self.basis] * abs(mean), least, most)

    def _central(self) -> float:
        if self.mean is None:
            raise ValueError(f"{self.name} of {self.code} has neither a mean nor a range; loading refuses such rows")
        return self.mean
