"""Walked at the end of June, nothing seen. Whether something is there, the draw decides."""

from __future__ import annotations

from datetime import date

import numpy as np

from tepal.demo._world_ground import distance, laps, rectangle
from tepal.demo._world_plants import grow
from tepal.demo._world_scouting import crop, party, walk
from tepal.demo._world_story import YEAR, Scene, Story, found, notebook, truth


def tell(scene: Scene) -> Story:
    """Walked at the end of June, nothing seen. Whether something is there, the draw decides."""
    rng = scene.rng
    as_of, walked = date(YEAR, 7, 1), date(YEAR, 6, 30)
    book = notebook("cottonwood-sixty", 5.3, -0.6)
    width, height = 603.5, 402.3
    found(book, "Cottonwood Sixty", rectangle(width, height), on=date(YEAR, 4, 10))
    party(book, date(YEAR, 4, 10), "The tenant of Cottonwood Sixty", ("farms", "may_be_told"), may_enter=True)
    crop(book, date(YEAR, 5, 12), "corn", date(YEAR, 5, 2), traits=["glyphosate"], row_cm=76, bearing_deg=0)
    track = laps(width, height, 40.0)
    n = int(rng.integers(1, 5)) if rng.random() < 0.5 else 0
    places = np.column_stack([rng.uniform(-width / 2, width / 2, 5), rng.uniform(-height / 2, height / 2, 5)])[:n]
    missed = places[rng.random(n) > np.exp(-(distance(places, track) ** 2) / (2 * 6.0**2))] if n else places
    plants = grow(rng, scene.weather, "AMATU", missed, year=YEAR, up_by=date(YEAR, 6, 20))
    walk(book, walked, track, sigma_m=6, minutes=95, hour=12, found=0)
    return Story(book.site, as_of, book.entries, truth(plants, scene, as_of))
