"""A drainage ditch, mowed once in June: waterhemp branches from the stumps, and water runs on to other ground."""

from __future__ import annotations

from datetime import date

import numpy as np

from tepal.demo._world_ground import along
from tepal.demo._world_plants import cut_back, grow
from tepal.demo._world_scouting import party, scout
from tepal.demo._world_story import YEAR, Scene, Story, found, notebook, truth


def tell(scene: Scene) -> Story:
    """A drainage ditch, mowed once in June: waterhemp branches from the stumps, and water runs on to other ground."""
    rng, weather = scene.rng, scene.weather
    mowed, walked, as_of = date(YEAR, 6, 24), date(YEAR, 7, 15), date(YEAR, 7, 16)
    book = notebook("station-ditch", 2.4, -1.4)
    middle = np.array([[-430, 60], [-150, 35], [120, 20], [430, -55]], dtype=float)
    bank = np.array([0.0, 7.0])
    water = {"kind": "waterway", "name": "Station Ditch", "geometry": book.line(middle)}
    corners = np.concatenate([middle - bank, (middle + bank)[::-1]])
    found(book, "Station Ditch", corners, on=date(YEAR, 4, 2), ground="ditch", features=[water])
    roles = ("owner", "decides", "may_be_told")
    party(book, date(YEAR, 4, 2), "The Larkmoor drainage district", roles, may_enter=True)
    report = {
        "who": "the drainage district's mower",
        "how": "call",
        "words": "Mowed the ditch on the 24th, six inches. It has come back thick, red stems. When may I mow again?",
        "place": {"words": "Station Ditch, from the culvert down"},
        "answer_by": "2026-07-17",
    }
    done = {"what": "mowed", "cut_height_cm": 15, "share": 1.0, "words": "one pass down each bank"}
    book.write("done", "coordinator", mowed, done)
    book.write("report", "coordinator", date(YEAR, 7, 13), report)

    spots = along(rng, middle, 2_400) + np.column_stack([rng.uniform(-3, 3, 2_400), rng.choice([-5.0, 5.0], 2_400)])
    spots = spots[rng.random(2_400) < np.clip((spots[:, 0] + 430) / 700, 0.05, 1.0)]  # thicker down the ditch
    plants = cut_back(rng, weather, grow(rng, weather, "AMATU", spots, year=YEAR), mowed, blade_cm=15)
    # Stops from bank to bank, wherever they fall: on the thick bank alone they would count it for the whole ditch.
    stops = along(rng, middle, 18) + np.column_stack([np.zeros(18), rng.uniform(-6, 6, 18)])
    scout(
        book,
        scene,
        plants,
        on=walked,
        track=middle + np.array([0.0, 5.0]),
        stops=stops,
        area_m2=4,
        minutes=35,
        sigma_m=3,
    )
    return Story(book.site, as_of, book.entries, truth(plants, scene, as_of))
