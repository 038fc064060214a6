"""A station made of sines: its answers can be told in advance, and it needs no file."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import numpy as np
import pytest

from tepal.clock import Weather

Station = Callable[..., Weather]


@pytest.fixture
def station() -> Station:
    """`station(1990, 2000, warmer={1999: 2.0})`: days of the years, with each year's own anomaly and daily noise."""

    def make(
        first: int, last: int, *, warmer: dict[int, float] | None = None, seed: int = 5, rain: bool = True
    ) -> Weather:
        rng = np.random.default_rng(seed)
        start, end = date(first, 1, 1), date(last, 12, 31)
        count = (end - start).days + 1
        dates = [start + timedelta(days=i) for i in range(count)]
        of_year = np.array([day.timetuple().tm_yday for day in dates])
        anomaly = {year: rng.normal(0, 1.0) for year in range(first, last + 1)}
        shift = np.array([anomaly[day.year] + (warmer or {}).get(day.year, 0.0) for day in dates])
        mean = 10.0 + 14.0 * np.cos(2 * np.pi * (of_year - 202) / 365.25) + shift + rng.normal(0, 3.0, count)
        fall = np.where(rng.random(count) < 0.3, rng.exponential(8.0, count), 0.0)
        return Weather(dates, mean - 6.5, mean + 6.5, fall if rain else None)

    return make
