"""A false alarm in July: the caller feared Palmer amaranth, it is redroot."""

from __future__ import annotations

from datetime import date

import numpy as np

from tepal.demo._world_ground import HALF_MILE, along, rectangle
from tepal.demo._world_plants import grow
from tepal.demo._world_scouting import crop, party, scout
from tepal.demo._world_story import YEAR, Scene, Story, found, notebook, truth

_LEAVES = ("stem_hair_upper", "petiole_blade_ratio_lower", "leaf_hair_lower", "leaf_gloss", "taproot_colour")


def tell(scene: Scene) -> Story:
    """A false alarm in July: the caller feared Palmer amaranth, it is redroot."""
    rng = scene.rng
    told, walked, as_of = (date(YEAR, 7, day) for day in (6, 8, 9))
    book = notebook("gravel-pit-forty", -2.2, -2.6)
    side = HALF_MILE / 2
    found(book, "Gravel Pit Forty", rectangle(side, side), on=told)
    report = {
        "who": "the applicator",
        "how": "text",
        "words": "Think we have Palmer by the old pit. Long stems on the leaves.",
        "place": {"words": "east side by the pit", "point": book.lonlat(120, 30), "error_m": 60},
    }
    book.write("report", "coordinator", told, report)
    roles = ("farms", "decides", "may_be_told")
    party(book, told, "The operator of Gravel Pit Forty", roles, may_enter=True)
    crop(book, told, "soybean", date(YEAR, 5, 18), traits=["glyphosate", "dicamba"], row_cm=38)

    places = np.array([118.0, 25.0]) + np.array([35.0, 60.0]) * rng.standard_normal((8_000, 2))
    places = places[(np.abs(places) < side / 2).all(axis=1)]
    plants = grow(rng, scene.weather, "AMARE", places, year=YEAR)
    route = np.array([[-180, -185], [-110, 185], [-30, -185], [50, 185], [125, -185], [185, 150]], dtype=float)
    stops = along(rng, route, 16)
    scout(book, scene, plants, on=walked, track=route, stops=stops, area_m2=4, minutes=50, leaves=_LEAVES, shade=0.9)
    return Story(book.site, as_of, book.entries, truth(plants, scene, as_of))
