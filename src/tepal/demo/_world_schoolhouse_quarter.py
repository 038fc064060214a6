"""A telephone call in June with a picture: seedlings that may be three species. Nobody has been there."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from tepal.demo._world_ground import HALF_MILE, rectangle
from tepal.demo._world_picture import seedlings
from tepal.demo._world_plants import grow, looks_of
from tepal.demo._world_scouting import some_of
from tepal.demo._world_story import YEAR, Scene, Story, found, notebook, truth


def tell(scene: Scene) -> Story:
    """A telephone call in June with a picture: seedlings that may be three species. Nobody has been there."""
    rng, weather = scene.rng, scene.weather
    called, as_of = date(YEAR, 6, 8), date(YEAR, 6, 9)
    book = notebook("schoolhouse-quarter", -4.4, 1.7)
    found(book, "Schoolhouse Quarter", rectangle(HALF_MILE, HALF_MILE), on=called)
    picture = seedlings(rng)
    book.write("photo", "coordinator", called, picture.body())
    report = {
        "who": "the tenant",
        "how": "call",
        "words": "Little pigweeds all over the low corner of the corn. Are these the bad ones?",
        "place": {"words": "southwest corner, below the pond", "point": book.lonlat(-310, -330), "error_m": 150},
        "photos": [picture.sha256],
        "answer_by": "2026-06-11",
    }
    book.write("report", "coordinator", called, report)
    book.write("crop", "coordinator", called, {"year": YEAR, "crop": "corn", "traits": None, "planted": "2026-05-04"})
    places = np.array([-310.0, -330.0]) + 60 * rng.standard_normal((900, 2))
    plants = grow(rng, weather, "AMATU", places[:520], year=YEAR) + grow(rng, weather, "AMARE", places[520:], year=YEAR)
    up = [plant for plant in plants if plant.up <= as_of - timedelta(days=8)]
    for plant in some_of(scene, up, 2):
        stage = "seedling_2-4_leaf"
        looks = looks_of(rng, scene.flora, plant, stage, ("leaf_outline", "first_leaf_tip_notch", "watermark"))
        looks["stem_hair_upper"] = "cannot_tell"
        body = {"stage": stage, "looks": looks, "photos": [picture.sha256], "seen_by": "photo"}
        book.write("plant", "coordinator", called, body, hour=14)
    return Story(book.site, as_of, book.entries, truth(plants, scene, as_of), {picture.file_name: picture.data})
