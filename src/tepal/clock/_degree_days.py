"""Degree days from a day's lowest and highest temperature."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


def degree_days(tmin_c: FloatArray, tmax_c: FloatArray, *, lower_c: float, upper_c: float = math.inf) -> FloatArray:
    """Degree days above `lower_c`, none counted above `upper_c` (shape = that of the temperatures, degC-day).

    Single sine (Baskerville & Emin 1969, Ecology 50:514-517): the day is one sine of mean m = (tmax + tmin)/2 and
    amplitude a = (tmax - tmin)/2. Its area above a threshold k is

        m - k                                            where k <= tmin
        ((m - k)(pi/2 - s) + a cos s)/pi, sin s = (k - m)/a   where tmin < k < tmax
        0                                                where k >= tmax

    and with a horizontal cut-off the day counts area(lower) - area(upper): development goes on at its greatest speed
    above the upper threshold, no faster.
    """
    if not lower_c < upper_c:
        raise ValueError(f"the lower threshold must be below the upper one, got {lower_c} and {upper_c}")
    above = _area_above(tmin_c, tmax_c, lower_c)
    return above - _area_above(tmin_c, tmax_c, upper_c) if math.isfinite(upper_c) else above


def _area_above(tmin_c: FloatArray, tmax_c: FloatArray, threshold_c: float) -> FloatArray:
    low, high = np.asarray(tmin_c, dtype=np.float64), np.asarray(tmax_c, dtype=np.float64)
    mean, amplitude = (low + high) / 2, (high - low) / 2
    # A day of one temperature has no sine; any amplitude will do, because it then lies wholly on one side.
    sine = np.clip((threshold_c - mean) / np.maximum(amplitude, 1e-9), -1.0, 1.0)
    angle = np.arcsin(sine)
    between = ((mean - threshold_c) * (np.pi / 2 - angle) + amplitude * np.cos(angle)) / np.pi
    return np.asarray(np.where(threshold_c <= low, mean - threshold_c, np.where(threshold_c >= high, 0.0, between)))
