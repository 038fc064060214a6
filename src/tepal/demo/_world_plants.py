"""True plants of the invented county: when each came up, how tall it is, when it flowers, what its looks are.

Plain rules, one plant and one day at a time, with numbers drawn within the published ranges. Nothing here comes from
the rooms that later have to find the truth again, so that they can be wrong and be caught.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from tepal.demo._world_weather import DailyWeather

if TYPE_CHECKING:
    from tepal.flora import Flora

# Thermal time of emergence: base, first day of the year counted from, median and sd of the log (published.csv:
# emergence_GDD_…), growth in cm per degree-day above 10 °C (height_growth_rate), days from emergence to flower, and
# from flower to the first seed that can grow. Sources: Werle2014, Keeley1987, HorakLoughin2000, WuOwen2015.
_EMERGENCE = {
    "AMATU": (9.0, (1, 1), 306.0, 0.38),
    "AMAPA": (10.0, (4, 1), 330.0, 0.60),
    "AMARE": (9.0, (1, 1), 290.0, 0.40),
}
_CM_PER_DEGREE_DAY = {"AMAPA": 0.20, "AMATU": 0.135, "AMARE": 0.105}
_DAYS_TO_FLOWER = {"AMAPA": 45.0, "AMATU": 55.0, "AMARE": 50.0}
_DAYS_TO_SEED = {"AMAPA": 17.0, "AMATU": 23.0, "AMARE": 21.0}
_SLOW_START_DEGREE_DAYS = 75.0
_TALLEST_CM = {"AMAPA": 210.0, "AMATU": 190.0, "AMARE": 130.0}
_MISREAD = 0.06
_RULER = 0.08


@dataclass(frozen=True, slots=True)
class TruePlant:
    """One plant: its name, place in metres, and the days of its life."""

    taxon: str
    east_m: float
    north_m: float
    up: date
    vigour: float
    flowers: date
    viable_seed: date
    sex: str  # "female", "male" or "both"


def degree_days(weather: DailyWeather, first: date, last: date, base: float) -> float:
    """Plain mean-temperature degree-days from `first` to `last`, both counted."""
    a, b = weather.index(first), weather.index(last) + 1
    mean = (weather.tmin_c[a:b] + weather.tmax_c[a:b]) / 2
    return float(np.clip(mean - base, 0, None).sum())


def grow(
    rng: np.random.Generator,
    weather: DailyWeather,
    taxon: str,
    places: np.ndarray,
    *,
    year: int,
    up_by: date | None = None,
    females: float = 0.5,
) -> list[TruePlant]:
    """Plants at `places` (shape = (n, 2), metres). With `up_by`, only such as came up by that day."""
    base, (month, day), median, sd = _EMERGENCE[taxon]
    start = date(year, month, day)
    plants = []
    for east, north in places:
        while True:
            up = _day_of(weather, start, base, median * float(np.exp(sd * rng.standard_normal())))
            if up_by is None or up <= up_by:
                break
        days = _DAYS_TO_FLOWER[taxon] * float(np.exp(0.12 * rng.standard_normal()))
        if up > date(year, 7, 15):
            days = 28 * float(np.exp(0.12 * rng.standard_normal()))
        flowers = up + timedelta(days=round(days))
        seed = flowers + timedelta(days=round(_DAYS_TO_SEED[taxon] * float(np.exp(0.12 * rng.standard_normal()))))
        sex = "both" if taxon == "AMARE" else "female" if rng.random() < females else "male"
        vigour = float(np.exp(0.25 * rng.standard_normal()))
        plants.append(TruePlant(taxon, float(east), float(north), up, vigour, flowers, seed, sex))
    return plants


def _day_of(weather: DailyWeather, start: date, base: float, need: float) -> date:
    total, day = 0.0, start
    while total < need and day < date(start.year, 10, 31):
        i = weather.index(day)
        total += max((weather.tmin_c[i] + weather.tmax_c[i]) / 2 - base, 0.0)
        day += timedelta(days=1)
    return day


def height_cm(plant: TruePlant, weather: DailyWeather, on: date, *, shade: float = 1.0) -> float:
    """Height on a day; a slow start, then so many centimetres a degree-day, levelling off at the taxon's size."""
    if on <= plant.up:
        return 0.0
    warmth = degree_days(weather, plant.up, on, 10.0)
    if warmth < _SLOW_START_DEGREE_DAYS:
        return 3.0 * warmth / _SLOW_START_DEGREE_DAYS
    free = 3.0 + shade * plant.vigour * _CM_PER_DEGREE_DAY[plant.taxon] * (warmth - _SLOW_START_DEGREE_DAYS)
    top = _TALLEST_CM[plant.taxon] * plant.vigour**0.5
    return float(top * (1 - np.exp(-free / top)))


def looks_of(
    rng: np.random.Generator, flora: Flora, plant: TruePlant, stage: str, characters: tuple[str, ...]
) -> dict[str, str | float]:
    """What a person reads off the plant: drawn from the published shares and sizes, with slips of eye and ruler."""
    looks: dict[str, str | float] = {}
    for name in characters:
        if name == "plant_sex" and plant.sex != "both":
            looks[name] = f"{plant.sex}_only"
            continue
        shares = flora.shares.get((plant.taxon, name, stage))
        measure = flora.measures.get((plant.taxon, name, stage))
        if shares is not None:
            states = list(shares.shares)
            state = str(rng.choice(states, p=[shares.shares[s] for s in states]))
            if rng.random() < _MISREAD:
                state = str(rng.choice([s for s in states if s != state] or states))
            looks[name] = state
        elif measure is not None:
            true = float(np.clip(measure.mean + measure.sd * rng.standard_normal(), measure.low, measure.high))
            looks[name] = round(true * float(np.exp(_RULER * rng.standard_normal())), 2)
    return looks
