"""How many stops, and when to stop counting: closed forms for over-dispersed counts."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tepal.tables import Refused

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Precision:
    """Counting until the mean is known well enough.

    stops: that it takes when a stop has `mean` plants on average. stop_at: running count, one for 1, 2, … stops, at
    which one may stop; None where no count is enough.
    """

    stops: int
    stop_at: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Lines:
    """Counting until it is clear on which side of a threshold the mean lies: two straight lines over the stops.

    Below `low` after n stops: fewer than the threshold. Above `high`: more. Between: count on. Each is
    intercept + slope · n.
    """

    slope: float
    low_intercept: float
    high_intercept: float

    def low(self, stops: float) -> float:
        return self.low_intercept + self.slope * stops

    def high(self, stops: float) -> float:
        return self.high_intercept + self.slope * stops


def fixed_precision(mean: float, k: float, relative_error: float, *, most: int = 100) -> Precision:
    """Stops for a standard error of `relative_error` of the mean, with variance m + m²/k.

    With n stops the error is √((1/m + 1/k) / n), so n = (1/m + 1/k) / D². One may stop when the running count T reaches
    T ≥ 1 / (D² - 1/(k n)): the same with m = T/n (Kuno 1969, Researches on Population Ecology 11: 127; recalled).

    Parameters
    ----------
    mean : plants a stop, > 0
    k : negative binomial aggregation; infinite for counts that scatter by chance alone
    relative_error : D, as 0.25 for a quarter
    """
    _positive(mean=mean, k=k, relative_error=relative_error)
    stops = math.ceil((1 / mean + 1 / k) / relative_error**2 - 1e-9)
    stop_at = []
    for n in range(1, most + 1):
        room = relative_error**2 - 1 / (k * n)
        stop_at.append(1 / room if room > 1e-12 else None)
    return Precision(stops, tuple(stop_at))


def threshold_lines(few: float, many: float, k: float, *, alpha: float = 0.1, beta: float = 0.1) -> Lines:
    """Wald's sequential test of a mean of `few` against `many` plants a stop, counts negative binomial with one k.

    A plant weighs ln(many (few + k) / few (many + k)), a stop k ln((few + k) / (many + k)); one stops when the sum
    leaves (ln β/(1-α), ln (1-β)/α) (Wald 1945, Annals of Mathematical Statistics 16: 117; recalled).

    Parameters
    ----------
    few, many : plants a stop on either side of the threshold, 0 < few < many
    k : as in `fixed_precision`; infinite gives the Poisson lines
    alpha, beta : chance of saying "many" where there are `few`, and of saying "few" where there are `many`
    """
    _positive(few=few, many=many, k=k)
    if not few < many:
        raise Refused(f"{few:g} is not fewer than {many:g}", where="stop-rule", rule="Few < many.", step="Swap them.")
    if not (0 < alpha < 0.5 and 0 < beta < 0.5):
        raise Refused(
            f"errors {alpha:g} and {beta:g}", where="stop-rule", rule="Each is above 0 and below 0.5.", step="Give 0.1."
        )
    if math.isinf(k):
        per_plant, per_stop = math.log(many / few), few - many
    else:
        per_plant = math.log(many * (few + k) / (few * (many + k)))
        per_stop = k * math.log((few + k) / (many + k))
    return Lines(
        slope=-per_stop / per_plant,
        low_intercept=math.log(beta / (1 - alpha)) / per_plant,
        high_intercept=math.log((1 - beta) / alpha) / per_plant,
    )


def aggregation(counts: npt.ArrayLike) -> float:
    """k of the negative binomial from earlier counts, by moments: m² / (s² - m); infinite where s² ≤ m."""
    x = np.asarray(counts, dtype=np.float64)
    if x.size < 2 or not np.isfinite(x).all() or (x < 0).any():
        raise Refused(
            "counts that make no k", where="stop-rule", rule="Two or more counts from 0 up.", step="Add them."
        )
    mean, variance = float(x.mean()), float(x.var(ddof=1))
    return mean**2 / (variance - mean) if variance > mean else math.inf


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not value > 0 or (math.isinf(value) and name != "k"):
            raise Refused(
                f"{name.replace('_', ' ')} {value:g}", where="stop-rule", rule="It is above 0.", step="Correct it."
            )
