"""Published points against the clock's bands, misses included. A figure of them for the docs."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import NamedTuple

import numpy as np

from tepal.clock import Weather, forecast
from tepal.clock._courses import Courses
from tepal.clock._plants import Plants, grow, height_at
from tepal.clock._season import season
from tepal.clock._share import day_of_share
from tepal.clock._traits import Published, even_futures, members, spread_evenly
from tepal.flora import Flora

ROOT = Path(__file__).resolve().parent.parent
MEMBERS = 1500
# Mean temperatures of the months at Shafter, California (San Joaquin Valley), rounded, for Keeley's plantings.
SHAFTER_C = (8, 11, 14, 17, 21.5, 25.5, 28, 27, 24, 19, 12, 8)


class Point(NamedTuple):
    """A published point or range, and the clock's 10, 50 and 90 % for it, in one unit."""

    what: str
    low: float
    high: float
    band: tuple[float, float, float]
    unit: str
    source: str

    @property
    def inside(self) -> bool:
        """Whether the published point, or the middle of the published range, lies in the band."""
        return self.band[0] <= (self.low + self.high) / 2 <= self.band[2]


def of_month(means: tuple[float, ...], half_range: float) -> Weather:
    """Three years of days drawn straight between monthly means: a climate without weather."""
    dates = [date(2017, 1, 1) + timedelta(days=i) for i in range(3 * 365)]
    middles = np.array([15 + 30.4 * month for month in range(-1, 13)])
    values = np.array([means[-1], *means, means[0]])
    day = np.array([d.timetuple().tm_yday for d in dates])
    mean = np.interp(day, middles, values)
    return Weather(dates, mean - half_range, mean + half_range, None)


def steady(mean: float, half_range: float = 6.0) -> Weather:
    return of_month((mean,) * 12, half_range)


def plants_up_on(day: int, weather: Weather | None, lat: float, code: str, flora: Flora) -> Plants:
    """Plants of the ensemble that all come up on one day."""
    rng = np.random.default_rng(4)
    published = Published.of(flora, code)
    course = season(weather, lat=lat, as_of=date(2019, 12, 31) if weather else date(2019, 1, 1), rng=rng)
    some = members(spread_evenly(rng, MEMBERS), even_futures(rng, MEMBERS, course.futures), published)
    plants = grow(Courses.of(course, published), some, published, plants=12, planted=None, rng=rng)
    return replace(plants, up=np.full_like(plants.up, day))


