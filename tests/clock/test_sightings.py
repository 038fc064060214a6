"""Sightings: they pull, they add up, they win over the model, and wrong ones are refused."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from clock.conftest import Station
from clock.test_forecast import ask, middle
from tepal.clock import Sighting, Weather
from tepal.clock._by_day import by_day
from tepal.tables import Refused

AS_OF = date(2005, 6, 10)


@pytest.fixture
def weather(station: Station) -> Weather:
    return station(1990, 2005)


def test_taller_plants_seen_mean_earlier_dates_and_shorter_ones_later(weather: Weather) -> None:
    plain = ask(weather, AS_OF)
    usual = float(np.median(plain.height_on(AS_OF)))
    tall = ask(weather, AS_OF, Sighting(AS_OF, height_cm=2 * usual))
    short = ask(weather, AS_OF, Sighting(AS_OF, height_cm=usual / 3))
    assert middle(tall, "height_10_cm") < middle(plain, "height_10_cm") < middle(short, "height_10_cm")
    # The more so the earlier the reader may act on it.
    assert tall.event("height_10_cm").quantile(0.1) < short.event("height_10_cm").quantile(0.1)


@pytest.mark.parametrize("factor", [0.5, 1.0, 2.0])
def test_a_sighting_narrows_what_it_speaks_of(weather: Weather, factor: float) -> None:
    plain = ask(weather, AS_OF)
    seen = ask(weather, AS_OF, Sighting(AS_OF, height_cm=factor * float(np.median(plain.height_on(AS_OF)))))
    assert np.std(np.log(seen.height_on(AS_OF) + 1)) < 0.6 * np.std(np.log(plain.height_on(AS_OF) + 1))


@pytest.mark.parametrize("height", [1.0, 90.0])
def test_a_height_that_the_model_hardly_knows_is_believed(weather: Weather, height: float) -> None:
    plain = ask(weather, AS_OF)
    seen = ask(weather, AS_OF, Sighting(AS_OF, height_cm=height))
    low, high = np.quantile(seen.height_on(AS_OF), (0.1, 0.9))
    # Within the error of a height read in the field, a factor of 1.5 to 2, and half a centimeter.
    assert low < 1.5 * height + 0.5
    assert high > height / 1.5 - 0.5
    distance = abs(np.log(np.median(seen.height_on(AS_OF)) + 0.5) - np.log(height + 0.5))
    before = abs(np.log(np.median(plain.height_on(AS_OF)) + 0.5) - np.log(height + 0.5))
    assert distance < 0.35 * before


@pytest.mark.parametrize(("on", "height"), [(date(2005, 4, 1), 20.0), (date(2005, 5, 5), 80.0)])
def test_a_height_that_no_field_of_the_model_has_is_believed_all_the_same(
    weather: Weather, on: date, height: float
) -> None:
    seen = ask(weather, AS_OF, Sighting(on, height_cm=height))
    assert seen.agreement < 1
    low, middle_, high = np.quantile(seen.height_on(on), (0.1, 0.5, 0.9))
    assert abs(np.log(middle_ / height)) < 0.25
    assert low > 0.5 * height
    assert high < 2 * height
    early = seen.event("height_10_cm").quantile(0.5)
    assert early is not None
    assert (early <= on) == (height > 10)


def test_plants_far_smaller_than_old_ones_would_be_are_young_and_flower_later(weather: Weather) -> None:
    """Palmer amaranth of 3 in where it would stand knee high. The shortest published way to the flower is 35 days from
    a May or June emergence and 20 in short days; 10 cm is reached 9 to 18 days after coming up."""
    on = date(2005, 6, 24)
    seen = ask(weather, on, Sighting(on, height_cm=8), taxon="AMAPA")
    assert seen.agreement < 1
    early = seen.event("flowers").quantile(0.1)
    assert early is not None
    assert (early - on).days >= 20 - 9
    plain = ask(weather, on, taxon="AMAPA").event("flowers").quantile(0.1)
    assert plain is not None
    assert (early - plain).days > 7


def test_seedlings_with_four_leaves_are_two_weeks_old_at_most(weather: Weather) -> None:
    """Four true leaves are out 6 to 14 days after coming up, so the flower is at least 20 less 14 days away; a height
    alone leaves room for old plants that hardly grew."""
    on = date(2005, 6, 24)
    bare = ask(weather, on, Sighting(on, height_cm=8))
    young = ask(weather, on, Sighting(on, height_cm=8, stage="seedling_2-4_leaf"))
    early = [found.event("flowers").quantile(0.02) for found in (bare, young)]
    assert early[0] is not None and early[1] is not None
    assert early[0] < early[1]
    assert (early[1] - on).days >= 20 - 14
    # Of heights the stage says no more than the ruler.
    assert np.median(young.height_on(on)) == pytest.approx(np.median(bare.height_on(on)), rel=0.15)


def test_a_later_sighting_adds_to_an_earlier_one(weather: Weather) -> None:
    first = Sighting(date(2005, 5, 25), height_cm=6)
    one = ask(weather, AS_OF, first)
    tall = float(np.quantile(one.height_on(AS_OF), 0.8))
    both = ask(weather, AS_OF, first, Sighting(AS_OF, height_cm=tall))
    day = date(2005, 6, 25)
    assert np.median(both.height_on(day)) > np.median(one.height_on(day))
    assert np.std(np.log(both.height_on(day))) < np.std(np.log(one.height_on(day)))
    # The order in which they are told does not matter.
    turned = ask(weather, AS_OF, Sighting(AS_OF, height_cm=tall), first)
    assert np.array_equal(turned.height_on(day), both.height_on(day))


def test_a_sighting_told_twice_counts_once(weather: Weather) -> None:
    once = Sighting(AS_OF, height_cm=8.0, flowering=False)
    one, two = ask(weather, AS_OF, once), ask(weather, AS_OF, once, once)
    assert np.array_equal(one.height_on(AS_OF), two.height_on(AS_OF))


def test_of_two_looks_on_one_day_the_taller_has_the_tallest(weather: Weather) -> None:
    """Someone met a plant of half a meter, whatever the other end of the field is like: it is over any spraying."""
    both = (Sighting(AS_OF, height_cm=5.0), Sighting(AS_OF, height_cm=50.0))
    for seen in (both, both[::-1]):
        found = ask(weather, AS_OF, *seen)
        alone = ask(weather, AS_OF, Sighting(AS_OF, height_cm=50.0))
        assert np.array_equal(found.height_on(AS_OF), alone.height_on(AS_OF))


def test_what_one_of_two_looks_on_a_day_met_is_there() -> None:
    day = date(2005, 7, 1)
    (found,) = by_day(
        [
            Sighting(day, none_up=True),
            Sighting(day, typical_cm=4.0, stage="vegetative", flowering=False),
            Sighting(day, typical_cm=9.0),
            Sighting(day, height_cm=7.0, stage="reproductive", flowering=True),
        ]
    )
    # Usual plants of 9 cm in one place: the tallest of the field are no shorter. The middle of 4 and 9 is 6.
    assert (found.on, found.height_cm, found.stage, found.flowering) == (day, 9.0, "reproductive", True)
    assert found.typical_cm == pytest.approx(6.0)
    assert found.none_up is False
    days = [Sighting(date(2005, 7, 2), height_cm=3.0), Sighting(day, none_up=True)]
    assert by_day(days) == tuple(days[::-1])


def test_plants_seen_in_flower_bring_the_seed_forward(weather: Weather) -> None:
    as_of = date(2005, 7, 5)
    plain = ask(weather, as_of)
    early = ask(weather, as_of, Sighting(date(2005, 6, 24), flowering=True))
    late = ask(weather, as_of, Sighting(as_of, flowering=False))
    assert middle(early, "viable_seed") < middle(plain, "viable_seed") <= middle(late, "viable_seed")
    assert middle(early, "flowers") <= 24 + 151 + 3


def test_dark_seed_seen_means_seed_that_can_grow(weather: Weather) -> None:
    as_of = date(2005, 7, 25)
    seen = ask(weather, as_of, Sighting(as_of, seed_dark=True))
    assert seen.p_viable_seed(as_of) > 0.7
    assert seen.p_viable_seed(as_of) > ask(weather, as_of).p_viable_seed(as_of)


def test_none_up_yet_holds_everything_back(weather: Weather) -> None:
    on = date(2005, 5, 20)
    plain, none = ask(weather, on), ask(weather, on, Sighting(on, none_up=True))
    assert np.median(none.share_up(on)) < 0.03
    for name in ("emerges_10", "emerges_50", "height_10_cm"):
        assert middle(none, name) > middle(plain, name)
    assert np.array_equal(none.share_up(on), ask(weather, on, Sighting(on, height_cm=0.0)).share_up(on))


def test_a_stage_says_something_of_height_and_flower(weather: Weather) -> None:
    seedling = ask(weather, AS_OF, Sighting(AS_OF, stage="seedling_2-4_leaf"))
    blooming = ask(weather, AS_OF, Sighting(AS_OF, stage="reproductive"))
    assert np.median(seedling.height_on(AS_OF)) < np.median(ask(weather, AS_OF).height_on(AS_OF))
    assert middle(blooming, "flowers") < middle(seedling, "flowers")


def test_a_sighting_in_text_reads_as_the_same_sighting() -> None:
    assert Sighting.from_text("2026-06-01:height_cm=12, typical_cm=5") == Sighting(date(2026, 6, 1), 12.0, 5.0)
    assert Sighting.from_text("2026-07-01:flowering=1,stage=reproductive") == Sighting(
        date(2026, 7, 1), flowering=True, stage="reproductive"
    )
    assert Sighting.from_text("2026-05-01:none_up=yes").none_up is True
    assert Sighting.from_text("2026-06-01:height_in=4,typical_in=2") == Sighting(date(2026, 6, 1), 10.16, 5.08)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("2026-06-01", "DATE:NAME=VALUE"),
        ("2026-06-01:", "DATE:NAME=VALUE"),
        ("06/01/2026:height_cm=3", "YYYY-MM-DD"),
        ("2026-06-01:height_cm=tall", "A height is a number"),
        ("2026-06-01:height_cm=nan", "A height is a number"),
        ("2026-06-01:height_cm=-3", "between 0 and 400"),
        ("2026-06-01:height_cm=4000", "between 0 and 400"),
        ("2026-06-01:height_cm=3,typical_cm=9", "tallest"),
        ("2026-06-01:height=3", "height_cm"),
        ("2026-06-01:stage=adult", "cotyledon"),
        ("2026-06-01:flowering=maybe", "1 (yes) or 0 (no)"),
        ("2026-06-01:height_cm=3,height_cm=4", "One value"),
        ("2026-06-01:none_up=1,height_cm=4", "nothing else to tell"),
        ("2026-06-01:height_cm=3,height_in=1", "One value"),
        ("2026-06-01:height_cm", "A height is a number"),
    ],
)
def test_a_sighting_that_cannot_be_read_is_refused_with_the_rule(text: str, said: str) -> None:
    with pytest.raises(Refused, match=said.replace("(", r"\(").replace(")", r"\)")) as refusal:
        Sighting.from_text(text)
    assert "\n" not in str(refusal.value)


def test_sightings_after_the_as_of_date_or_of_another_year_are_refused(weather: Weather) -> None:
    with pytest.raises(Refused, match="as-of date"):
        ask(weather, AS_OF, Sighting(date(2005, 6, 11), height_cm=5))
    with pytest.raises(Refused, match="season"):
        ask(weather, AS_OF, Sighting(date(2004, 6, 1), height_cm=5))


def test_none_seen_in_july_is_believed_too(weather: Weather) -> None:
    on = date(2005, 7, 15)
    seen = ask(weather, on, Sighting(on, none_up=True))
    assert seen.agreement < 1
    assert np.quantile(seen.share_up(on), 0.9) < 0.03
    first = seen.event("emerges_10").quantile(0.1)
    assert first is not None
    assert first > on


def test_some_up_means_that_they_came_up(weather: Weather) -> None:
    on = date(2005, 4, 25)
    plain, some = ask(weather, on), ask(weather, on, Sighting(on, none_up=False))
    assert np.quantile(some.share_up(on), 0.1) > np.quantile(plain.share_up(on), 0.1)
    assert middle(some, "emerges_10") < middle(plain, "emerges_10")


def test_dead_stalks_measured_after_frost_are_no_surprise(weather: Weather) -> None:
    on = date(2005, 11, 25)
    plain = ask(weather, on)
    assert plain.event("killing_frost").share_past(on) > 0.9
    seen = ask(weather, on, Sighting(on, height_cm=160, seed_dark=True))
    assert seen.agreement == 1
    assert np.all(seen.height_on(on) == 0)
    august = date(2005, 9, 1)
    assert np.median(seen.height_on(august)) == pytest.approx(160, rel=0.25)


def test_flowers_seen_far_too_early_are_believed(weather: Weather) -> None:
    on = date(2005, 5, 25)
    seen = ask(weather, AS_OF, Sighting(on, flowering=True))
    assert seen.agreement < 1
    assert abs(middle(seen, "flowers") - 144) < 15
    # And the other way: none in September, where all would be in flower.
    late = date(2005, 9, 20)
    none = ask(weather, late, Sighting(late, flowering=False))
    assert middle(none, "flowers") > 262 - 4


@pytest.mark.filterwarnings("error")
def test_tall_plants_after_all_ground_was_worked_are_hardly_possible_and_no_error(weather: Weather) -> None:
    worked = date(2005, 6, 10)
    found = ask(weather, worked, Sighting(worked, height_cm=60), tilled=(worked,))
    assert np.isfinite(found.agreement)


def test_none_seen_in_a_hot_spring_leaves_no_plant_over_four_inches_before_that_day(weather: Weather) -> None:
    # Two months of warmth before: by the weather alone most of them are up and tall.
    on = date(2005, 6, 20)
    assert ask(weather, on).event("height_10_cm").share_past(on) > 0.5
    found = ask(weather, on, Sighting(on, none_up=True))
    for name in ("height_10_cm", "flowers", "viable_seed"):
        assert found.event(name).share_past(on) == 0.0
    assert float(np.max(found.height_on(on))) <= 2.0 + 1e-9


def test_seedlings_of_an_inch_in_june_are_not_in_flower_and_in_september_may_be() -> None:
    def told(month: int, height: float, **more: bool) -> bool | None:
        return Sighting(date(2018, month, 10), height_cm=height, **more).in_flower

    assert told(6, 2.5) is False
    assert told(6, 2.5, flowering=True) is True
    assert told(6, 6.0) is None and told(9, 2.5) is None and told(6, 0.0) is None
