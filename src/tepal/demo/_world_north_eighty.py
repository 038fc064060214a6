"""A first find: a few tall Palmer amaranth plants in August soybean, near the gate."""

from __future__ import annotations

from datetime import date

import numpy as np

from tepal.demo._world_ground import HALF_MILE, distance, laps, rectangle
from tepal.demo._world_plants import grow, height_cm, looks_of
from tepal.demo._world_story import YEAR, Scene, Story, found, notebook, truth


def tell(scene: Scene) -> Story:
    """A first find: a few tall Palmer amaranth plants in August soybean, near the gate."""
    rng, weather = scene.rng, scene.weather
    as_of, walked = date(YEAR, 8, 13), date(YEAR, 8, 12)
    book = notebook("north-eighty", 3.2, 5.1)
    width, height = HALF_MILE, HALF_MILE / 2
    gate = np.array([-width / 2, -40.0])
    found(
        book,
        "North Eighty",
        rectangle(width, height),
        on=date(YEAR, 4, 3),
        features=[
            {"kind": "gate", "name": "west gate", "geometry": {"type": "Point", "coordinates": book.lonlat(*gate)}}
        ],
    )
    book.write(
        "party",
        "coordinator",
        date(YEAR, 4, 3),
        {
            "name": "The operator of North Eighty",
            "roles": ["farms", "decides", "may_be_told"],
            "consent_to_enter": True,
            "consent_on": "2026-04-03",
        },
    )
    book.write(
        "crop",
        "coordinator",
        date(YEAR, 5, 20),
        {
            "year": YEAR,
            "crop": "soybean",
            "traits": ["glyphosate", "glufosinate", "2,4-D"],
            "planted": "2026-05-11",
            "row_cm": 76,
            "bearing_deg": 90,
        },
    )
    book.write(
        "done",
        "coordinator",
        date(YEAR, 6, 12),
        {"what": "sprayed", "ingredients": [{"name": "glyphosate", "group": "9"}], "tallest_cm": 8, "share": 1.0},
    )

    centre = gate + np.array([130.0, 22.0])
    plants = grow(
        rng,
        weather,
        "AMAPA",
        centre + 14 * rng.standard_normal((9, 2)),
        year=YEAR,
        up_by=date(YEAR, 6, 20),
        females=0.75,
    )
    track = laps(width, height, 30.0)[:, ::-1] * np.array([width / height, height / width])
    seen_chance = np.exp(-(distance(np.array([[p.east_m, p.north_m] for p in plants]), track) ** 2) / (2 * 6.0**2))
    seen = [plant for plant, chance in zip(plants, seen_chance, strict=True) if rng.random() < chance]
    book.write(
        "walk",
        "scout",
        walked,
        {
            "who": "scout",
            "track": book.line(track),
            "sigma_m": 6,
            "minutes": 150,
            "found": len(seen),
            "looked_for": ["AMAPA", "AMATU"],
        },
        hour=15,
    )
    for plant in seen:
        tall = height_cm(plant, weather, walked, shade=0.9)
        flowering = plant.flowers <= walked
        characters: tuple[str, ...] = ("petiole_blade_ratio_lower", "stem_hair_upper", "nodal_spines", "plant_sex")
        if plant.sex == "female":
            characters += ("bract_length_female", "seedhead_feel_female", "tepal_count_female")
        else:
            characters += ("bract_length_male",)
        stage = "reproductive" if flowering else "vegetative"
        book.write(
            "plant",
            "scout",
            walked,
            {
                "at": book.lonlat(plant.east_m, plant.north_m),
                "error_m": 5,
                "stage": stage,
                "looks": looks_of(rng, scene.flora, plant, stage, characters),
                "height_cm": round(tall),
                "flowering": flowering,
                "seed_dark": None,
            },
            hour=16,
        )
    return Story(book.site, as_of, book.entries, truth(plants, scene, as_of))