def points(flora: Flora) -> list[Point]:
    found: list[Point] = []

    def add(what: str, low: float, high: float, draws: np.ndarray, unit: str, source: str) -> None:  # noqa: PLR0917
        draws = np.where(np.isnan(draws), np.inf, draws).ravel()
        q = np.quantile(draws, (0.1, 0.5, 0.9), method="inverted_cdf")
        found.append(Point(what, low, high, (float(q[0]), float(q[1]), float(q[2])), unit, source))

    def day(month: int, day_: int) -> float:
        return float((date(2019, month, day_) - date(2019, 1, 1)).days)

    def year(lat: float, code: str) -> tuple[dict[str, np.ndarray], np.ndarray]:
        told = forecast(
            None, lat=lat, as_of=date(2019, 1, 1), taxon=code, flora=flora, rng=np.random.default_rng(2), n=MEMBERS
        )
        plants = told._plants
        return {e.name: e.days for e in told.events}, day_of_share(plants.up, plants.weight, 0.01, plants.days)

    north, first_north = year(47.0, "AMATU")
    iowa, first_iowa = year(42.0, "AMATU")
    _, first_illinois = year(41.1, "AMAPA")
    # The earliest of six years, so the early end of the band is what it should meet.
    add(
        "waterhemp, first seedlings, northern Red River valley, earliest of 6 years",
        day(5, 11),
        day(5, 11),
        first_north,
        "day",
        "NDSU2021",
    )
    add(
        "Palmer amaranth, seedlings seen, northeast Illinois",
        day(5, 8),
        day(5, 8),
        first_illinois,
        "day",
        "StripTillPage",
    )
    add(
        "waterhemp, emergence peaks, central Iowa, 1996",
        day(6, 24),
        day(6, 24),
        iowa["emerges_50"],
        "day",
        "ISUipm1996",
    )
    add(
        "waterhemp, first seedling to 90 %, central Iowa",
        35,
        60,
        iowa["emerges_90"] - first_iowa,
        "days",
        "Buhler1996abs",
    )
    add(
        "waterhemp, first flower structures, North Dakota and Minnesota",
        day(7, 13),
        day(7, 14),
        north["flowers"],
        "day",
        "NDSU2017;NDSU2021fl",
    )
    for code, name, low, high, mean, source in (
        ("AMAPA", "Palmer amaranth", 9, 18, 25, "Sellers2003;HorakLoughin2000"),
        ("AMATU", "waterhemp", 14, 26, 22.5, "HorakLoughin2000;Cordes2004"),
        ("AMARE", "redroot pigweed", 13, 25, 22.5, "Sellers2003"),
    ):
        plants = plants_up_on(150, steady(mean), 41.0, code, flora)
        add(
            f"{name}, days from coming up to 10 cm at {mean:g} degC",
            low,
            high,
            plants.reach_height(10.0) - 150.0,
            "days",
            source,
        )
    illinois = plants_up_on(127, None, 41.1, "AMAPA", flora)
    add(
        "Palmer amaranth, height of the largest a week after 8 May, northeast Illinois",
        5,
        5,
        np.quantile(illinois.height_cm(134), 0.95, axis=1),
        "cm",
        "StripTillPage",
    )
    for code, name, low, high, source in (
        ("AMAPA", "Palmer amaranth", 0.18, 0.42, "HorakLoughin2000;Kouame2024"),
        ("AMATU", "waterhemp", 0.11, 0.16, "HorakLoughin2000"),
        ("AMARE", "redroot pigweed", 0.09, 0.12, "HorakLoughin2000"),
        ("AMAAL", "tumble pigweed", 0.08, 0.09, "HorakLoughin2000"),
    ):
        some = plants_up_on(150, steady(24), 41.0, code, flora).members
        rise = (height_at(np.array([[500.0]]), some) - height_at(np.array([[250.0]]), some)) / 250
        add(f"{name}, height per degree-day between 250 and 500", low, high, rise, "cm", source)
    shafter = of_month(SHAFTER_C, 8.0)
    for when, low, high in (((3, 15), 5, 9), ((5, 1), 5, 9), ((6, 15), 5, 9), ((7, 15), 3, 4), ((9, 1), 3, 4)):
        # Up a week after planting, ten days in March (judgement): Keeley counts from planting.
        wait = 10 if when[0] == 3 else 7 if when[0] < 6 else 5
        up = int(day(*when)) + wait
        plants = plants_up_on(up, shafter, 35.5, "AMAPA", flora)
        add(
            f"Palmer amaranth, weeks from planting on {when[0]}-{when[1]:02} to first flower, California",
            low,
            high,
            np.where(plants.flower() < 365, (plants.flower() - up + wait) / 7.0, np.nan),
            "weeks",
            "Keeley1987",
        )
    for code, name, when, low, high in (
        ("AMAPA", "Palmer amaranth", (5, 25), 35, 65), ("AMATU", "waterhemp", (5, 25), 40, 75),
        ("AMAPA", "Palmer amaranth", (7, 20), 20, 38), ("AMATU", "waterhemp", (7, 20), 20, 38),
    ):  # fmt: skip
        plants = plants_up_on(int(day(*when)), None, 41.0, code, flora)
        add(
            f"{name}, days from coming up on {when[0]}-{when[1]:02} to flower, 41 N",
            low,
            high,
            np.where(plants.flower() < 365, plants.flower() - day(*when), np.nan),
            "days",
            "Keeley1987;NDSU2021fl",
        )
    for code, name, low, high, source in (
        ("AMAPA", "Palmer amaranth", 14, 21, "Keeley1987"),
        ("AMATU", "waterhemp (from flower initiation)", 20, 27, "WuOwen2015"),
    ):  # fmt: skip
        plants = plants_up_on(145, None, 41.0, code, flora)
        flower = plants.flower()
        seed = plants.viable_seed(flower)
        add(
            f"{name}, days from flower to viable seed, 41 N",
            low,
            high,
            np.where(seed < 365, seed - flower * 1.0, np.nan),
            "days",
            source,
        )
    plants = plants_up_on(int(day(10, 12)), shafter, 35.5, "AMAPA", flora)
    seed = plants.viable_seed(plants.flower())
    late = np.where(seed <= day(11, 20), 1.0, 0.0).mean(axis=1)
    add(
        "Palmer amaranth, share with seed by a frost on 20 November, planted 5 October, California",
        0,
        0,
        late,
        "share",
        "Keeley1987",
    )
    return found


