"""A heavy patch of waterhemp along a waterway in June soybean; some of it lived through a spraying."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from tepal.demo._world_ground import along, distance, inside
from tepal.demo._world_plants import grow, height_cm
from tepal.demo._world_scouting import Standing, count_at, crop, look_at, party, some_of, walk
from tepal.demo._world_story import YEAR, Scene, Story, found, notebook, truth


def tell(scene: Scene) -> Story:
    """A heavy patch of waterhemp along a waterway in June soybean; some of it lived through a spraying."""
    rng, weather = scene.rng, scene.weather
    as_of, walked = date(YEAR, 6, 25), date(YEAR, 6, 24)
    book = notebook("creek-bottom", 0.9, -3.8)
    corners = np.array([[-330, -300], [300, -300], [360, -80], [300, 280], [-120, 320], [-330, 210]], dtype=float)
    creek = np.array([[-330, 120], [-180, 60], [-40, 85], [110, 10], [240, -30], [350, -110]], dtype=float)
    mill_creek = {"kind": "waterway", "name": "Mill Creek", "geometry": book.line(creek)}
    found(book, "Creek Bottom", corners, on=date(YEAR, 3, 20), features=[mill_creek])
    roles = ("owner", "farms", "decides", "may_be_told")
    party(book, date(YEAR, 3, 20), "The owner-operator of Creek Bottom", roles, may_enter=True)
    crop(
        book, date(YEAR, 5, 15), "soybean", date(YEAR, 5, 9), traits=["glyphosate"], row_cm=76, bearing_deg=0
    )  # fmt: skip
    sprayed = {
        "what": "sprayed",
        "ingredients": [{"name": "glyphosate", "group": "9"}],
        "tallest_cm": 9,
        "survivors": True,
        "re_entry_until": "2026-06-11T20:00:00Z",
    }
    book.write("done", "coordinator", date(YEAR, 6, 11), sprayed)

    # Thickest at the creek, thinning over some 30 m (numbers of the made world, not of the literature).
    scattered = np.column_stack([rng.uniform(-330, 360, 1_200_000), rng.uniform(-300, 320, 1_200_000)])
    keep = rng.random(len(scattered)) < np.exp(-distance(scattered, creek) / 28.0)
    patch = scattered[keep & inside(scattered, corners)]
    plants = grow(rng, weather, "AMATU", patch[:1_500], year=YEAR)  # lives of a sample stand for all of them
    up = [plant for plant in plants if plant.up <= walked]
    spots = patch[rng.random(len(patch)) < len(up) / len(plants)]

    # Stops every so often along a zigzag, wherever they fall: stops put where plants stand would count them twice over.
    route = np.array(
        [[-310, -280], [-240, 230], [-150, -280], [-60, 290], [30, -280], [120, 270], [210, -280], [300, 150]]
    )
    way = walk(book, walked, route, sigma_m=3, minutes=75, hour=14)
    stops = along(rng, route, 22)
    stops = stops[inside(stops, corners)]
    areas = [2.0 if near < 40 else 5.0 for near in distance(stops, creek)]
    heights = np.array([height_cm(plant, weather, walked, shade=0.95) for plant in up])
    there = Standing(spots, rng.choice(heights, len(spots)))
    count_at(book, there, stops, areas, on=walked, hour=14.2, walk=way, error_m=5)
    old = [plant for plant in plants if plant.up <= walked - timedelta(days=18)]
    look_at(book, scene, some_of(scene, old, 5), on=walked, hour=15.4, error_m=5)
    facts = truth(plants, scene, as_of)
    facts.update(
        plants=len(patch), up=len(spots), by_taxon={"AMATU": len(patch)}, up_by_taxon={"AMATU": len(spots)}
    )  # fmt: skip
    return Story(book.site, as_of, book.entries, facts, readers=("tenant", "applicator"))
