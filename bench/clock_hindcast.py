"""Forecasts of past years against the same clock once the season is known, in several readings of "right".

Run: python bench/clock_hindcast.py [WEATHER.csv LAT]. Stations: Champion, Nebraska from the folder of real data where
there is one (or the file given), and made-up ones at 30 to 47 degrees north, made here by other rules than the clock's
own climate. Writes its part of bench/RESULTS.md.

Each of twelve years is asked on 1 May, 1 and 15 June and 1 July, and once more on 31 December.

- all doubt: the date is drawn as the season-known answer still has it, doubt of the plants included. The share of those
  draws in the early 80 % interval, and the interval's width over the width that was needed (the season-known width, and
  2.56 times how far the middle moved, as root sum of squares; of events that have a date in six years or more).
- one date: the season-known middle, taken for the truth. The interval also carries what is not known of the plants, so
  it must hold nearly always and is wide for the weather alone.
- the weather alone: all numbers of the plants at their middle, so that weather is the only doubt. The share of years
  held, and the error over the standard deviation that the interval promises (1 is honest).
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "bench")]

from clock_coverage import ASKED, NAMES, Z80, middle_of, score  # noqa: E402
from results import put  # noqa: E402
from tepal.clock import Forecast, Sighting, Weather, forecast  # noqa: E402
from tepal.doubt import generator_for  # noqa: E402
from tepal.flora import Flora, load  # noqa: E402

MADE_UP = (30.0, 34.0, 38.0, 42.0, 45.0, 47.0)
YEARS = 12
DRAWS_OF_A_STATION = 6
# A width is told of the years that have a date at both ends. In the north an event may have one in a year or two of
# twelve, the warmest: those are not its width.
LEAST_DATED = YEARS // 2


class Station(NamedTuple):
    name: str
    weather: Weather
    lat: float
    years: tuple[int, ...]


class Cell(NamedTuple):
    """One event asked on one day of all years."""

    held: float
    middle_held: float
    ratio: float
    width: float
    known_width: float
    moved: float


def made_up(lat: float, draw: int = 0) -> Weather:
    """Thirty years: months with a memory, skewed daily ranges, rain in cool spells. Not the clock's rules."""
    rng = np.random.default_rng([int(100 * lat), draw] if draw else int(100 * lat))
    dates = [date(1985, 1, 1) + timedelta(days=i) for i in range(30 * 365 + 7)]
    of_year = np.array([day.timetuple().tm_yday for day in dates])
    season = 20.5 - 0.95 * (lat - 30) + (9 + 0.45 * (lat - 30)) * np.cos(2 * np.pi * (of_year - 200) / 365.25)
    yearly = {year: rng.normal(0, 0.8) for year in range(1985, 2016)}
    days, months, wet = np.zeros(len(dates)), np.zeros(len(dates)), np.zeros(len(dates), dtype=bool)
    for i in range(1, len(dates)):
        days[i] = 0.7 * days[i - 1] + rng.normal(0, 2.6)
        months[i] = 0.96 * months[i - 1] + rng.normal(0, 0.4)
        wet[i] = rng.random() < (0.55 if wet[i - 1] else 0.22)
    mean = season + days + months + np.array([yearly[day.year] for day in dates]) - 1.2 * wet
    half = np.where(wet, 0.7, 1.1) * rng.gamma(9.0, 0.72, len(dates))
    return Weather(dates, mean - half, mean + half, np.where(wet, rng.exponential(9.0, len(dates)), 0.0))


def stations() -> Iterator[Station]:
    folder = Path(os.environ.get("TEPAL_DATA") or ROOT.parent / "shared" / "data")
    champion = folder / "weather" / "champion_ne_1982_2018.csv"
    given = len(sys.argv) > 2
    path = Path(sys.argv[1]) if given else champion
    if path.is_file():
        from tepal.ledger.formats import read_weather

        read = read_weather(path)
        last = int(str(read.dates[-1])[:4])
        yield Station(
            path.stem if given else "Champion, Nebraska", Weather(read.dates, read.tmin_c, read.tmax_c, read.prcp_mm),
            float(sys.argv[2]) if given else 40.4, tuple(range(last - YEARS + 1, last + 1)),
        )  # fmt: skip
    for lat in MADE_UP:
        yield Station(f"made up, {lat:g} N", made_up(lat), lat, tuple(range(2003, 2003 + YEARS)))


