"""A road that seed took: alfalfa cut too late, hay to a feedlot, its manure to North Eighty. Told from its end.

The first find at North Eighty led back to the feedlot, and from there to the alfalfa; both were walked in September.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np

from tepal.demo._world_entries import Notebook
from tepal.demo._world_ground import along, rectangle
from tepal.demo._world_plants import cut_back, grow
from tepal.demo._world_scouting import crop, party, scout
from tepal.demo._world_story import YEAR, Scene, Story, found, notebook, truth

_MEADOW, _YARDS = "sandhill-alfalfa", "depot-yards"
_LEAVES = ("stem_hair_upper", "petiole_blade_ratio_lower", "fold_test_lower_leaf", "leaf_outline", "watermark")


def tell_alfalfa(scene: Scene) -> Story:
    """Where the hay grew: Palmer amaranth in alfalfa, some of it baled with seed in two years."""
    rng, weather = scene.rng, scene.weather
    cut, walked, as_of = date(YEAR, 8, 8), date(YEAR, 9, 2), date(YEAR, 9, 3)
    book = notebook(_MEADOW, -6.8, -4.9)
    side = 402.336
    found(book, "Sandhill Alfalfa", rectangle(side, side), on=date(YEAR - 1, 4, 20))
    roles = ("owner", "farms", "decides", "may_be_told")
    party(book, date(YEAR, 8, 29), "The grower of Sandhill Alfalfa", roles, may_enter=True)
    party(book, date(YEAR, 8, 29), "The custom baler", ("harvests",))
    crop(book, date(YEAR, 8, 29), "alfalfa", date(YEAR - 2, 8, 20), traits=[])
    _moved(book, date(YEAR - 1, 9, 12), "hay, third cutting", "62 large bales", to_site=_YARDS)
    _moved(book, date(YEAR, 8, 10), "hay, third cutting", "48 large bales", to_site=_YARDS)
    _moved(
        book, date(YEAR, 8, 11), "hay, third cutting", "6 large bales", to_words="a horse pasture over the county line"
    )
    book.write("done", "coordinator", cut, {"what": "harvested", "cut_height_cm": 8, "words": "third cutting"})

    spots = np.array([70.0, -90.0]) + np.array([55.0, 30.0]) * rng.standard_normal((420, 2))
    grown = grow(rng, weather, "AMAPA", spots[(np.abs(spots) < side / 2).all(axis=1)], year=YEAR)
    plants = cut_back(rng, weather, grown, cut, blade_cm=8, shade=0.8)
    route = np.array([[-190, -190], [-120, 190], [-40, -190], [40, 190], [100, -190], [180, 190]], dtype=float)
    stops = along(rng, route, 20)
    scout(book, scene, plants, on=walked, track=route, stops=stops, area_m2=25, minutes=55, leaves=_LEAVES)
    facts = truth(plants, scene, as_of) | {"seed_went_to": [_YARDS, "north-eighty"], "from": f"{YEAR - 1}-08-01"}
    return Story(book.site, as_of, book.entries, facts, readers=("tenant", "harvester"))


def tell_yards(scene: Scene) -> Story:
    """Where the hay was fed: a feedlot, Palmer amaranth along its fences, and manure that went out in April."""
    rng, weather = scene.rng, scene.weather
    walked, as_of = date(YEAR, 8, 28), date(YEAR, 8, 29)
    book = notebook(_YARDS, 0.4, 3.6)
    found(book, "Depot Yards", rectangle(210, 150), on=date(YEAR - 1, 4, 20), ground="feedlot")
    roles = ("owner", "decides", "may_be_told")
    party(book, date(YEAR, 8, 26), "The manager of Depot Yards", roles, may_enter=True)
    # Out before the hay came in: this load can have carried none of its seed.
    _moved(book, date(YEAR - 1, 4, 2), "manure", "22 spreader loads", to_site="cottonwood-sixty")
    _moved(book, date(YEAR, 4, 8), "manure", "9 spreader loads", to_site="north-eighty")
    note = {
        "words": "Called in the trace back from North Eighty: manure of these pens was spread there in April, "
        "unloaded at the west gate. Hay since last fall from Sandhill Alfalfa; a quarter of this August's bales is "
        "still stacked."
    }
    book.write("note", "coordinator", date(YEAR, 8, 26), note)

    fence = np.array([[-100, -70], [100, -70], [100, 70]], dtype=float)
    heap = np.array([-70.0, 52.0]) + 6 * rng.standard_normal((60, 2))
    spots = np.concatenate([along(rng, fence, 110) + rng.normal(0, 0.8, (110, 2)), heap])
    plants = grow(rng, weather, "AMAPA", spots, year=YEAR, up_by=date(YEAR, 7, 25))
    # Through the pens too: counts along the fences alone would be taken for the whole yard.
    lane = np.array([[-100, -71], [-60, 71], [-20, -71], [20, 71], [60, -71], [98, 71]], dtype=float)
    stops = along(rng, lane, 20)
    scout(book, scene, plants, on=walked, track=lane, stops=stops, area_m2=20, minutes=40, sigma_m=3, leaves=_LEAVES)
    facts = truth(plants, scene, as_of) | {"seed_came_from": [_MEADOW]}
    return Story(book.site, as_of, book.entries, facts)


def _moved(book: Notebook, on: date, what: str, tag: str, **to: Any) -> None:
    book.write("move", "coordinator", on, {"what": what, "from_site": book.site, "tag": tag, **to})
