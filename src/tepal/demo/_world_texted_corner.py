"""A texted photo in June: a place known only by a link to a map. Three better photos come, and then the answer."""

from __future__ import annotations

from datetime import UTC, date, datetime

from tepal.demo._world_picture import folded_leaf, upper_stem, whole_plant
from tepal.demo._world_plants import grow, looks_of
from tepal.demo._world_scouting import some_of
from tepal.demo._world_story import YEAR, Scene, Story, found, notebook, truth

# What the three photos show well enough to be read off them.
_ON_PHOTOS = ("stem_hair_upper", "petiole_blade_ratio_lower", "leaf_outline", "leaf_hair_upper")


def tell(scene: Scene) -> Story:
    """A texted photo in June: a place known only by a link to a map. Three better photos come, and then the answer."""
    rng = scene.rng
    first, second, as_of = (date(YEAR, 6, day) for day in (15, 16, 17))
    book = notebook("roads-12-and-k", 6.4, 2.9)
    found(book, "Roads 12 and K, northeast corner", None, on=first)
    plants = grow(rng, scene.weather, "AMATU", 9 * rng.standard_normal((260, 2)), year=YEAR, up_by=first)
    largest = sorted(plants, key=lambda plant: plant.up)[:12]  # what people photograph

    stood = (book.lonlat(3, -4)[0], book.lonlat(3, -4)[1])
    one = whole_plant(rng, stood, datetime(YEAR, 6, 15, 18, 12, tzinfo=UTC))
    link = "geo:{1:.5f},{0:.5f}".format(*book.lonlat(0, 0))
    report = {
        "who": "the man who sprays the road corners",
        "how": "text",
        "words": "What is this? It is all over where the sprayer turns. Beans next to it look clean.",
        "place": {"words": link, "point": book.lonlat(0, 0), "error_m": 10},
        "photos": [one.sha256],
        "answer_by": second.isoformat(),
    }
    told = book.write("report", "coordinator", first, report, hour=18.5)
    book.write("photo", "coordinator", first, one.body(told), hour=18.5)

    looks = [looks_of(rng, scene.flora, plant, "vegetative", _ON_PHOTOS) for plant in some_of(scene, largest, 2)]
    ratio = float(looks[0]["petiole_blade_ratio_lower"])
    moment = datetime(YEAR, 6, 16, 12, 40, tzinfo=UTC)
    three = [one_more(rng, stood, moment) for one_more in (whole_plant, upper_stem)]
    three.append(folded_leaf(rng, stood, moment, ratio=ratio))
    report = {
        "who": "the man who sprays the road corners",
        "how": "text",
        "words": "Here are the three you asked for. Stem is smooth. Second plant looks the same.",
        "place": {"words": link, "point": book.lonlat(0, 0), "error_m": 10},
        "photos": [picture.sha256 for picture in three],
        "answer_by": as_of.isoformat(),
    }
    told = book.write("report", "coordinator", second, report, hour=13)
    for picture in three:
        book.write("photo", "coordinator", second, picture.body(told), hour=13)
    for seen in looks:
        body = {"stage": "vegetative", "looks": seen, "photos": [p.sha256 for p in three], "seen_by": "photo"}
        book.write("plant", "coordinator", second, body, hour=15)
    photos = {picture.file_name: picture.data for picture in (one, *three)}
    return Story(book.site, as_of, book.entries, truth(plants, scene, as_of), photos, asked=first)