def ask(
    station: Station, code: str, flora: Flora, as_of: date, seen: Sequence[Sighting] = (), *, n: int = 2000
) -> Forecast:
    """As the command asks."""
    return forecast(
        station.weather, lat=station.lat, as_of=as_of, taxon=code, flora=flora, seen=seen,
        rng=generator_for("clock", code), n=n,
    )  # fmt: skip


def quantiles(found: Forecast, name: str) -> np.ndarray:
    dates = (found.event(name).quantile(p) for p in (0.1, 0.5, 0.9))
    return np.array([np.inf if day is None else float((day - found.start).days) for day in dates])


def cell(early: Sequence[Forecast], known: Sequence[Forecast], name: str) -> Cell:
    asked, came = (np.array([quantiles(found, name) for found in side]) for side in (early, known))
    draws = [np.nan_to_num(found.event(name).days, nan=np.inf) for found in known]
    held = np.mean([np.mean((q[0] <= days) & (days <= q[2])) for q, days in zip(asked, draws, strict=True)])
    middle_held = np.mean((asked[:, 0] <= came[:, 1]) & (came[:, 1] <= asked[:, 2]))
    dated = np.isfinite(asked).all(axis=1) & np.isfinite(came).all(axis=1)
    if dated.sum() < LEAST_DATED:
        return Cell(float(held), float(middle_held), np.nan, np.nan, np.nan, np.nan)
    width, known_width = (side[dated, 2] - side[dated, 0] for side in (asked, came))
    moved = np.sqrt(np.mean((asked[dated, 1] - came[dated, 1]) ** 2))
    needed = np.sqrt(np.mean(known_width**2) + (Z80 * moved) ** 2)
    return Cell(
        float(held), float(middle_held), float(np.sqrt(np.mean(width**2)) / needed), float(width.mean()),
        float(known_width.mean()), float(moved),
    )  # fmt: skip


def of_station(station: Station, code: str, flora: Flora) -> tuple[list[str], list[str], list[str]]:
    """Lines of the two tables, and misses."""
    known = [ask(station, code, flora, date(year, 12, 31)) for year in station.years]
    lines, alone, misses = [], [], []
    widths: dict[str, list[float]] = {name: [] for name in NAMES}
    middles = {year: middle_of(station.weather, code, flora, station.lat, date(year, 12, 31)) for year in station.years}
    for month, day in ASKED:
        early = [ask(station, code, flora, date(year, month, day)) for year in station.years]
        cells = {name: cell(early, known, name) for name in NAMES}
        for name, one in cells.items():
            widths[name].append(one.width)
            if one.held < 0.8 or one.ratio < 0.7 or one.ratio > 1.3:
                misses.append(
                    f"- {station.name}, {code}, {month}-{day:02}, {name}: holds {one.held:.2f}, width over needed "
                    f"{one.ratio:.2f}"
                )
        every = list(cells.values())
        lines.append(
            f"| {station.name} | {code} | {month}-{day:02} | {np.mean([c.held for c in every]):.2f} "
            f"({min(c.held for c in every):.2f}) | {np.nanmin([c.ratio for c in every]):.2f} to "
            f"{np.nanmax([c.ratio for c in every]):.2f} | {np.nanmean([c.width for c in every]):.1f} | "
            f"{np.nanmean([c.known_width for c in every]):.1f} | {np.mean([c.middle_held for c in every]):.2f} | "
            f"{np.nanmean([c.moved for c in every]):.1f} |"
        )
        rows = [
            row
            for year in station.years
            for row in weather_rows(station, code, flora, date(year, month, day), middles[year])
        ]
        if len(rows) >= 20:
            s = score(rows)
            alone.append(
                f"| {station.name} | {code} | {month}-{day:02} | {s.held:.2f} | {s.bias:+.1f} | {s.rmse:.1f} | "
                f"{s.width:.1f} | {s.ratio:.2f} | {s.count} |"
            )
    for name, steps in widths.items():
        if any(later > sooner + 0.5 for sooner, later in pairwise(steps)):
            misses.append(
                f"- {station.name}, {code}, {name}: widths {', '.join(f'{w:.1f}' for w in steps)} do not shrink"
            )
    return lines, alone, misses


