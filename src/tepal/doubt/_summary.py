"""Draws to the few numbers that are shown, always the last step."""

from __future__ import annotations

import math
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

PROBABILITIES = (0.05, 0.5, 0.95)


def summary(draws: FloatArray) -> dict[str, float]:
    """Mean and 5, 50 and 95 % points of draws (shape = (n,)), in the unit of the draws.

    Raises
    ------
    ValueError
        If there are no draws or one of them is not finite.
    """
    values = np.asarray(draws, dtype=np.float64)
    if values.size == 0 or not np.all(np.isfinite(values)):
        raise ValueError("a summary needs at least one draw, all finite")
    points = np.quantile(values, PROBABILITIES)
    return {"mean": float(values.mean())} | {
        f"q{round(100 * p):02d}": float(q) for p, q in zip(PROBABILITIES, points, strict=True)
    }


def share_of_never(days: FloatArray) -> float:
    """The share of futures in which the event does not happen (NaN)."""
    return float(np.mean(np.isnan(days)))


def day_quantile(days: FloatArray, probability: float, start: date) -> date | None:
    """The day by which the event has happened in a share `probability` of all futures, else None.

    `days` (shape = (n,)) counts days after `start`; NaN means that it never happens. Futures without the event count
    as later than every date, so that a rare event has an early quantile or none, never a falsely late one.
    """
    values = np.sort(np.where(np.isnan(days), np.inf, days))
    # The smallest day whose cumulative share reaches the probability: an order statistic, so that a date is one that
    # really occurs in a future and "inf" never mixes into an interpolation.
    index = min(max(math.ceil(probability * values.size) - 1, 0), values.size - 1)
    day = float(values[index])
    return start + timedelta(days=math.floor(day)) if math.isfinite(day) else None
