"""Walked at the end of June, nothing seen. Whether something is there, the draw decides."""

from __future__ import annotations

from datetime import date

import numpy as np

from tepal.demo._world_ground import distance, laps, rectangle
from tepal.demo._world_plants import grow
from tepal.demo._world_story import YEAR, Scene, Story, found, notebook, truth


def tell(scene: Scene) -> Story:
    """Walked at the end of June, nothing seen. Whether something is there, the draw decides."""
    rng, weather = scene.rng, scene.weather
    as_of, walked = date(YEAR, 7, 1), date(YEAR, 6, 30)
    book = notebook("cottonwood-sixty", 5.3, -0.6)
    width, height = 603.5, 402.3
    found(book, "Cottonwood Sixty", rectangle(width, height), on=date(YEAR, 4, 10))
    book.write(
        "party",
        "coordinator",
        date(YEAR, 4, 10),
        {
            "name": "The tenant of Cottonwood Sixty",
            "roles": ["farms", "may_be_told"],
            "consent_to_enter": True,
            "consent_on": "2026-04-10",
        },
    )
    book.write(
        "crop",
        "coordinator",
        date(YEAR, 5, 12),
        {
            "year": YEAR,
            "crop": "corn",
            "traits": ["glyphosate"],
            "planted": "2026-05-02",
            "row_cm": 76,
            "bearing_deg": 0,
        },
    )
    track = laps(width, height, 40.0)
    n = int(rng.integers(1, 5)) if rng.random() < 0.5 else 0
    places = np.column_stack([rng.uniform(-width / 2, width / 2, 5), rng.uniform(-height / 2, height / 2, 5)])[:n]
    missed = places[rng.random(n) > np.exp(-(distance(places, track) ** 2) / (2 * 6.0**2))] if n else places
    plants = grow(rng, weather, "AMATU", missed, year=YEAR, up_by=date(YEAR, 6, 20))
    book.write(
        "walk",
        "scout",
        walked,
        {
            "who": "scout",
            "track": book.line(track),
            "sigma_m": 6,
            "minutes": 95,
            "found": 0,
            "looked_for": ["AMAPA", "AMATU"],
        },
        hour=12,
    )
    return Story(book.site, as_of, book.entries, truth(plants, scene, as_of))
