"""The worked example of docs/rooms/clock.md: its weather, its answer in words, its figure.

Run: python bench/clock_figure.py. Writes docs/rooms/clock-season.svg and prints what the page quotes.
"""

from __future__ import annotations

import sys
import tempfile
from datetime import date, timedelta
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "bench"))

from clock_look import INK, RULE, figure, save  # noqa: E402
from tepal.cli.clock import clock  # noqa: E402
from tepal.clock import Forecast, Sighting, Weather, forecast  # noqa: E402
from tepal.doubt import generator_for  # noqa: E402
from tepal.flora import load  # noqa: E402

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


def draw(found: Forecast) -> None:
    """Three shares by day, each a middle line and its 80 % band."""
    days = [date(2026, 4, 20) + timedelta(days=i) for i in range(0, 130, 2)]
    fig, (axes,) = figure(6.8, 3.4)
    shares = {
        "seedlings up": [found.share_up(day) for day in days],
        "over 10 cm (4 in)": [found.share_reached("height_10_cm", day) for day in days],
        "with viable seed": [found.share_reached("viable_seed", day) for day in days],
    }
    x = [day.toordinal() for day in days]
    marks = {"seedlings up": 0.35, "over 10 cm (4 in)": 0.6, "with viable seed": 0.45}
    for (name, draws), hatch, style in zip(shares.items(), ("", "////", "...."), ("-", "--", ":"), strict=True):
        low, middle, high = np.quantile(np.array(draws), (0.1, 0.5, 0.9), axis=1)
        axes.fill_between(x, low, high, facecolor="none" if hatch else RULE, edgecolor=RULE, hatch=hatch, linewidth=0)
        axes.plot(x, middle, color=INK, linestyle=style, linewidth=1.6)
        at = int(np.argmax(middle >= marks[name]))
        axes.annotate(name, (x[at], middle[at]), (5, -3), textcoords="offset points", fontsize=8.5, color=INK)
    axes.axvline(AS_OF.toordinal(), color=INK, linewidth=0.8)
    axes.annotate("June 4", (AS_OF.toordinal(), 1.03), ha="center", fontsize=8.5, color=INK, annotation_clip=False)
    axes.axhline(0.1, color=RULE, linewidth=0.8, zorder=0)
    ticks = [date(2026, month, 1) for month in (5, 6, 7, 8)]
    axes.set_xticks([day.toordinal() for day in ticks], [f"{day:%B} 1" for day in ticks], fontsize=8.5)
    axes.set_yticks([0, 0.1, 0.5, 1], ["0", "a tenth", "half", "all"], fontsize=8.5)
    axes.set_ylim(0, 1.0)
    axes.set_xlim(x[0], x[-1])
    save(fig, ROOT / "docs" / "rooms" / "clock-season.svg", "Shares of waterhemp past each threshold by day")


def main() -> None:
    weather = larkmoor()
    found = forecast(
        weather, lat=LAT, as_of=AS_OF, taxon="AMATU", flora=load(), seen=(Sighting.from_text(SEEN),),
        rng=generator_for("figure"), n=2000,
    )  # fmt: skip
    draw(found)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "larkmoor.csv"
        columns = zip(weather.dates, weather.tmin_c, weather.tmax_c, weather.prcp_mm, strict=True)  # type: ignore[arg-type]
        lines = [f"{day},{low},{high},{rain}" for day, low, high, rain in columns]
        path.write_text("\n".join(["date,tmin_c,tmax_c,prcp_mm", *lines]) + "\n")
        for seen in ((), (SEEN,)):
            clock(weather=path, lat=LAT, as_of=str(AS_OF), taxon="AMATU", seen=seen)
            print()


if __name__ == "__main__":
    main()