def published_points(flora: Flora) -> list[str]:
    """Table lines, and docs/rooms/clock-published.svg."""
    found = points(flora)
    draw(found)
    inside = sum(point.inside for point in found)
    lines = [
        f"{inside} of {len(found)} published points, or middles of published ranges, lie in the clock's 80 % band. "
        "Places without weather here use the made-up climate of their latitude.\n",
        "| what | published | clock 10 % | 50 % | 90 % | in the band | source |\n|---|---|---|---|---|---|---|",
    ]
    for p in found:
        told = show(p.low, p.unit) if p.low == p.high else f"{show(p.low, p.unit)} to {show(p.high, p.unit)}"
        band = " | ".join(show(value, p.unit) for value in p.band)
        lines.append(f"| {p.what} | {told} | {band} | {'yes' if p.inside else '**no**'} | {p.source} |")
    return lines


def show(value: float, unit: str) -> str:
    if not np.isfinite(value):
        return "never"
    if unit == "day":
        return f"{date(2019, 1, 1) + timedelta(days=int(value)):%-d %b}"
    return (
        f"{value:.2f}"
        if unit in ("share",) or (unit == "cm" and value < 1)
        else f"{value:.0f}"
        if unit == "days"
        else f"{value:.1f}"
    )


def draw(found: list[Point]) -> None:
    """Each band as a bar with its middle; the published point as a diamond, hollow where it misses.

    Dates on a calendar; the rest relative to the clock's own middle.
    """
    from tepal.cli._clock_picture import INK, RULE, figure, save

    shown = [p for p in found if p.unit != "share" and np.isfinite(p.band).all()]
    dated, others = [p for p in shown if p.unit == "day"], [p for p in shown if p.unit != "day"]
    fig, plots = figure(6.8, 0.33 * len(shown) + 1.6, (len(dated) + 1, len(others) + 1))
    for axes, rows in zip(plots, (dated, others), strict=True):
        for row, p in enumerate(reversed(rows)):
            scale = 1.0 if p.unit == "day" else p.band[1]
            low, middle, high = (value / scale for value in p.band)
            axes.plot([low, high], [row, row], color=RULE, linewidth=7, solid_capstyle="butt", zorder=1)
            axes.plot([middle, middle], [row - 0.22, row + 0.22], color=INK, linewidth=1.6, zorder=2)
            axes.plot([p.low / scale, p.high / scale], [row, row], color=INK, linewidth=1.2, zorder=3)
            at, face = (p.low + p.high) / 2 / scale, INK if p.inside else "none"
            axes.plot([at], [row], marker="D", markersize=5, markerfacecolor=face, markeredgecolor=INK, zorder=4)
        axes.set_yticks(range(len(rows)), [_wrap(p.what) for p in reversed(rows)], fontsize=7)
        axes.set_ylim(-0.8, len(rows) - 0.2)
    firsts = [date(2019, month, 1) for month in range(4, 10)]
    plots[0].set_xticks([(d - date(2019, 1, 1)).days for d in firsts], [f"{d:%b} 1" for d in firsts], fontsize=7.5)
    plots[1].tick_params(axis="x", labelsize=7.5)
    plots[1].set_xlabel("times the clock's middle", fontsize=7.5)
    save(fig, ROOT / "docs" / "rooms" / "clock-published.svg", "Published points against the clock's bands")


def _wrap(text: str) -> str:
    words, lines = text.split(), [""]
    for word in words:
        if len(lines[-1]) + len(word) > 44:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return "\n".join(lines)
