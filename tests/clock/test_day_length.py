"""Day length against almanac values."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from tepal.clock import day_length_h


# Sunrise to sunset by the usual definition (upper edge of the sun, 34' of refraction), from the standard almanac
# tables "Duration of daylight": latitude, day, hours and minutes.
@pytest.mark.parametrize(
    ("lat", "day", "hours"),
    [
        (0, date(2021, 3, 20), 12 + 7 / 60),
        (0, date(2021, 6, 21), 12 + 7 / 60),
        (30, date(2021, 6, 21), 14 + 5 / 60),
        (30, date(2021, 12, 21), 10 + 13 / 60),
        (40, date(2021, 6, 21), 15 + 1 / 60),
        (40, date(2021, 12, 21), 9 + 20 / 60),
        (40, date(2021, 3, 20), 12 + 8 / 60),
        (50, date(2021, 6, 21), 16 + 22 / 60),
        (50, date(2021, 12, 21), 8 + 4 / 60),
        (60, date(2021, 6, 21), 18 + 52 / 60),
    ],
)
def test_day_length_agrees_with_almanac_tables_within_five_minutes(lat: float, day: date, hours: float) -> None:
    found = float(day_length_h(lat, np.array([day.timetuple().tm_yday]))[0])
    # The authors state errors below a few minutes at these latitudes; the tables are rounded to the minute.
    assert found == pytest.approx(hours, abs=5 / 60)


def test_day_length_agrees_with_the_suns_declination_by_another_series() -> None:
    """Spencer's (1971) Fourier series for declination, with the hour angle of a sun 50 minutes of arc below."""
    days = np.arange(1, 366)
    g = 2 * np.pi * (days - 1) / 365
    declination = (
        0.006918 - 0.399912 * np.cos(g) + 0.070257 * np.sin(g) - 0.006758 * np.cos(2 * g) + 0.000907 * np.sin(2 * g)
        - 0.002697 * np.cos(3 * g) + 0.00148 * np.sin(3 * g)
    )  # fmt: skip
    for lat in (25.0, 35.0, 42.0, 48.0):
        phi, h0 = np.deg2rad(lat), np.deg2rad(-0.8333)
        angle = np.arccos((np.sin(h0) - np.sin(phi) * np.sin(declination)) / (np.cos(phi) * np.cos(declination)))
        assert np.abs(day_length_h(lat, days) - 24 / np.pi * angle).max() < 4 / 60


def test_the_polar_day_has_24_hours_and_the_polar_night_none() -> None:
    assert day_length_h(75, np.array([172.0]))[0] == 24
    assert day_length_h(75, np.array([355.0]))[0] == 0
