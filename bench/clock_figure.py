"""The worked example of docs/rooms/clock.md: its weather, its answer in words, its figure.

Run: python bench/clock_figure.py. Writes docs/rooms/clock-season.svg and prints what the page quotes.
"""

from __future__ import annotations

import tempfile
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from tepal.cli.clock import clock
from tepal.clock import Weather

ROOT = Path(__file__).resolve().parent.parent

LAT, AS_OF = 41.3, date(2026, 6, 4)
SEEN = "2026-06-02:height_cm=5"


def larkmoor() -> Weather:
    """Twenty years of invented days for Larkmoor County, to the as-of date."""
    rng = np.random.default_rng(41)
    dates = [date(2006, 1, 1) + timedelta(days=i) for i in range((AS_OF - date(2006, 1, 1)).days + 1)]
    of_year = np.array([day.timetuple().tm_yday for day in dates])
    yearly = {year: rng.normal(0, 1.2) for year in range(2006, 2027)}
    mean = 10.5 + 14.4 * np.cos(2 * np.pi * (of_year - 200) / 365.25) + [yearly[day.year] for day in dates]
    noise = np.zeros(len(dates))
    for i in range(1, len(dates)):
        noise[i] = 0.65 * noise[i - 1] + rng.normal(0, 2.8)
    rain = np.where(rng.random(len(dates)) < 0.28, rng.exponential(9, len(dates)), 0.0)
    return Weather(dates, np.round(mean + noise - 6.2, 1), np.round(mean + noise + 6.2, 1), np.round(rain, 1))


def main() -> None:
    weather = larkmoor()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "larkmoor.csv"
        columns = zip(weather.dates, weather.tmin_c, weather.tmax_c, weather.prcp_mm, strict=True)  # type: ignore[arg-type]
        lines = [f"{day},{low},{high},{rain}" for day, low, high, rain in columns]
        path.write_text("\n".join(["date,tmin_c,tmax_c,prcp_mm", *lines]) + "\n")
        picture = ROOT / "docs" / "rooms" / "clock-season.svg"
        for seen, draw in (((), None), ((SEEN,), picture)):
            clock(
                weather=path, lat=LAT, as_of=str(AS_OF), taxon="AMATU", seen=seen, planted="2026-05-06", crop="soybean",
                cut="2026-07-20:height_cm=15", draw=draw,
            )  # fmt: skip
            print()


if __name__ == "__main__":
    main()