def luck_of_the_station(flora: Flora) -> list[str]:
    """What twelve years of one station say by luck: six stations a latitude that differ in nothing but their draw."""
    lines = []
    for lat in MADE_UP:
        stations_ = [
            Station("", made_up(lat, draw), lat, tuple(range(2003, 2003 + YEARS))) for draw in range(DRAWS_OF_A_STATION)
        ]
        for code in ("AMATU", "AMAPA"):
            known = [[ask(one, code, flora, date(year, 12, 31), n=600) for year in one.years] for one in stations_]
            for month, day in ASKED:
                held, ratios = [], []
                for one, came in zip(stations_, known, strict=True):
                    early = [ask(one, code, flora, date(year, month, day), n=600) for year in one.years]
                    cells = [cell(early, came, name) for name in NAMES]
                    held.append([c.held for c in cells])
                    ratios.append([c.ratio for c in cells])
                by_station, by_event = np.mean(held, axis=1), np.mean(held, axis=0)
                dated = [one[np.isfinite(one)] for one in np.array(ratios).T]
                ratio = np.array([one.mean() for one in dated if one.size])
                lines.append(
                    f"| {lat:g} N | {code} | {month}-{day:02} | {np.mean(held):.3f} | {by_station.min():.2f} to "
                    f"{by_station.max():.2f} | {by_event.min():.2f} | {ratio.min():.2f} to {ratio.max():.2f} |"
                )
    return lines


def weather_rows(
    station: Station, code: str, flora: Flora, as_of: date, came: dict[str, np.ndarray]
) -> Iterator[tuple[float, float, float, float]]:
    """Truth and interval of events more than five days ahead, where weather is the only doubt."""
    asked = middle_of(station.weather, code, flora, station.lat, as_of)
    for name in NAMES:
        truth = float(np.median(np.nan_to_num(came[name], nan=np.inf)))
        q = np.quantile(np.nan_to_num(asked[name], nan=np.inf), (0.1, 0.5, 0.9), method="inverted_cdf")
        if q[1] > (as_of - date(as_of.year, 1, 1)).days + 5:
            yield truth, float(q[0]), float(q[1]), float(q[2])


def pulls(station: Station, flora: Flora) -> list[str]:
    """How far a sighting moves the middle of each date, and what it leaves of its width."""
    as_of = date(station.years[-1], 6, 10)
    plain = ask(station, "AMATU", flora, as_of)
    usual = float(np.median(plain.height_on(as_of)))
    lines = []
    for factor in (0.4, 1.0, 2.0):
        found = ask(station, "AMATU", flora, as_of, (Sighting(as_of, height_cm=factor * usual),))
        for name in ("height_10_cm", "flowers", "viable_seed"):
            before, after = quantiles(plain, name), quantiles(found, name)
            lines.append(
                f"| {factor:g} times the middle height | {name} | {after[1] - before[1]:+.0f} | "
                f"{(after[2] - after[0]) / (before[2] - before[0]):.2f} |"
            )
    return lines


def main() -> None:
    flora = load()
    lines, alone, misses, pulled = [], [], [], []
    for station in stations():
        for code in ("AMATU", "AMAPA"):
            of_all, of_weather, missed = of_station(station, code, flora)
            lines, alone, misses = lines + of_all, alone + of_weather, misses + missed
        pulled = pulled or [
            f"{station.name}, 10 June {station.years[-1]}, waterhemp:\n",
            *_pull_head(),
            *pulls(station, flora),
        ]
    text = "\n".join([
        __doc__.split("\n\n", 2)[2].strip() if __doc__ else "",
        "\n### All doubt, and one date (means over the six events; in brackets the least)\n",
        "| station | taxon | asked | 80 % holds | width over needed | width d | season-known width d | holds the "
        "season-known middle | middle moved d |\n|---|---|---|---|---|---|---|---|---|",
        *lines,
        "\n### The weather alone (events more than five days ahead)\n",
        "| station | taxon | asked | 80 % holds | bias d | rmse d | width d | spread ratio | n |\n"
        "|---|---|---|---|---|---|---|---|---|",
        *alone,
        f"\n### The luck of a station: {DRAWS_OF_A_STATION} made-up stations a latitude, alike but for their draw\n",
        "Twelve years of one station share its luck: where its asked years happen to lie apart from the years before "
        "them, the intervals of all twelve hold less. The first of the six is the one of the tables above.\n",
        "| place | taxon | asked | 80 % holds, all six | by station | least event, all six | width over needed |\n"
        "|---|---|---|---|---|---|---|",
        *luck_of_the_station(flora),
        "\n### What a sighting does\n",
        *pulled,
        "\n### Misses (holds under 0.80, width over needed outside 0.7 to 1.3, mean widths that grow by half a day)\n",
        *(misses or ["None."]),
    ])  # fmt: skip
    put("clock-hindcast", f"## clock: past years asked again\n\n{text}")
    print(text)


def _pull_head() -> list[str]:
    return ["| seen | event | middle moves d | width over that without |\n|---|---|---|---|"]


if __name__ == "__main__":
    main()
