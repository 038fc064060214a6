"""A first find: a few tall Palmer amaranth plants in August soybean, near the gate where manure was unloaded."""

from __future__ import annotations

from datetime import date

import numpy as np

from tepal.demo._world_ground import HALF_MILE, laps, rectangle
from tepal.demo._world_plants import grow
from tepal.demo._world_scouting import crop, look_at, party, seen_from, walk
from tepal.demo._world_story import YEAR, Scene, Story, found, notebook, truth


def tell(scene: Scene) -> Story:
    """A first find: a few tall Palmer amaranth plants in August soybean, near the gate where manure was unloaded."""
    rng, weather = scene.rng, scene.weather
    as_of, walked = date(YEAR, 8, 13), date(YEAR, 8, 12)
    book = notebook("north-eighty", 3.2, 5.1)
    width, height = HALF_MILE, HALF_MILE / 2
    gate = np.array([-width / 2, -40.0])
    west_gate = {
        "kind": "gate",
        "name": "west gate",
        "geometry": {"type": "Point", "coordinates": book.lonlat(*gate)},
    }
    found(book, "North Eighty", rectangle(width, height), on=date(YEAR, 4, 3), features=[west_gate])
    roles = ("farms", "decides", "may_be_told")
    party(book, date(YEAR, 4, 3), "The operator of North Eighty", roles, may_enter=True)
    traits = ["glyphosate", "glufosinate", "2,4-D"]
    crop(book, date(YEAR, 5, 20), "soybean", date(YEAR, 5, 11), traits=traits, row_cm=76, bearing_deg=90)
    sprayed = {"what": "sprayed", "ingredients": [{"name": "glyphosate", "group": "9"}], "tallest_cm": 8, "share": 1.0}
    book.write("done", "coordinator", date(YEAR, 6, 12), sprayed)

    centre = gate + np.array([130.0, 22.0])
    spots = centre + 14 * rng.standard_normal((9, 2))
    plants = grow(rng, weather, "AMAPA", spots, year=YEAR, up_by=date(YEAR, 6, 20), females=0.75)
    track = laps(width, height, 30.0)[:, ::-1] * np.array([width / height, height / width])
    seen = seen_from(rng, plants, track, 6.0)
    walk(book, walked, track, sigma_m=6, minutes=150, hour=15, found=len(seen))
    look_at(book, scene, seen, on=walked, hour=16, shade=0.9, error_m=5)

    # After the letter: the voucher went to the herbarium, and its answer made this the county's first proof.
    voucher = {"what": "voucher", "test": "species"}
    book.write("sample", "scout", date(YEAR, 8, 14), {"step": "sent", **voucher})
    book.write(
        "sample", "coordinator", date(YEAR, 8, 24), {"step": "result", **voucher, "taxon": "AMAPA", "sure": 0.99}
    )
    return Story(book.site, as_of, book.entries, truth(plants, scene, as_of))
