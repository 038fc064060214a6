"""A telephone call in June with a picture: seedlings that may be three species. Nobody has been there."""

from __future__ import annotations

import hashlib
from datetime import date, timedelta

import numpy as np

from tepal.demo._world_ground import HALF_MILE, rectangle
from tepal.demo._world_picture import seedlings_png
from tepal.demo._world_plants import grow, looks_of
from tepal.demo._world_story import YEAR, Scene, Story, found, notebook, truth


def tell(scene: Scene) -> Story:
    """A telephone call in June with a picture: seedlings that may be three species. Nobody has been there."""
    rng, weather = scene.rng, scene.weather
    as_of = date(YEAR, 6, 9)
    book = notebook("schoolhouse-quarter", -4.4, 1.7)
    side = HALF_MILE
    found(book, "Schoolhouse Quarter", rectangle(side, side), on=date(YEAR, 6, 8))
    picture = seedlings_png(rng)
    digest = hashlib.sha256(picture).hexdigest()
    book.write(
        "photo",
        "coordinator",
        date(YEAR, 6, 8),
        {"sha256": digest, "media_type": "image/png", "size_bytes": len(picture)},
    )
    book.write(
        "report",
        "coordinator",
        date(YEAR, 6, 8),
        {
            "who": "the tenant",
            "how": "call",
            "words": "Little pigweeds all over the low corner of the corn. Are these the bad ones?",
            "place": {"words": "southwest corner, below the pond", "point": book.lonlat(-310, -330), "error_m": 150},
            "photos": [digest],
            "answer_by": "2026-06-11",
        },
    )
    book.write(
        "crop", "coordinator", date(YEAR, 6, 8), {"year": YEAR, "crop": "corn", "traits": None, "planted": "2026-05-04"}
    )
    places = np.array([-310.0, -330.0]) + 60 * rng.standard_normal((900, 2))
    plants = grow(rng, weather, "AMATU", places[:520], year=YEAR) + grow(rng, weather, "AMARE", places[520:], year=YEAR)
    up = [plant for plant in plants if plant.up <= as_of - timedelta(days=8)]
    for plant in (up[int(i)] for i in rng.choice(len(up), 2, replace=False)):
        stage = "seedling_2-4_leaf"
        looks = looks_of(rng, scene.flora, plant, stage, ("leaf_outline", "first_leaf_tip_notch", "watermark"))
        looks["stem_hair_upper"] = "cannot_tell"
        book.write(
            "plant",
            "coordinator",
            date(YEAR, 6, 8),
            {"stage": stage, "looks": looks, "photos": [digest], "seen_by": "photo"},
            hour=14,
        )
    return Story(book.site, as_of, book.entries, truth(plants, scene, as_of), {f"{digest}.png": picture})
