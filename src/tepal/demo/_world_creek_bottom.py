"""A heavy patch of waterhemp along a waterway in June soybean; some of it lived through a spraying."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from tepal.demo._world_ground import along, distance, inside
from tepal.demo._world_plants import grow, height_cm, looks_of
from tepal.demo._world_story import YEAR, Scene, Story, found, notebook, size, truth


def tell(scene: Scene) -> Story:
    """A heavy patch of waterhemp along a waterway in June soybean; some of it lived through a spraying."""
    rng, weather = scene.rng, scene.weather
    as_of, walked = date(YEAR, 6, 25), date(YEAR, 6, 24)
    book = notebook("creek-bottom", 0.9, -3.8)
    corners = np.array([[-330, -300], [300, -300], [360, -80], [300, 280], [-120, 320], [-330, 210]], dtype=float)
    creek = np.array([[-330, 120], [-180, 60], [-40, 85], [110, 10], [240, -30], [350, -110]], dtype=float)
    found(
        book,
        "Creek Bottom",
        corners,
        on=date(YEAR, 3, 20),
        features=[{"kind": "waterway", "name": "Mill Creek", "geometry": book.line(creek)}],
    )
    book.write(
        "party",
        "coordinator",
        date(YEAR, 3, 20),
        {
            "name": "The owner-operator of Creek Bottom",
            "roles": ["owner", "farms", "decides", "may_be_told"],
            "consent_to_enter": True,
            "consent_on": "2026-03-20",
        },
    )
    book.write(
        "crop",
        "coordinator",
        date(YEAR, 5, 15),
        {
            "year": YEAR,
            "crop": "soybean",
            "traits": ["glyphosate"],
            "planted": "2026-05-09",
            "row_cm": 76,
            "bearing_deg": 0,
        },
    )
    book.write(
        "done",
        "coordinator",
        date(YEAR, 6, 11),
        {
            "what": "sprayed",
            "ingredients": [{"name": "glyphosate", "group": "9"}],
            "tallest_cm": 9,
            "survivors": True,
            "re_entry_until": "2026-06-11T20:00:00Z",
        },
    )

    # Thickest at the creek, thinning over some 30 m (numbers of the made world, not of the literature).
    scattered = np.column_stack([rng.uniform(-330, 360, 1_200_000), rng.uniform(-300, 320, 1_200_000)])
    keep = rng.random(len(scattered)) < np.exp(-distance(scattered, creek) / 28.0)
    patch = scattered[keep & inside(scattered, corners)]
    plants = grow(rng, weather, "AMATU", patch[:1_500], year=YEAR)  # lives of a sample stand for all of them
    share_up = sum(plant.up <= walked for plant in plants) / len(plants)
    standing = patch[rng.random(len(patch)) < share_up]

    # Stops every so often along a zigzag, wherever they fall: stops put where plants stand would count them twice over.
    route = np.array(
        [[-310, -280], [-240, 230], [-150, -280], [-60, 290], [30, -280], [120, 270], [210, -280], [300, 150]]
    )
    walk = book.write(
        "walk",
        "scout",
        walked,
        {"who": "scout", "track": book.line(route), "sigma_m": 3, "minutes": 75, "looked_for": ["AMAPA", "AMATU"]},
        hour=14,
    )
    stops = along(rng, route, 22)
    stops = stops[inside(stops, corners)]
    heights = [height_cm(plant, weather, walked, shade=0.95) for plant in plants if plant.up <= walked]
    for place in stops:
        area = 2.0 if distance(place[None], creek)[0] < 40 else 5.0
        half = np.sqrt(area) / 2
        count = int((np.abs(standing - place) <= half).all(axis=1).sum())
        sizes: dict[str, int] = {}
        some = rng.choice(heights, count)
        for tall in some:
            sizes[size(tall)] = sizes.get(size(tall), 0) + 1
        counts = [{"taxon": "pigweed", "size": size, "count": n} for size, n in sorted(sizes.items())]
        if counts:
            counts[-1]["tallest_cm"] = round(float(max(some)))
        book.write(
            "stop",
            "scout",
            walked,
            {
                "at": book.lonlat(*place),
                "error_m": 5,
                "walk": walk,
                "area_m2": area,
                "counts": counts or [{"taxon": "pigweed", "size": "unknown", "count": 0}],
            },
            hour=14.2,
        )
    near = [plant for plant in plants if plant.up <= walked - timedelta(days=18)]
    for k in rng.choice(len(near), 5, replace=False):
        plant = near[int(k)]
        looks = looks_of(
            rng,
            scene.flora,
            plant,
            "vegetative",
            ("stem_hair_upper", "petiole_blade_ratio_lower", "leaf_outline", "leaf_gloss", "widest_point"),
        )
        book.write(
            "plant",
            "scout",
            walked,
            {
                "at": book.lonlat(plant.east_m, plant.north_m),
                "error_m": 5,
                "stage": "vegetative",
                "looks": looks,
                "height_cm": round(height_cm(plant, weather, walked, shade=0.95)),
                "flowering": False,
            },
            hour=15.4,
        )
    facts = truth(plants, scene, as_of)
    facts.update(
        plants=len(patch), up=len(standing), by_taxon={"AMATU": len(patch)}, up_by_taxon={"AMATU": len(standing)}
    )
    return Story(book.site, as_of, book.entries, facts)
