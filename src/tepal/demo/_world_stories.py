"""Larkmoor County: its sites, what is truly there, and what people saw of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tepal.demo import (
    _world_cottonwood_sixty,
    _world_creek_bottom,
    _world_elevator_stubble,
    _world_gravel_pit_forty,
    _world_hay_road,
    _world_north_eighty,
    _world_schoolhouse_quarter,
    _world_station_ditch,
    _world_texted_corner,
    _world_windmill_quarter,
)
from tepal.demo._world_story import Scene, Story
from tepal.demo._world_weather import DailyWeather

if TYPE_CHECKING:
    from tepal.flora import Flora

# A new one goes to the end: the streams of chance are given out in this order.
_TELLERS = (
    _world_north_eighty.tell,
    _world_schoolhouse_quarter.tell,
    _world_creek_bottom.tell,
    _world_gravel_pit_forty.tell,
    _world_cottonwood_sixty.tell,
    _world_texted_corner.tell,
    _world_windmill_quarter.tell,
    _world_station_ditch.tell,
    _world_elevator_stubble.tell,
    _world_hay_road.tell_yards,
    _world_hay_road.tell_alfalfa,
)


def tell_all(rng: np.random.Generator, weather: DailyWeather, flora: Flora) -> list[Story]:
    """Every site's story, each from its own stream of `rng`, so that one can change without moving the others."""
    return [
        tell(Scene(stream, weather, flora)) for tell, stream in zip(_TELLERS, rng.spawn(len(_TELLERS)), strict=True)
    ]
