"""The office of `_served`, and what a desk needs to have something to show."""

from __future__ import annotations

from typing import Any

from _served import OTHER, OWN, World
from tepal.serve.desk import Desk

SQUARE = {
    "type": "Polygon",
    "coordinates": [[[-96.2, 41.5], [-96.19, 41.5], [-96.19, 41.51], [-96.2, 41.51], [-96.2, 41.5]]],
}
FAR = {
    "type": "Polygon",
    "coordinates": [[[-96.32, 41.61], [-96.31, 41.61], [-96.31, 41.62], [-96.32, 41.62], [-96.32, 41.61]]],
}
LOOKS = {"petiole_blade_ratio_lower": 1.4, "stem_hair_upper": "none"}


def desk_of(world: World) -> Desk:
    made: Any = world.client.app
    found: Desk = made.state.desk
    return found


def settle(world: World) -> None:
    """Until every reading of the office's day holds."""
    desk = desk_of(world)
    assert desk.readings.settled(world.settings.today(), seconds=60)


def open_county(world: World) -> None:
    """Two sites with a boundary, plants with looks, and readings of both."""
    for site, name, boundary in ((OWN, "Creek Bottom", SQUARE), (OTHER, "North Eighty", FAR)):
        short = "own" if site == OWN else "other"
        body = {"name": name, "ground": "field", "region": "CB", "county": "Larkmoor", "boundary": boundary}
        world.add(f"{short} ground", "site", body, site=site, amends=world.made[f"{short} site"])
        at = [boundary["coordinates"][0][0][0] + 0.004, boundary["coordinates"][0][0][1] + 0.004]  # type: ignore[index]
        plant = {"stage": "vegetative", "looks": LOOKS, "at": at}
        world.add(f"{short} plant", "plant", plant, site=site)
    follow(world)
    settle(world)


def follow(world: World) -> None:
    """Start the desk, in a thread of this process; phones are told from it, as once the server has started."""
    desk = desk_of(world)
    desk.readings.start(workers=0)
    made: Any = world.client.app
    made.state.tell = desk.told
