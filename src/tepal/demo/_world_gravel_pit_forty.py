"""A false alarm in July: the caller feared Palmer amaranth, it is redroot."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from tepal.demo._world_ground import HALF_MILE, along, rectangle
from tepal.demo._world_plants import grow, height_cm, looks_of
from tepal.demo._world_story import YEAR, Scene, Story, found, notebook, size, truth


def tell(scene: Scene) -> Story:
    """A false alarm in July: the caller feared Palmer amaranth, it is redroot."""
    rng, weather = scene.rng, scene.weather
    as_of, walked = date(YEAR, 7, 9), date(YEAR, 7, 8)
    book = notebook("gravel-pit-forty", -2.2, -2.6)
    side = HALF_MILE / 2
    found(book, "Gravel Pit Forty", rectangle(side, side), on=date(YEAR, 7, 6))
    book.write(
        "report",
        "coordinator",
        date(YEAR, 7, 6),
        {
            "who": "the applicator",
            "how": "text",
            "words": "Think we have Palmer by the old pit. Long stems on the leaves.",
            "place": {"words": "east side by the pit", "point": book.lonlat(120, 30), "error_m": 60},
        },
    )
    book.write(
        "party",
        "coordinator",
        date(YEAR, 7, 6),
        {
            "name": "The operator of Gravel Pit Forty",
            "roles": ["farms", "decides", "may_be_told"],
            "consent_to_enter": True,
            "consent_on": "2026-07-06",
        },
    )
    book.write(
        "crop",
        "coordinator",
        date(YEAR, 7, 6),
        {"year": YEAR, "crop": "soybean", "traits": ["glyphosate", "dicamba"], "planted": "2026-05-18", "row_cm": 38},
    )
    places = np.array([118.0, 25.0]) + np.array([35.0, 60.0]) * rng.standard_normal((8_000, 2))
    places = places[(np.abs(places) < side / 2).all(axis=1)]
    plants = grow(rng, weather, "AMARE", places, year=YEAR)
    standing = [plant for plant in plants if plant.up <= walked]
    spots = np.array([[p.east_m, p.north_m] for p in standing])
    route = np.array([[-180, -185], [-110, 185], [-30, -185], [50, 185], [125, -185], [185, 150]], dtype=float)
    walk = book.write(
        "walk",
        "scout",
        walked,
        {"who": "scout", "track": book.line(route), "sigma_m": 4, "minutes": 50, "looked_for": ["AMAPA", "AMATU"]},
        hour=13,
    )
    stops = along(rng, route, 16)
    for place in stops:
        near = [p for p, spot in zip(standing, spots, strict=True) if np.abs(spot - place).max() <= 1.0]
        tall = [height_cm(p, weather, walked, shade=0.9) for p in near]
        book.write(
            "stop",
            "scout",
            walked,
            {
                "at": book.lonlat(*place),
                "error_m": 4,
                "walk": walk,
                "area_m2": 4.0,
                "counts": [
                    {
                        "taxon": "pigweed",
                        "size": size(max(tall)) if tall else "unknown",
                        "count": len(near),
                        **({"tallest_cm": round(max(tall))} if tall else {}),
                    }
                ],
            },
            hour=13.2,
        )
    old = [plant for plant in standing if plant.up <= walked - timedelta(days=25)]
    for k in rng.choice(len(old), 4, replace=False):
        plant = old[int(k)]
        looks = looks_of(
            rng,
            scene.flora,
            plant,
            "vegetative",
            ("stem_hair_upper", "petiole_blade_ratio_lower", "leaf_hair_lower", "leaf_gloss", "taproot_colour"),
        )
        book.write(
            "plant",
            "scout",
            walked,
            {
                "at": book.lonlat(plant.east_m, plant.north_m),
                "error_m": 4,
                "stage": "vegetative",
                "looks": looks,
                "height_cm": round(height_cm(plant, weather, walked, shade=0.9)),
                "flowering": False,
            },
            hour=14,
        )
    return Story(book.site, as_of, book.entries, truth(plants, scene, as_of))
