"""Wheat stubble three weeks after harvest: the combine took the tops, and what it left branches and flowers."""

from __future__ import annotations

from datetime import date

import numpy as np

from tepal.demo._world_ground import HALF_MILE, along, rectangle
from tepal.demo._world_plants import cut_back, grow
from tepal.demo._world_scouting import crop, party, scout
from tepal.demo._world_story import YEAR, Scene, Story, found, notebook, truth

# Standing wheat takes the light: what comes up below it stays low until it is cut (judgement).
_UNDER_WHEAT = 0.45
_BLADE_CM = 20


def tell(scene: Scene) -> Story:
    """Wheat stubble three weeks after harvest: the combine took the tops, and what it left branches and flowers."""
    rng, weather = scene.rng, scene.weather
    cut, walked, as_of = date(YEAR, 7, 7), date(YEAR, 7, 27), date(YEAR, 7, 28)
    book = notebook("elevator-wheat", -1.1, 6.3)
    width, height = HALF_MILE, HALF_MILE / 2
    found(book, "Elevator Wheat", rectangle(width, height), on=date(YEAR, 3, 3))
    roles = ("owner", "farms", "decides", "may_be_told")
    party(book, date(YEAR, 3, 3), "The operator of Elevator Wheat", roles, may_enter=True)
    crop(book, date(YEAR, 3, 3), "winter wheat", date(YEAR - 1, 9, 28), traits=[], row_cm=19)
    harvest = {
        "what": "harvested",
        "cut_height_cm": _BLADE_CM,
        "words": "custom crew; green tops went through the header",
    }
    book.write("done", "coordinator", cut, harvest)

    # Thickest where the straw lies thin: the end rows and the tramlines (numbers of the made world).
    tram = np.column_stack([rng.uniform(-width / 2, width / 2, 5_200), rng.choice(np.arange(-180, 181, 36.0), 5_200)])
    tram += rng.normal(0, [0.1, 2.5], tram.shape)
    ends = np.column_stack(
        [rng.choice([-1.0, 1.0], 1_600) * rng.uniform(380, 402, 1_600), rng.uniform(-200, 200, 1_600)]
    )
    spots = np.concatenate([tram, ends])
    spots = spots[(np.abs(spots) < [width / 2, height / 2]).all(axis=1)]
    grown = grow(rng, weather, "AMATU", spots, year=YEAR)
    plants = cut_back(rng, weather, grown, cut, blade_cm=_BLADE_CM, shade=_UNDER_WHEAT)
    route = np.array([[-390, -195], [-250, 190], [-110, -190], [30, 190], [170, -190], [300, 190], [395, -190]])
    stops = along(rng, route, 22)
    scout(book, scene, plants, on=walked, track=route, stops=stops, area_m2=25, minutes=70, sigma_m=5, looked_at=5)
    return Story(book.site, as_of, book.entries, truth(plants, scene, as_of))
