"""An owner who lives away and decides, a tenant who farms: July sorghum, entered with the owner's leave alone."""

from __future__ import annotations

from datetime import date

import numpy as np

from tepal.demo._world_ground import HALF_MILE, along, rectangle
from tepal.demo._world_plants import grow
from tepal.demo._world_scouting import crop, party, scout
from tepal.demo._world_story import YEAR, Scene, Story, found, notebook, truth


def tell(scene: Scene) -> Story:
    """An owner who lives away and decides, a tenant who farms: July sorghum, entered with the owner's leave alone."""
    rng = scene.rng
    asked, walked, as_of = date(YEAR, 7, 6), date(YEAR, 7, 13), date(YEAR, 7, 14)
    book = notebook("windmill-quarter", -5.6, 4.6)
    mill = {"kind": "other", "name": "windmill", "geometry": {"type": "Point", "coordinates": book.lonlat(-60, 150)}}
    found(book, "Windmill Quarter", rectangle(HALF_MILE, HALF_MILE), on=date(YEAR, 2, 9), features=[mill])
    party(book, asked, "The owner of Windmill Quarter, out of state", ("owner", "decides", "pays"), may_enter=True)
    party(book, asked, "The tenant of Windmill Quarter", ("farms", "may_be_told"))
    party(book, asked, "The cooperative's applicator", ("sprays",))
    crop(book, asked, "grain sorghum", date(YEAR, 5, 29), traits=[], row_cm=76, bearing_deg=0)
    sprayed = {
        "what": "sprayed",
        "ingredients": [
            {"name": "S-metolachlor", "rate": 1.4, "unit": "kg/ha", "group": "15"},
            {"name": "atrazine", "rate": 1.1, "unit": "kg/ha", "group": "5"},
        ],
        "volume_l_ha": 140,
        "weather": "dry for twelve days after",
        "survivors": True,
        "re_entry_until": "2026-05-31T14:00:00Z",
    }
    book.write("done", "coordinator", date(YEAR, 5, 30), sprayed)

    # One wide patch round the old windmill, and stragglers along the west side.
    patch = np.array([-60.0, 150.0]) + np.array([70.0, 55.0]) * rng.standard_normal((2_600, 2))
    edge = np.column_stack([rng.uniform(-400, -370, 240), rng.uniform(-400, 400, 240)])
    spots = np.concatenate([patch, edge])
    spots = spots[(np.abs(spots) < HALF_MILE / 2).all(axis=1)]
    plants = grow(rng, scene.weather, "AMATU", spots, year=YEAR)
    route = np.array(
        [[-390, -395], [-385, 390], [-190, 395], [-150, -395], [60, -395], [90, 395], [330, 395], [350, -395]]
    )
    stops = along(rng, route, 24)
    scout(book, scene, plants, on=walked, track=route, stops=stops, area_m2=50, minutes=110, shade=0.9)
    return Story(
        book.site, as_of, book.entries, truth(plants, scene, as_of), readers=("tenant", "owner", "applicator")
    )  # fmt: skip
