"""What the people of the county write down, each kind in one way: parties, crops, walks, counts, looks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np

from tepal.demo._world_entries import Notebook
from tepal.demo._world_ground import FloatArray, distance
from tepal.demo._world_plants import TruePlant, height_cm, in_flower, looks_of
from tepal.demo._world_story import YEAR, Scene, size

_TO_BE_SEEN = timedelta(days=14)
_COUNTED_IN_PASSING = 60
LEAVES = ("stem_hair_upper", "petiole_blade_ratio_lower", "leaf_outline", "leaf_gloss", "widest_point")
_FLOWERS = {
    "female": (
        "petiole_blade_ratio_lower",
        "stem_hair_upper",
        "nodal_spines",
        "plant_sex",
        "bract_length_female",
        "seedhead_feel_female",
        "tepal_count_female",
    ),
    "male": ("petiole_blade_ratio_lower", "stem_hair_upper", "nodal_spines", "plant_sex", "bract_length_male"),
    "both": ("stem_hair_upper", "inflorescence_type", "bract_length_female", "tepal_count_female"),
}


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """Plants above the ground on the day of a walk: places in metres, shape = (n, 2), and heights in cm."""

    spots: FloatArray
    heights_cm: FloatArray


def standing(plants: Sequence[TruePlant], scene: Scene, on: date, *, shade: float = 1.0) -> Standing:
    up = [plant for plant in plants if plant.up <= on]
    return Standing(
        np.array([[plant.east_m, plant.north_m] for plant in up]).reshape(-1, 2),
        np.array([height_cm(plant, scene.weather, on, shade=shade) for plant in up]),
    )


def party(book: Notebook, on: date, name: str, roles: Sequence[str], *, may_enter: bool | None = None) -> None:
    """A person of the site; `may_enter` is their answer of that day, None where nobody asked."""
    asked = {} if may_enter is None else {"consent_to_enter": may_enter, "consent_on": on.isoformat()}
    book.write("party", "coordinator", on, {"name": name, "roles": list(roles), **asked})


def crop(book: Notebook, on: date, what: str, planted: date, **more: Any) -> None:
    body = {"year": YEAR, "crop": what, "planted": planted.isoformat(), **more}
    book.write("crop", "coordinator", on, body)


def walk(
    book: Notebook, on: date, track: FloatArray, *, sigma_m: float, minutes: int, hour: float, found: int | None = None
) -> str:
    body = {
        "who": "scout",
        "track": book.line(track),
        "sigma_m": sigma_m,
        "minutes": minutes,
        "found": found,
        "looked_for": ["AMAPA", "AMATU"],
    }
    return book.write("walk", "scout", on, body, hour=hour)


def count_at(
    book: Notebook,
    there: Standing,
    places: FloatArray,
    areas_m2: Iterable[float],
    *,
    on: date,
    hour: float,
    walk: str | None = None,
    error_m: float = 4.0,
) -> None:
    """A stop at each place (shape = (n, 2), metres): every plant in a square of that area is counted by its size."""
    for place, area in zip(places, areas_m2, strict=True):
        near = (np.abs(there.spots - place) <= np.sqrt(area) / 2).all(axis=1)
        by_size: dict[str, list[float]] = {}
        for tall in there.heights_cm[near]:
            by_size.setdefault(size(tall), []).append(float(tall))
        counts = [
            {"taxon": "pigweed", "size": name, "count": len(tall), "tallest_cm": max(round(max(tall)), 1)}
            for name, tall in sorted(by_size.items())
        ]
        body = {
            "at": book.lonlat(*place),
            "error_m": error_m,
            "walk": walk,
            "area_m2": area,
            "counts": counts or [{"taxon": "pigweed", "size": "unknown", "count": 0}],
        }
        book.write("stop", "scout", on, body, hour=hour)


def look_at(
    book: Notebook,
    scene: Scene,
    plants: Iterable[TruePlant],
    *,
    on: date,
    hour: float,
    leaves: tuple[str, ...] = LEAVES,
    shade: float = 0.95,
    error_m: float = 4.0,
) -> None:
    """A close look at each plant: flowers where it has them, else `leaves`."""
    for plant in plants:
        flowering = in_flower(plant, on)
        stage = "reproductive" if flowering else "vegetative"
        looks = looks_of(scene.rng, scene.flora, plant, stage, _FLOWERS[plant.sex] if flowering else leaves)
        body = {
            "at": book.lonlat(plant.east_m, plant.north_m),
            "error_m": error_m,
            "stage": stage,
            "looks": looks,
            "height_cm": round(height_cm(plant, scene.weather, on, shade=shade)),
            "flowering": flowering,
        }
        book.write("plant", "scout", on, body, hour=hour)


def seen_from(
    rng: np.random.Generator, plants: Sequence[TruePlant], track: FloatArray, sigma_m: float
) -> list[TruePlant]:
    """Those that somebody on the track sees: with chance exp(-d²/2σ²), d the distance to the track."""
    away = distance(np.array([[plant.east_m, plant.north_m] for plant in plants]).reshape(-1, 2), track)
    return [
        plant
        for plant, chance in zip(plants, np.exp(-(away**2) / (2 * sigma_m**2)), strict=True)
        if rng.random() < chance
    ]


def some_of(scene: Scene, plants: Sequence[TruePlant], n: int) -> list[TruePlant]:
    """So many plants, drawn without looking."""
    return [plants[int(k)] for k in scene.rng.choice(len(plants), min(n, len(plants)), replace=False)]


def scout(
    book: Notebook,
    scene: Scene,
    plants: Sequence[TruePlant],
    *,
    on: date,
    track: FloatArray,
    stops: FloatArray,
    area_m2: float,
    minutes: int,
    sigma_m: float = 4.0,
    hour: float = 13.0,
    shade: float = 1.0,
    looked_at: int = 4,
    leaves: tuple[str, ...] = LEAVES,
) -> None:
    """A whole visit: the walk, counts at the stops, and a close look at some of the plants that were seen on the way.

    The plants seen from the track are told as a number where they are few enough for anybody to have counted them.
    """
    up = [plant for plant in plants if plant.up <= on - _TO_BE_SEEN]
    seen = seen_from(scene.rng, up, track, sigma_m)
    found = len(seen) if len(seen) <= _COUNTED_IN_PASSING else None
    way = walk(book, on, track, sigma_m=sigma_m, minutes=minutes, hour=hour, found=found)
    there = standing(plants, scene, on, shade=shade)
    count_at(book, there, stops, [area_m2] * len(stops), on=on, hour=hour + 0.2, walk=way)
    near = some_of(scene, seen, looked_at) if seen else []
    look_at(book, scene, near, on=on, hour=hour + 1.0, leaves=leaves, shade=shade)
