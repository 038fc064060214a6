"""The clock's intervals against what came: does 80 % hold 80 %, is it no wider than needed, does it shrink?

Run: python bench/clock_coverage.py [times] [WEATHER.csv]; with `times` only the time of a call is measured. Without a
file it takes Champion, Nebraska from the folder of real data where there is one, else a station made of sines. Writes
its parts of bench/RESULTS.md and docs/rooms/clock-*.svg.

Three kinds of truth:
- weather: the same plants (all numbers at their middle) with the season known; only the weather is uncertain.
- same numbers: fields lived plant by plant (tests/clock/plain_field.py), their numbers drawn from growth.csv.
- as told: another, cruder simulator, which takes the published numbers as they stand (triangular between their low and
  high) and counts flowering and seed in calendar days, not in warmth and day length.
"""

from __future__ import annotations

import math
import os
import random
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import NamedTuple

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "bench")]

from clock.plain_field import Plant, day_degrees, event_days, germination_degrees, live, tallest  # noqa: E402
from clock_published import published_points  # noqa: E402
from results import put  # noqa: E402
from tepal.clock import Forecast, Sighting, Weather, forecast  # noqa: E402
from tepal.clock._courses import Courses  # noqa: E402
from tepal.clock._forecast import _events  # noqa: E402
from tepal.clock._plants import grow  # noqa: E402
from tepal.clock._season import season  # noqa: E402
from tepal.clock._traits import DIMENSIONS, Published, even_futures, members  # noqa: E402
from tepal.flora import Flora, load  # noqa: E402

NAMES = ("emerges_10", "emerges_50", "emerges_90", "height_10_cm", "flowers", "viable_seed")
ASKED = ((5, 1), (6, 1), (6, 15), (7, 1))
# Fields of one cell share their weather and their luck on all four days asked. With 6 a year, as once, the share held
# has a standard error of 0.05 and cells of an honest clock fall below 0.80; with 30 it is 0.02.
FIELDS_A_YEAR = 30
FIELDS_A_YEAR_SEEN = 12
PLANTS = 200
Z80 = 2 * 1.2815515655446004
Field = list[Plant]
Day = tuple[float, float, float]


class Score(NamedTuple):
    """How an interval did: share of truths inside, error of the middle, width, spread ratio (error / promised sd)."""

    held: float
    bias: float
    rmse: float
    width: float
    ratio: float
    count: int


def score(rows: Sequence[tuple[float, float, float, float]]) -> Score:
    """Of rows (truth, q10, q50, q90) in days, infinite where it does not happen."""
    table = np.array(rows, dtype=float)
    held = (table[:, 0] >= table[:, 1]) & (table[:, 0] <= table[:, 3])
    dated = np.isfinite(table).all(axis=1)
    error = table[dated, 0] - table[dated, 2]
    width = table[dated, 3] - table[dated, 1]
    rmse = float(np.sqrt(np.mean(error**2)))
    promised = float(np.sqrt(np.mean(width**2))) / Z80
    return Score(
        float(held.mean()), float(error.mean()), rmse, float(width.mean()), rmse / promised if promised else math.nan,
        int(dated.sum()),
    )  # fmt: skip


def station() -> tuple[Weather, float, str, tuple[int, ...]]:
    """Weather, latitude, name, the twelve years that are asked about."""
    folder = Path(os.environ.get("TEPAL_DATA") or ROOT.parent / "shared" / "data")
    named = [word for word in sys.argv[1:] if word != "times"]
    path = Path(named[0]) if named else folder / "weather" / "champion_ne_1982_2018.csv"
    if path.is_file():
        from tepal.ledger.formats import read_weather

        read = read_weather(path)
        years = sorted({int(str(day)[:4]) for day in read.dates})
        asked = tuple(years[-1] - 1 - 2 * i for i in range(12))[::-1]
        return (
            Weather(read.dates, read.tmin_c, read.tmax_c, read.prcp_mm), 40.4,
            "Champion, Nebraska" if "champion" in path.name else path.stem, asked,
        )  # fmt: skip
    rng = np.random.default_rng(1)
    dates = [date(1985, 1, 1) + timedelta(days=i) for i in range(30 * 365 + 7)]
    of_year = np.array([day.timetuple().tm_yday for day in dates])
    yearly = {year: rng.normal(0, 1.2) for year in range(1985, 2016)}
    mean = 10 + 14 * np.cos(2 * np.pi * (of_year - 200) / 365.25) + rng.normal(0, 3.5, len(dates))
    mean += [yearly[day.year] for day in dates]
    rain = np.where(rng.random(len(dates)) < 0.3, rng.exponential(8, len(dates)), 0.0)
    weather = Weather(dates, mean - 6.5, mean + 6.5, rain)
    return weather, 41.0, "a station made of sines", tuple(range(1991, 2014, 2))


