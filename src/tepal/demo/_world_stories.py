"""Larkmoor County: five sites, what is truly there, and what people saw of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tepal.demo import (
    _world_cottonwood_sixty,
    _world_creek_bottom,
    _world_gravel_pit_forty,
    _world_north_eighty,
    _world_schoolhouse_quarter,
)
from tepal.demo._world_story import Scene, Story
from tepal.demo._world_weather import DailyWeather

if TYPE_CHECKING:
    from tepal.flora import Flora

_TELLERS = (
    _world_north_eighty.tell,
    _world_schoolhouse_quarter.tell,
    _world_creek_bottom.tell,
    _world_gravel_pit_forty.tell,
    _world_cottonwood_sixty.tell,
)


def tell_all(rng: np.random.Generator, weather: DailyWeather, flora: Flora) -> list[Story]:
    """All five stories, each from its own stream of `rng`, so that one can change without moving the others."""
    return [
        tell(Scene(stream, weather, flora)) for tell, stream in zip(_TELLERS, rng.spawn(len(_TELLERS)), strict=True)
    ]
