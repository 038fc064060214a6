"""The map: every kind of site, and nothing lost in black and white."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from xml.etree import ElementTree

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPolygon, Point

from tepal.letter import Feature, Find, LetterData, MapData, Stop
from tepal.letter._frame import extent, fit, scale_length
from tepal.letter._map import draw, is_wide, signs_of
from tepal.words import Words

Cases = dict[str, Callable[[], LetterData]]
FIELD = shapely.box(0, 0, 400, 400)
SITES = {
    "a point only": MapData(point=(0, 0), point_error_m=60),
    "a point without error": MapData(point=(3, 4)),
    "no stops": MapData(boundary=FIELD),
    "two hundred stops": MapData(
        boundary=FIELD, stops=tuple(Stop(2.0 * i, 199.0 * i % 400, i % 9) for i in range(200))
    ),
    "parts with holes": MapData(
        boundary=MultiPolygon([FIELD.difference(Point(200, 200).buffer(50)), shapely.box(500, 0, 600, 80)])
    ),
    "a long thin ditch": MapData(boundary=shapely.box(0, 0, 3000, 8), stops=(Stop(1500, 4, 3),)),
    "a long thin ditch to the north": MapData(boundary=shapely.box(0, 0, 8, 3000), stops=(Stop(4, 1500, 0),)),
    "only a track": MapData(tracks=(LineString([(0, 0), (50, 90)]),)),
    "one stop": MapData(stops=(Stop(7, 7, 1),)),
}


@pytest.mark.parametrize("name", SITES)
def test_every_kind_of_site_gives_a_sound_drawing(name: str, us: Words) -> None:
    data = SITES[name]
    drawn = draw(data, us, site=name, width=504 if is_wide(data) else 250)
    assert drawn is not None
    assert drawn.alt.startswith(f"Map of {name}")
    root = ElementTree.fromstring(drawn.svg)
    assert "nan" not in drawn.svg
    assert "inf" not in drawn.svg
    for disc in root.iter("{http://www.w3.org/2000/svg}circle"):
        assert 0 <= float(disc.get("cx", "nan")) <= drawn.width
        assert 0 <= float(disc.get("cy", "nan")) <= drawn.height


def test_without_any_place_there_is_no_map(us: Words) -> None:
    assert draw(MapData(), us, site="x", width=250) is None


def test_only_greys_of_ink_are_used_so_that_a_copier_loses_nothing(case: LetterData, us: Words) -> None:
    drawn = draw(case.map, us, site=case.site, width=250)
    assert drawn is not None
    for colour in set(re.findall(r'"#([0-9a-f]{6})"', drawn.svg)):
        channels = [int(colour[i : i + 2], 16) for i in (0, 2, 4)]
        assert max(channels) - min(channels) <= 30, colour


def test_a_stop_with_none_is_open_and_one_with_plants_is_filled(us: Words) -> None:
    drawn = draw(MapData(boundary=FIELD, stops=(Stop(100, 100, 0), Stop(300, 300, 5))), us, site="x", width=250)
    assert drawn is not None
    ground = ElementTree.fromstring(drawn.svg)[1]
    fills = {disc.get("class") for disc in ground.iter("{http://www.w3.org/2000/svg}circle")}
    assert fills == {"ink-fill sheet-line", "sheet-fill ink-line"}


def test_the_area_of_a_stop_follows_its_count(us: Words) -> None:
    drawn = draw(MapData(boundary=FIELD, stops=(Stop(100, 100, 25), Stop(300, 300, 100))), us, site="x", width=250)
    assert drawn is not None
    ground = ElementTree.fromstring(drawn.svg)[1]
    small, large = sorted(float(disc.get("r", "nan")) for disc in ground.iter("{http://www.w3.org/2000/svg}circle"))
    assert (large / small) ** 2 == pytest.approx(4, rel=0.05)


def test_each_name_has_its_own_sign_and_the_unnamed_another() -> None:
    finds = (
        Find(0, 0, "waterhemp", True),
        Find(1, 1, "redroot pigweed"),
        Find(2, 2),
        Find(3, 3, "Palmer amaranth", True),
    )
    signs = signs_of(MapData(finds=finds))
    assert len(set(signs.values())) == 4
    assert signs["Palmer amaranth"] == "cross"


def test_a_find_far_off_does_not_shrink_the_field_and_is_told(us: Words) -> None:
    near = MapData(boundary=FIELD)
    far = MapData(boundary=FIELD, finds=(Find(90_000, 0),))
    assert extent(far) == extent(near)
    drawn = draw(far, us, site="x", width=250)
    assert drawn is not None
    assert "lies off the map" in drawn.alt


def test_the_scale_bar_is_as_long_as_it_says(us: Words, metric: Words) -> None:
    place = fit(MapData(boundary=FIELD), 250, 200, 10)
    for words, metres in ((us, 0.3048), (metric, 1.0)):
        number, points = scale_length(place.per_metre, 80, feet=words.units == "us")
        (x, _), (y, _) = place.at(0, 0), place.at(number * metres, 0)
        assert y - x == pytest.approx(points)
        assert points <= 80


@given(per_metre=st.floats(1e-4, 50), width=st.floats(20, 400), feet=st.booleans())
def test_the_scale_is_round_and_fills_two_fifths_of_its_room_or_more(
    per_metre: float, width: float, feet: bool
) -> None:
    number, points = scale_length(per_metre, width, feet=feet)
    assert width / 2.51 <= points <= width * (1 + 1e-9)
    lead = number / 10 ** math.floor(math.log10(number) + 1e-9)
    assert min(abs(lead - nice) for nice in (1, 2, 5)) < 1e-6


def test_north_is_up_and_east_is_right() -> None:
    place = fit(MapData(boundary=FIELD), 250, 200, 10)
    (left, low), (right, high) = place.at(0, 0), place.at(400, 400)
    assert right > left
    assert high < low


def test_a_name_on_the_map_is_text_and_no_markup(us: Words) -> None:
    data = MapData(boundary=FIELD, features=(Feature("gate", Point(0, 200), "<b>&amp;"),))
    drawn = draw(data, us, site="x", width=250)
    assert drawn is not None
    labels = [text.text for text in ElementTree.fromstring(drawn.svg).iter("{http://www.w3.org/2000/svg}text")]
    assert "<b>&amp;" in labels