def year_of(weather: Weather, year: int) -> list[Day]:
    """The days of a year, 365 of them."""
    inside = (weather.days >= np.datetime64(f"{year}-01-01")) & (weather.days < np.datetime64(f"{year + 1}-01-01"))
    rain = weather.prcp_mm if weather.prcp_mm is not None else np.zeros(len(weather.days))
    columns = (weather.tmin_c[inside], weather.tmax_c[inside], np.nan_to_num(rain[inside]))
    return [(float(low), float(high), float(wet)) for low, high, wet in zip(*columns, strict=True)][:365]


def same_numbers(flora: Flora, code: str, weather: Sequence[Day], lat: float, luck: random.Random) -> Field:
    """A field whose numbers are drawn as the tables say (low and high are 10 and 90 %), lived plant by plant."""

    def sd_of(low: float, high: float) -> float:
        return (high - low) / Z80

    def log(name: str, condition: str = "", z: float | None = None) -> float:
        row = flora.parameter(name, code, condition)
        z = luck.gauss(0, 1) if z is None else z
        return row.mean * math.exp(sd_of(math.log(row.low), math.log(row.high)) * z)

    def normal(name: str) -> float:
        row = flora.parameter(name, code)
        return row.mean + sd_of(row.low, row.high) * luck.gauss(0, 1)

    def share(name: str) -> float:
        row = flora.parameter(name, code)
        low, mean, high = (math.log(p / (1 - p)) for p in (row.low, row.mean, row.high))
        return 1 / (1 + math.exp(-(mean + sd_of(low, high) * luck.gauss(0, 1))))

    def fixed(name: str) -> float:
        return flora.parameter(name, code).mean

    common = luck.gauss(0, 1)
    dd = [log("emergence_dd", f"{k}_percent", 0.7**0.5 * common + 0.3**0.5 * luck.gauss(0, 1)) for k in (10, 50, 90)]
    dd[1] = max(dd[1], 1.15 * dd[0])
    dd[2] = max(dd[2], 1.15 * dd[1])
    numbers = {
        "dd10": dd[0], "dd50": dd[1], "dd90": dd[2], "site_year": log("emergence_site_year"),
        "germination_base": fixed("emergence_base_c"), "germination_upper": fixed("emergence_upper_c"),
        "from_day": fixed("emergence_from_day"), "wait": log("rain_wait_days"), "wet_mm": fixed("rain_that_wets_mm"),
        "growth_base": fixed("growth_base_c"), "growth_upper": fixed("growth_upper_c"),
        "flower_base": fixed("flower_base_c"), "flower_upper": fixed("flower_upper_c"),
        "to_ten": log("dd_to_10_cm"),
        "five_share": share("dd_share_at_5_cm"), "rate": log("height_rate"), "site": log("growth_site"),
        "final": log("final_height_cm"), "growth_sd": fixed("plant_growth_spread"),
        "long_dd": log("flower_dd", "long_days"), "short_dd": log("flower_dd", "short_days"),
        "threshold_h": normal("day_length_threshold_h"), "width_h": fixed("day_length_width_h"),
        "flower_sd": fixed("plant_flower_spread"), "seed_days": log("flower_to_seed_days"),
        "ripening_dd": fixed("seed_ripening_dd"), "frost": normal("frost_kill_c"),
    }  # fmt: skip
    return live(numbers, weather, lat, plants=PLANTS, luck=luck)


# The published rows as they stand: low, middle, high.
TOLD = {
    "AMATU": {
        "dd": ((165, 193, 215), (270, 306, 400), (430, 505, 700)), "base": 9.0, "from": 0, "ten": (140, 190, 260),
        "rate": (0.11, 0.16, 0.29), "flower": (40, 55, 75), "seed": (14, 19, 27),
    },
    "AMAPA": {
        "dd": ((70, 120, 200), (230, 330, 500), (550, 800, 1200)), "base": 10.0, "from": 90, "ten": (110, 150, 200),
        "rate": (0.18, 0.24, 0.42), "flower": (35, 45, 65), "seed": (14, 17, 21),
    },
}  # fmt: skip


