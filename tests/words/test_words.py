"""Values in words: each example is a sentence part as a letter would have it."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tepal.words import Words

US, METRIC = Words(), Words(units="metric")
ACRE_M2 = 43_560 * 0.3048**2


@pytest.mark.parametrize(
    ("value", "said"),
    [(0, "0"), (7, "7"), (1234, "1,200"), (1250, "1,200"), (96_500, "96,000"), (0.0347, "0.035"), (-1234, "-1,200")],
)
def test_an_estimate_has_two_figures(value: float, said: str) -> None:
    assert US.about(value) == said


@given(st.floats(1e-3, 1e9))
def test_an_estimate_is_off_by_at_most_five_percent(value: float) -> None:
    assert float(US.about(value).replace(",", "")) == pytest.approx(value, rel=0.05)


def test_whole_numbers_are_kept_and_others_rounded() -> None:
    assert US.number(1234) == "1,234"
    assert US.number(1234.0) == "1,234"
    assert US.number(2.345) == "2.3"
    assert US.number(2.346, 2) == "2.35"
    assert US.number(1234.6, 0) == "1,235"


def test_a_range_that_rounds_to_one_number_is_that_number() -> None:
    assert US.between(120, 4100) == "120 to 4,100"
    assert US.between(1.01, 1.02) == "1"


@pytest.mark.parametrize(
    ("probability", "said"),
    [
        (0.0, "less than 1 chance in 200"),
        (0.004, "less than 1 chance in 200"),
        (0.006, "about 1 chance in 200"),
        (0.01, "about 1 chance in 100"),
        (0.04, "about 1 chance in 25"),
        (0.05, "about 1 chance in 20"),
        (0.1, "about 1 chance in 10"),
        (0.2, "about 1 chance in 5"),
        (0.25, "about 1 chance in 4"),
        (1 / 3, "about 1 chance in 3"),
        (0.5, "about 1 chance in 2"),
        (0.6, "about 3 chances in 5"),
        (0.9, "about 9 chances in 10"),
        (0.95, "about 95 chances in 100"),
        (0.996, "more than 199 chances in 200"),
        (1.0, "more than 199 chances in 200"),
    ],
)
def test_chances(probability: float, said: str) -> None:
    assert US.chance(probability) == said


@given(st.floats(0.005, 0.995))
def test_a_chance_in_words_is_near_the_number(probability: float) -> None:
    found = re.fullmatch(r"about (\d+) chances? in (\d+)", US.chance(probability))
    assert found is not None
    k, n = map(int, found.groups())
    assert k / n == pytest.approx(probability, abs=0.025)
    if probability < 0.05:
        assert k / n == pytest.approx(probability, rel=0.5)
    assert 0 < k < n


@given(st.floats(0, 1), st.floats(0, 1))
def test_sureness_never_falls_as_the_probability_rises(one: float, two: float) -> None:
    order = [
        "very unlikely", "not likely", "possibly", "more likely than not", "probably", "very probably",
        "almost certainly",
    ]  # fmt: skip
    low, high = sorted((one, two))
    assert order.index(US.sureness(low)) <= order.index(US.sureness(high))


def test_days_are_said_as_people_say_them() -> None:
    day = date(2026, 8, 13)
    assert US.day(day) == "Thursday, August 13"
    assert US.day(day, year=True) == "Thursday, August 13, 2026"
    assert METRIC.day(day) == "Thursday 13 August"
    assert METRIC.day(day, year=True) == "Thursday 13 August 2026"
    assert US.days_between(day, day) == "August 13"
    assert US.days_between(day, date(2026, 8, 17)) == "August 13 to 17"
    assert METRIC.days_between(day, date(2026, 8, 17)) == "13 to 17 August"
    assert US.days_between(day, date(2026, 9, 2)) == "August 13 to September 2"


@given(st.dates(date(1990, 1, 1), date(2060, 12, 31)))
def test_days_and_months_have_the_calendar_s_names(day: date) -> None:
    assert US.day(day) == f"{day:%A}, {day:%B} {day.day}"
    assert US.month(day) == f"{day:%B}"


def test_a_span_over_new_year_names_both_months() -> None:
    low = date(2026, 12, 30)
    assert US.days_between(low, low + timedelta(days=5)) == "December 30 to January 4"


@pytest.mark.parametrize(
    ("metres", "us", "metric"),
    [
        (0.1016, "4 in", "10 cm"),
        (0.04, "1.5 in", "4 cm"),
        (0.762, "30 in", "76 cm"),
        (1.2192, "4 ft", "1.2 m"),
        (182.88, "600 ft", "180 m"),
        (1609.344, "1 mile", "1.6 km"),
        (4828.032, "3 miles", "4.8 km"),
    ],
)
def test_lengths(metres: float, us: str, metric: str) -> None:
    assert US.length(metres) == us
    assert METRIC.length(metres) == metric


def test_areas_and_densities() -> None:
    assert US.area(80 * ACRE_M2) == "80 acres"
    assert US.area(ACRE_M2) == "1 acre"
    assert METRIC.area(324_000) == "32 ha"
    assert US.density(30 / ACRE_M2) == "30 per acre"
    assert US.density(2 / 0.3048**2) == "2 per square foot"
    assert METRIC.density(3.0) == "3 per square metre"
    assert METRIC.density(0.012) == "120 per hectare"


def test_lists() -> None:
    assert US.listing([]) == ""
    assert US.listing(["a"]) == "a"
    assert US.listing(["a", "b"]) == "a and b"
    assert US.listing(["a", "b", "c"], last="or") == "a, b or c"


def test_messages_are_filled_and_braces_in_values_are_left_alone() -> None:
    assert US.t("{n} at {place}", n=3, place="{Creek}") == "3 at {Creek}"
    assert US.plural("{count} plant", "{count} plants", 1) == "1 plant"
    assert US.plural("{count} plant", "{count} plants", 1200) == "1,200 plants"


def test_a_language_without_a_catalogue_is_an_error_not_english() -> None:
    with pytest.raises(FileNotFoundError):
        Words(language="xx")
