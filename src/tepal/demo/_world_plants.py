"""True plants of the invented county: when each came up, how tall it is, when it flowers, what its looks are.

Plain rules, one plant and one day at a time, with numbers drawn within the published ranges. Nothing here comes from
the rooms that later have to find the truth again, so that they can be wrong and be caught.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from tepal.demo._world_weather import DailyWeather, FloatArray

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
# Kansas extension: about three weeks after the combine had topped them, plants in wheat stubble began to flower
# (KSUstubble2019).
_DAYS_TO_FLOWER_AGAIN = 23.0
_SLOW_START_DEGREE_DAYS = 75.0
_TALLEST_CM = {"AMAPA": 210.0, "AMATU": 190.0, "AMARE": 130.0}
_MISREAD = 0.06
_RULER = 0.08


@dataclass(frozen=True, slots=True)
class TruePlant:
    """One plant: its name, place in metres, the days of its life, and what a blade left of it, where one came by."""

    taxon: str
    east_m: float
    north_m: float
    up: date
    vigour: float
    flowers: date
    viable_seed: date
    sex: str  # "female", "male" or "both"
    cut_on: date | None = None
    stub_cm: float = 0.0
    again: date | None = None  # flowers that the blade took stand again from this day on


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
    warmth = _warmth_from(weather, start, base)
    plants = []
    for east, north in places:
        while True:
            need = median * float(np.exp(sd * rng.standard_normal()))
            up = start + timedelta(days=min(int(np.searchsorted(warmth, need)) + 1, len(warmth)))
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


def _warmth_from(weather: DailyWeather, start: date, base: float) -> FloatArray:
    """Degree-days summed day by day from `start` to the end of October."""
    a, b = weather.index(start), weather.index(date(start.year, 10, 31))
    mean = (weather.tmin_c[a:b] + weather.tmax_c[a:b]) / 2
    return np.cumsum(np.clip(mean - base, 0, None))


def height_cm(plant: TruePlant, weather: DailyWeather, on: date, *, shade: float = 1.0) -> float:
    """Height on a day; a slow start, then so many centimetres a degree-day, levelling off at the taxon's size."""
    if on <= plant.up:
        return 0.0
    if plant.cut_on is not None and on >= plant.cut_on:
        # A stub has its root: no slow start.
        free = plant.stub_cm
        if on > plant.cut_on:
            warmth = degree_days(weather, plant.cut_on, on, 10.0)
            free += shade * plant.vigour * _CM_PER_DEGREE_DAY[plant.taxon] * warmth
    else:
        warmth = degree_days(weather, plant.up, on, 10.0)
        if warmth < _SLOW_START_DEGREE_DAYS:
            return 3.0 * warmth / _SLOW_START_DEGREE_DAYS
        free = 3.0 + shade * plant.vigour * _CM_PER_DEGREE_DAY[plant.taxon] * (warmth - _SLOW_START_DEGREE_DAYS)
    top = _TALLEST_CM[plant.taxon] * plant.vigour**0.5
    return float(top * (1 - np.exp(-free / top)))


def cut_back(
    rng: np.random.Generator,
    weather: DailyWeather,
    plants: Sequence[TruePlant],
    on: date,
    *,
    blade_cm: float,
    shade: float = 1.0,
) -> list[TruePlant]:
    """The same plants after a blade: those that stood higher lost their tops, and flower again some weeks later.

    `shade` held them down until that day. Plants that were not yet up, or lower than the blade, go on as they were.
    """
    after = []
    for plant in plants:
        tall = height_cm(plant, weather, on, shade=shade)
        if tall <= 0:
            after.append(plant)
        elif tall <= blade_cm:
            after.append(replace(plant, cut_on=on, stub_cm=tall))
        else:
            again = on + timedelta(days=round(_DAYS_TO_FLOWER_AGAIN * float(np.exp(0.15 * rng.standard_normal()))))
            again = max(again, plant.flowers)
            # What had come before the blade did has come; what had not waits for the new shoots.
            flowers = plant.flowers if plant.flowers < on else again
            ripe = plant.viable_seed - plant.flowers
            seed = plant.viable_seed if plant.viable_seed < on else again + ripe
            after.append(replace(plant, flowers=flowers, viable_seed=seed, cut_on=on, stub_cm=blade_cm, again=again))
    return after


def in_flower(plant: TruePlant, on: date) -> bool:
    """Whether open flowers stand on the plant on a day."""
    if plant.again is not None and plant.cut_on is not None and on >= plant.cut_on:
        return on >= plant.again
    return on >= plant.flowers


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
