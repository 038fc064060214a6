"""Places as people describe them, against the survey's own arithmetic and against coordinates that are known."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tepal.ground import Survey, describe_place

QUARTERS, HALVES = ("NE", "NW", "SE", "SW"), ("N", "S", "E", "W")
chains = st.lists(st.sampled_from([*QUARTERS, *HALVES]), min_size=1, max_size=4).map(tuple)
surveys = st.builds(
    Survey,
    section=st.integers(1, 36),
    township=st.integers(1, 168),
    north=st.booleans(),
    range=st.integers(1, 115),
    east=st.booleans(),
    parts=st.lists(chains, max_size=3).map(tuple),
    meridian=st.sampled_from([None, "Sixth Principal Meridian", "Fifth Principal Meridian", "Indian Meridian"]),
)


@pytest.mark.parametrize(
    ("text", "normal", "acres"),
    [
        ("NW¼ 12-34N-15W", "NW¼ Sec. 12, T34N R15W", 160),
        ("SW 1/4 of NE 1/4 Sec. 7, T9N R3E", "SW¼ NE¼ Sec. 7, T9N R3E", 40),
        ("N½ SE¼ Section 7, T. 9 N., R. 3 E., 6th P.M.", "N½ SE¼ Sec. 7, T9N R3E, Sixth Principal Meridian", 80),
        ("NWNE 7-9N-3E", "NW¼ NE¼ Sec. 7, T9N R3E", 40),
        ("NW/4 SE/4 9-1S-2W", "NW¼ SE¼ Sec. 9, T1S R2W", 40),
        ("E2W2 9-1S-2W", "E½ W½ Sec. 9, T1S R2W", 160),
        ("S2 7-9N-3E", "S½ Sec. 7, T9N R3E", 320),
        ("S7 T9N R3E", "Sec. 7, T9N R3E", 640),
        ("NW 4-34N-15W", "NW¼ Sec. 4, T34N R15W", 160),
        ("34N-15W-12", "Sec. 12, T34N R15W", 640),
        ("Sec 12 34N 15W", "Sec. 12, T34N R15W", 640),
        ("T9N R3E Sec 7: SW1/4", "SW¼ Sec. 7, T9N R3E", 160),
        ("S½NW¼, SW¼NE¼ sec. 4 T9N R3E", "S½ NW¼ and SW¼ NE¼ Sec. 4, T9N R3E", 120),
        (
            "the northwest quarter of the southeast quarter of Section 7, Township 9 North, Range 3 East of the Indian "
            "Meridian",
            "NW¼ SE¼ Sec. 7, T9N R3E, Indian Meridian",
            40,
        ),
    ],
)
def test_descriptions_as_people_write_them_have_one_form_and_their_acres(text: str, normal: str, acres: float) -> None:
    found = describe_place(f"He said it is the {text}" if text[0].isupper() and text[1].islower() else text).survey
    assert found is not None
    assert found.text == normal
    assert found.acres == acres


@given(surveys)
def test_the_normal_form_is_read_back_as_the_same_ground(survey: Survey) -> None:
    found = describe_place(survey.text)
    assert found.survey == survey
    assert found.point is None


@given(surveys)
def test_long_words_and_short_signs_say_the_same(survey: Survey) -> None:
    long = {"N": "north", "S": "south", "E": "east", "W": "west"}
    names = {d: "".join(long[c] for c in d) + (" quarter" if len(d) == 2 else " half") for d in (*QUARTERS, *HALVES)}
    parts = " and the ".join(" of the ".join(names[d] for d in part) for part in survey.parts)
    where = (
        f"Section {survey.section}, Township {survey.township} {'North' if survey.north else 'South'}, Range "
        f"{survey.range} {'East' if survey.east else 'West'}"
    )
    text = f"the {parts} of {where}" if parts else where
    found = describe_place(text + (f", {survey.meridian}" if survey.meridian else "")).survey
    assert found == survey


@given(st.lists(chains, min_size=1, max_size=4))
def test_acres_are_those_of_a_map_of_small_cells(parts: list[tuple[str, ...]]) -> None:
    # The slow twin: 64 by 64 cells of a section, each kept by walking the names from the largest.
    cells = set()
    for part in parts:
        x, y, wide, high = 0, 0, 64, 64
        for name in reversed(part):
            if "N" in name or "S" in name:
                high //= 2
                y += high if "N" in name else 0
            if "E" in name or "W" in name:
                wide //= 2
                x += wide if "E" in name else 0
        cells |= {(i, j) for i in range(x, x + wide) for j in range(y, y + high)}
    assert Survey(1, 1, True, 1, True, tuple(parts)).acres == pytest.approx(640 * len(cells) / 64**2)


@pytest.mark.parametrize(
    "text",
    [
        "NE corner of Sec. 7, T9N R3E",
        "Lot 3, Sec. 7, T9N R3E",
        "NW¼ Sec. 7, T9N R3E, less the yard",
    ],
)
def test_what_takes_ground_away_leaves_the_acres_open(text: str) -> None:
    found = describe_place(text)
    assert found.survey is not None
    assert found.survey.acres is None
    assert found.survey.rest
    assert found.notes


@pytest.mark.parametrize(
    "text",
    [
        "NW¼ 40-34N-15W",
        "Sections 7 and 8, T9N R3E",
        "NW1/4 12-34-15",
        "the corner by the old elevator, two miles north of town",
        "call me at 7 or 8",
        "",
    ],
)
def test_what_could_mean_several_places_stays_words(text: str) -> None:
    found = describe_place(text)
    assert found.survey is None
    assert found.point is None
    assert found.words == text


def test_a_direction_is_no_quarter() -> None:
    found = describe_place("somewhere NE of Sec. 7, T9N R3E")
    assert found.survey is not None and found.survey.parts == ()
    assert any("direction" in note for note in found.notes)


lats, lons = st.floats(1, 89.9), st.floats(-179.9, -21)


@given(lats, lons)
def test_decimal_degrees_are_read_in_either_order(lat: float, lon: float) -> None:
    for text in (
        f"{lat:.5f}, {lon:.5f}",
        f"{lon:.5f},{lat:.5f}",
        f"{lat:.5f} N {-lon:.5f} W",
        f"W{-lon:.5f} N{lat:.5f}",
        f"lat {lat:.5f} lon {lon:.5f}",
        f"https://maps.example/?q={lat:.5f}%2C{lon:.5f}&z=15",
        f"see https://maps.example/place/@{lat:.5f},{lon:.5f},17z thanks",
        f"geo:{lat:.5f},{lon:.5f}",
    ):
        point = describe_place(text).point
        assert point is not None, text
        assert (point.lat, point.lon) == pytest.approx((lat, lon), abs=1e-5)


@given(lats, lons)
def test_degrees_minutes_and_seconds_are_read_to_the_second(lat: float, lon: float) -> None:
    def dms(value: float, signs: str) -> str:
        seconds = round(value * 3600)
        return f"{seconds // 3600}{signs[0]}{seconds // 60 % 60}{signs[1]}{seconds % 60}{signs[2]}"

    for signs in ("°'\"", "°′″", "   ", "::  "):
        text = f"{dms(lat, signs).strip()} N {dms(-lon, signs).strip()} W"
        point = describe_place(text).point
        assert point is not None, text
        assert (point.lat, point.lon) == pytest.approx((lat, lon), abs=0.6 / 3600)


def test_the_error_is_that_of_the_digits() -> None:
    coarse, fine = describe_place("41.5 N 93.2 W").point, describe_place("41.51234 N 93.21234 W").point
    assert coarse is not None and fine is not None
    # A tenth of a degree of latitude is 11.1 km; an even spread over it has an sd of 11.1 / sqrt(12).
    assert coarse.error_m == pytest.approx(11132 / 12**0.5, rel=0.01)
    assert fine.error_m == 10


@pytest.mark.parametrize(
    "text", ["41.5, 93.2", "45.1,12.3", "95.2 N 93.2 W", "41 72 15 N 93 12 20 W", "N 80 W 40", "1.5 -2.5", "7.5/3.2"]
)
def test_numbers_that_are_no_one_place_stay_words(text: str) -> None:
    assert describe_place(text).point is None


def test_a_link_with_several_points_says_so() -> None:
    found = describe_place("https://maps.example/?a=41.51,-93.21&b=42.51,-94.21")
    assert found.point is None
    assert found.notes


@given(st.text(max_size=300))
def test_no_text_is_too_strange(text: str) -> None:
    found = describe_place(text)
    assert found.words == text


@given(st.text(alphabet="NSEWnsew1234/½¼ ,.-°'\"TRofandthe:", max_size=80))
def test_no_text_of_the_signs_that_matter_is_too_strange(text: str) -> None:
    found = describe_place(text)
    if found.survey is not None:
        assert describe_place(found.survey.text).survey is not None
    if found.point is not None:
        assert abs(found.point.lat) <= 90 and abs(found.point.lon) <= 180
