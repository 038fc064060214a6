"""What the stories share: the scene they are drawn from, the book they are written in, the truth beside it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np

from tepal.demo._world_entries import Notebook
from tepal.demo._world_ground import FloatArray
from tepal.demo._world_plants import TruePlant, height_cm
from tepal.demo._world_weather import DailyWeather
from tepal.ground import Frame

if TYPE_CHECKING:
    from tepal.flora import Flora

YEAR = 2026
STATION = "Larkmoor Depot"
# The county is invented; it lies in the open Atlantic at 41.5 degrees north, so that no real farm can be meant.
CENTRE = (-45.0, 41.5)
_SIZES = ((5, "seedling"), (10, "under_10_cm"), (30, "10_30_cm"), (100, "30_100_cm"))


@dataclass(slots=True)
class Story:
    """One site: its entries, the day its letter is written, files that came along, and the truth.

    `readers`: who gets a letter; `asked`: the day on which the first text went back to whoever reported it.
    """

    site: str
    as_of: date
    entries: list[dict[str, Any]]
    truth: dict[str, Any]
    photos: dict[str, bytes] = field(default_factory=dict)
    readers: tuple[str, ...] = ("tenant",)
    asked: date | None = None


@dataclass(frozen=True, slots=True)
class Scene:
    """What a story is drawn from: its own stream of chance, the weather, the published looks."""

    rng: np.random.Generator
    weather: DailyWeather
    flora: Flora


def notebook(site: str, east_km: float, north_km: float) -> Notebook:
    lon, lat = Frame(*CENTRE).to_lonlat([1000 * east_km, 1000 * north_km])
    return Notebook(site, Frame(round(float(lon), 5), round(float(lat), 5)))


def found(
    book: Notebook,
    name: str,
    corners: FloatArray | None,
    *,
    on: date,
    ground: str = "field",
    features: list[dict[str, Any]] | None = None,
) -> None:
    """The site's first entry; without corners only the point in its middle is known."""
    where: dict[str, Any] = (
        {"point": book.lonlat(0, 0)}
        if corners is None
        else {"boundary": {"type": "Polygon", "coordinates": [book.ring(corners)]}}
    )
    about = {"name": name, "ground": ground, "county": "Larkmoor", "region": "CB", "station": STATION}
    book.write("site", "coordinator", on, {**about, **where, "features": features})


def size(height: float) -> str:
    return next((name for top, name in _SIZES if height <= top), "over_100_cm")


def truth(plants: list[TruePlant], scene: Scene, as_of: date) -> dict[str, Any]:
    up = [plant for plant in plants if plant.up <= as_of]
    codes = sorted({plant.taxon for plant in plants})
    truth: dict[str, Any] = {
        "plants": len(plants),
        "up": len(up),
        "by_taxon": {code: sum(plant.taxon == code for plant in plants) for code in codes},
        "up_by_taxon": {code: sum(plant.taxon == code for plant in up) for code in codes},
        "tallest_cm": round(max((height_cm(p, scene.weather, as_of) for p in up[:400]), default=0.0), 1),
    }
    for event in ("flowers", "viable_seed"):
        days = sorted(getattr(plant, event) for plant in up if plant.sex != "male")
        # The meaning of an event in the clock: a tenth of the plants then up have reached it.
        truth[event] = days[max(len(days) // 10 - 1, 0)].isoformat() if days else None
    return truth