def as_told(flora: Flora, code: str, weather: Sequence[Day], lat: float, luck: random.Random) -> Field:
    """A field by the published rows alone: no rain, no day length; days to flower by the date of coming up.

    55 (45) days for those up before 21 June, 28 for those up after 15 July, between the two in between; seed so many
    days later. Coming up and growth each share a factor of 0.85 to 1.18 in one field.
    """
    del flora, lat
    told = TOLD[code]

    def drawn(low: float, middle: float, high: float) -> float:
        return luck.triangular(low, high, middle)

    ten, fifty, ninety = (drawn(*row) for row in told["dd"])
    numbers = {"dd10": ten, "dd50": max(fifty, 1.15 * ten)}
    numbers["dd90"] = max(ninety, 1.15 * numbers["dd50"])
    late, slow = luck.uniform(0.85, 1.18), luck.uniform(0.85, 1.18)
    to_ten, rate = drawn(*told["ten"]) * slow, drawn(*told["rate"]) / slow
    early_flower, late_flower, seed = drawn(*told["flower"]), drawn(20, 28, 38), drawn(*told["seed"])
    warm = [day_degrees(low, high, told["base"], 35) for low, high, _ in weather]
    growth = [day_degrees(low, high, 10, 36) for low, high, _ in weather]
    frost = next((day for day in range(200, len(weather)) if weather[day][0] <= -2), len(weather))
    field = []
    for _ in range(PLANTS):
        wanted = germination_degrees(min(max(luck.random(), 1e-9), 1 - 1e-9), numbers) * late
        plant, summed = Plant(1.0), 0.0
        field.append(plant)
        for day in range(told["from"], frost):
            summed += warm[day]
            if summed >= wanted:
                plant.up = day
                break
        if plant.up is None:
            continue
        vigour, age = math.exp(luck.gauss(0, 0.2)), 0.0
        for day in range(plant.up, min(frost, 240)):
            age += growth[day] * vigour * (day > plant.up)
            plant.heights[day] = 10 * (age / to_ten) ** 1.7 if age < to_ten else 10 + rate * (age - to_ten)
            if plant.ten_cm is None and age >= to_ten:
                plant.ten_cm = day
        part = min(max((plant.up - 171) / 24, 0.0), 1.0)
        flower = plant.up + ((1 - part) * early_flower + part * late_flower) * math.exp(luck.gauss(0, 0.08))
        plant.flower = int(flower) if flower < frost else None
        plant.seed = int(flower + seed) if flower + seed < frost else None
    # A first seedling alone is the tenth of up to ten plants; counted in calendar days it would flower in a wood of
    # none. Fields start with the first hundredth.
    first = sorted(q.up for q in field if q.up is not None)[PLANTS // 100]
    return [q for q in field if q.up is None or q.up >= first]


def middle_of(weather: Weather, code: str, flora: Flora, lat: float, as_of: date) -> dict[str, np.ndarray]:
    """Event days over the futures, all numbers of the plants at their middle."""
    published = Published.of(flora, code)
    rng = np.random.default_rng(as_of.toordinal())
    course = season(weather, lat=lat, as_of=as_of, rng=rng)
    count = max(120, course.futures)
    some = members(np.zeros((count, DIMENSIONS)), even_futures(rng, count, course.futures), published)
    plants = grow(Courses.of(course, published), some, published, plants=60, planted=None, rng=rng)
    flower = plants.flower()
    found = _events(
        plants,
        plants.reach_height(10.0),
        flower,
        plants.viable_seed(flower),
        as_of=course.index(as_of),
        start=course.start,
    )
    return {event.name: event.days for event in found}


def weather_part(weather: Weather, code: str, flora: Flora, lat: float, years: Sequence[int]) -> list[str]:
    """Table lines: the weather's share of the doubt alone, for events still to come."""
    lines = []
    known = {year: middle_of(weather, code, flora, lat, date(year, 12, 31)) for year in years}
    for month, day in ASKED:
        rows: dict[str, list[tuple[float, float, float, float]]] = {}
        for year in years:
            as_of = date(year, month, day)
            asked = middle_of(weather, code, flora, lat, as_of)
            for name in NAMES:
                truth = float(np.median(np.where(np.isnan(known[year][name]), np.inf, known[year][name])))
                q = np.quantile(
                    np.where(np.isnan(asked[name]), np.inf, asked[name]), (0.1, 0.5, 0.9), method="inverted_cdf"
                )
                # What has happened is no forecast any more: both sides know the days it took.
                if q[1] > (as_of - date(year, 1, 1)).days + 5:
                    rows.setdefault(name, []).append((truth, *map(float, q)))
        for name, found in rows.items():
            if len(found) >= 8:
                lines.append(_line(f"{code} | {month}-{day:02} | {name}", score(found)))
    return lines


def against(
    truth: Callable[..., Field], weather: Weather, *, code: str, flora: Flora, lat: float, years: Sequence[int],
    seen: bool,
) -> tuple[list[str], dict[tuple[tuple[int, int], str], Score]]:  # fmt: skip
    """Table lines and scores: forecasts with all doubt in, against simulated fields."""
    luck = random.Random(f"{truth.__name__} {code} {seen}")
    per_year = FIELDS_A_YEAR_SEEN if seen else FIELDS_A_YEAR
    fields = {year: [truth(flora, code, year_of(weather, year), lat, luck) for _ in range(per_year)] for year in years}
    came = {year: [event_days(field, 365) for field in fields[year]] for year in years}
    scores = {}
    for asked in ASKED:
        rows: dict[str, list[tuple[float, float, float, float]]] = {name: [] for name in NAMES}
        for year in years:
            as_of = date(year, *asked)
            plain = None if seen else _ask(weather, code=code, flora=flora, lat=lat, as_of=as_of, seen=())
            for i, field in enumerate(fields[year]):
                found = plain or _ask(
                    weather, code=code, flora=flora, lat=lat, as_of=as_of, seen=_sightings(field, as_of, luck), i=i
                )
                for name in NAMES:
                    day = came[year][i][name]
                    rows[name].append((math.inf if day is None else float(day), *_days(found, name)))
        scores |= {(asked, name): score(rows[name]) for name in NAMES}
    said = f"{truth.__name__.replace('_', ' ')}{', seen twice' if seen else ''}"
    lines = [
        _line(f"{code} | {said} | {asked[0]}-{asked[1]:02} | {name}", scores[asked, name])
        for asked in ASKED
        for name in NAMES
    ]
    return lines, scores


def _ask(
    weather: Weather, *, code: str, flora: Flora, lat: float, as_of: date, seen: Sequence[Sighting], i: int = 0
) -> Forecast:
    rng = np.random.default_rng(as_of.toordinal() * 10 + i)
    return forecast(weather, lat=lat, as_of=as_of, taxon=code, flora=flora, seen=seen, rng=rng, n=1000)


def _sightings(field: Field, as_of: date, luck: random.Random) -> list[Sighting]:
    """A look two weeks before and one on the day, the tallest read with an error of 15 %."""
    seen = []
    for on in (as_of - timedelta(days=14), as_of):
        tall = tallest(field, (on - date(on.year, 1, 1)).days)
        if tall > 0.5:
            seen.append(Sighting(on, height_cm=tall * math.exp(luck.gauss(0, 0.15))))
        elif tall == 0:
            seen.append(Sighting(on, none_up=True))
    return seen


def _days(found: Forecast, name: str) -> tuple[float, ...]:
    event = found.event(name)
    dates = (event.quantile(p) for p in (0.1, 0.5, 0.9))
    return tuple(math.inf if day is None else float((day - found.start).days) for day in dates)


def _line(what: str, s: Score) -> str:
    return f"| {what} | {s.held:.2f} | {s.bias:+.1f} | {s.rmse:.1f} | {s.width:.1f} | {s.ratio:.2f} | {s.count} |"


def timing(weather: Weather, flora: Flora, lat: float, year: int) -> list[str]:
    """Processor seconds of a call with all of the station's past years and 2,000 members: the median of five."""
    lines = []
    for what, seen in (
        ("no sighting", ()),
        ("two sightings", (Sighting(date(year, 6, 1), height_cm=8), Sighting(date(year, 6, 14), height_cm=25))),
        ("looked and saw none", (Sighting(date(year, 6, 10), none_up=True),)),
        ("a sighting that is hardly possible", (Sighting(date(year, 5, 5), height_cm=60),)),
    ):
        taken = []
        for code in (taxon.code for taxon in flora.taxa.values() if taxon.pigweed):
            start = time.process_time()
            forecast(
                weather, lat=lat, as_of=date(year, 6, 15), taxon=code, flora=flora, seen=seen,
                rng=np.random.default_rng(1), n=2000,
            )  # fmt: skip
            taken.append(time.process_time() - start)
        lines.append(f"| the call in Python, {what} | {np.median(taken):.2f} | {max(taken):.2f} | {len(taken)} taxa |")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "w.csv"
        rows = zip(weather.days[-30 * 365 :], weather.tmin_c[-30 * 365 :], weather.tmax_c[-30 * 365 :], strict=True)
        path.write_text("\n".join(["date,tmin_c,tmax_c", *(f"{on},{low:.2f},{high:.2f}" for on, low, high in rows)]))
        for what, more in (
            ("no sighting", ()),
            ("a sighting that is hardly possible", (f"{year}-05-05:height_cm=60",)),
        ):
            taken = []
            for _ in range(5):
                before = resource.getrusage(resource.RUSAGE_CHILDREN)
                asked = ["--weather", str(path), "--lat", str(lat), "--as-of", f"{year}-06-15", "--taxon", "AMATU"]
                seen_too = [part for one in more for part in ("--seen", one)]
                subprocess.run(
                    [sys.executable, "-m", "tepal", "clock", *asked, *seen_too, "--json"], check=True,
                    stdout=subprocess.DEVNULL,
                )  # fmt: skip
                after = resource.getrusage(resource.RUSAGE_CHILDREN)
                taken.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
            lines.append(
                f"| the command, a new process, 30 years in the file, {what} | {np.median(taken):.2f} | "
                f"{max(taken):.2f} | 5 times |"
            )
    return lines


def main() -> None:
    started = time.perf_counter()
    flora = load()
    weather, lat, place, years = station()
    write_times(weather, flora, lat, years)
    if "times" in sys.argv[1:]:
        return
    head = " | 80 % holds | bias d | rmse d | width d | spread ratio | n |\n"
    out = [
        f"Station: {place}, {lat} N; forecasts on 1 May, 1 June, 15 June and 1 July of {len(years)} years "
        f"({years[0]} to {years[-1]}); past years are those before each. Spread ratio: error over the sd that the "
        f"interval promises; 1 is honest, below 1 too wide, above 1 too narrow. {FIELDS_A_YEAR} fields a year, "
        f"{FIELDS_A_YEAR_SEEN} where they were seen.\n",
        "### Weather alone: events more than five days ahead, against the same plants with the season known\n",
        f"| taxon | asked | event{head}|---|---|---|---|---|---|---|---|---|",
    ]
    for code in ("AMATU", "AMAPA"):
        out += weather_part(weather, code, flora, lat, years)
    out += [
        "\n### All doubt in, against simulated fields\n",
        f"| taxon | truth | asked | event{head}|---|---|---|---|---|---|---|---|---|---|",
    ]
    misses, shrink = [], []
    for code in ("AMATU", "AMAPA"):
        for truth, seen in ((same_numbers, False), (same_numbers, True), (as_told, False), (as_told, True)):
            lines, scores = against(truth, weather, code=code, flora=flora, lat=lat, years=years, seen=seen)
            out += lines
            label = f"{code}, {truth.__name__.replace('_', ' ')}{', seen twice' if seen else ''}"
            misses += [
                f"- {label}, {asked[0]}-{asked[1]:02}, {name}: holds {s.held:.2f}, ratio {s.ratio:.2f}"
                for (asked, name), s in scores.items()
                if s.held < 0.8 or not 0.7 <= s.ratio <= 1.3
            ]
            widths = [np.mean([scores[asked, name].width for name in NAMES]) for asked in ASKED]
            shrink.append(f"| {label} | " + " | ".join(f"{width:.1f}" for width in widths) + " |")
    out += [
        "\n### Mean width (days) of the 80 % interval through the season\n",
        "| truth | 1 May | 1 June | 15 June | 1 July |\n|---|---|---|---|---|",
        *shrink,
        "\n### Cells that miss (80 % holds fewer, or a spread ratio outside 0.7 to 1.3)\n",
        *(misses or ["None."]),
        "\n### Published points against the bands\n",
        *published_points(flora),
    ]
    text = "\n".join(out)
    put("clock", f"## clock\n\n{text}")
    print(text)
    print(f"{time.perf_counter() - started:.0f} s", file=sys.stderr)


def write_times(weather: Weather, flora: Flora, lat: float, years: Sequence[int]) -> None:
    """The part of its own on time, which wants a quiet machine and is soon done."""
    table = "\n".join(
        [
            "## clock: time of one call\n",
            "2,000 members, 30 years of weather, processor seconds; asked for: 0.6.\n",
            "| call | median | most | of |\n|---|---|---|---|",
            *timing(weather, flora, lat, years[-1]),
        ]
    )
    put("clock-time", table)
    print(table)


if __name__ == "__main__":
    main()
