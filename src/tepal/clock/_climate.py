"""A made-up climate for a latitude, for places without a station. Rough on purpose, and wide."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

# All of this is judgement, set by eye to monthly normals of the central and eastern United States between 30 and 48
# degrees north. It knows no height above the sea, no coast and no mountain: hence the wide spread of places.
_MEAN_AT_30_C, _MEAN_PER_DEGREE_C = 20.9, -0.90
_SWING_AT_30_C, _SWING_PER_DEGREE_C = 8.0, 0.55
_WARMEST_DAY = 200
_HALF_DAILY_RANGE_C = 6.2
_SD_PLACE_C = 2.0
_SD_YEAR_C = 1.0
_SD_MONTHS_C, _MONTHS_MEMORY = 1.6, 0.97
_SD_DAY_C, _DAY_MEMORY = 3.6, 0.65
_P_WET_AFTER_DRY, _P_WET_AFTER_WET, _RAIN_MM = 0.25, 0.42, 8.5


def made_up_years(
    lat: float, days: int, count: int, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """`count` years of `days` days at a latitude: lowest and highest temperature (degC) and rain (mm), (count, days).

    A yearly sine whose mean falls and whose swing grows with latitude, plus the doubt of the place itself (sd 2 degC),
    the year (1), weeks (1.6) and days (3.6); wet days in runs, 8.5 mm each on average.
    """
    season = usual_c(lat, np.arange(days))
    shift = _SD_PLACE_C * rng.standard_normal(count) + _SD_YEAR_C * rng.standard_normal(count)
    daily = (
        season
        + shift[:, None]
        + _remembering(_SD_MONTHS_C, _MONTHS_MEMORY, count, days, rng)
        + _remembering(_SD_DAY_C, _DAY_MEMORY, count, days, rng)
    )
    half = _HALF_DAILY_RANGE_C * np.exp(0.25 * rng.standard_normal((count, days)))
    wet = _wet_days(count, days, rng)
    rain = np.where(wet, rng.gamma(0.75, _RAIN_MM / 0.75, (count, days)), 0.0)
    return daily - half, daily + half, rain


def usual_c(lat: float, days: npt.NDArray[np.int64]) -> FloatArray:
    """The mean temperature (degC) that the latitude usually has so many days after 1 January."""
    north = lat - 30
    mean = min(_MEAN_AT_30_C + _MEAN_PER_DEGREE_C * north, 27.0)
    swing = max(_SWING_AT_30_C + _SWING_PER_DEGREE_C * north, 2.0)
    return np.asarray(mean + swing * np.cos(2 * np.pi * (days - _WARMEST_DAY) / 365.25))


def _remembering(sd: float, memory: float, count: int, days: int, rng: np.random.Generator) -> FloatArray:
    """A first-order autoregressive series with standard deviation `sd`, shape = (count, days)."""
    noise = rng.standard_normal((count, days)) * sd
    kept = np.sqrt(1 - memory**2)
    out = np.empty_like(noise)
    out[:, 0] = noise[:, 0]
    for day in range(1, days):
        out[:, day] = memory * out[:, day - 1] + kept * noise[:, day]
    return out


def _wet_days(count: int, days: int, rng: np.random.Generator) -> npt.NDArray[np.bool_]:
    chance = rng.random((count, days))
    wet = np.zeros((count, days), dtype=np.bool_)
    for day in range(1, days):
        wet[:, day] = chance[:, day] < np.where(wet[:, day - 1], _P_WET_AFTER_WET, _P_WET_AFTER_DRY)
    return wet
