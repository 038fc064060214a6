"""What people do to the plants: the ground worked, plants cut, and the windows that follow from it all."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from clock.conftest import Station
from clock.test_forecast import ask, middle
from tepal.clock import Sighting, Weather, forecast, windows
from tepal.flora import load
from tepal.tables import Refused

AS_OF = date(2005, 6, 20)
WORKED = date(2005, 5, 25)


@pytest.fixture
def weather(station: Station) -> Weather:
    return station(1992, 2005)


def test_what_was_up_when_the_ground_was_worked_is_gone(weather: Weather) -> None:
    plain, tilled = ask(weather, AS_OF), ask(weather, AS_OF, tilled=(WORKED,))
    assert np.all(tilled.height_on(WORKED) == 0)
    assert np.median(plain.height_on(WORKED)) > 2
    # What stands in June came up after it, so it is smaller and sets seed later.
    assert np.median(tilled.height_on(AS_OF)) < np.median(plain.height_on(AS_OF))
    for name in ("height_10_cm", "flowers", "viable_seed"):
        assert middle(tilled, name) > middle(plain, name)
    assert np.nanmin(tilled.event("height_10_cm").days) > (WORKED - date(2005, 1, 1)).days


def test_working_the_ground_brings_a_flush_but_does_not_move_the_start(weather: Weather) -> None:
    plain, tilled = ask(weather, AS_OF), ask(weather, AS_OF, tilled=(WORKED,))
    assert np.array_equal(plain.share_up(WORKED), tilled.share_up(WORKED))
    soon = WORKED + timedelta(days=14)
    brought = [np.median(found.share_up(soon) - found.share_up(WORKED)) for found in (plain, tilled)]
    assert brought[1] > brought[0] + 0.03
    early = ask(weather, AS_OF, tilled=(date(2005, 3, 1),))
    assert np.array_equal(plain.event("emerges_10").days, early.event("emerges_10").days)


def test_a_sighting_after_the_ground_was_worked_speaks_of_what_came_since(weather: Weather) -> None:
    on = WORKED + timedelta(days=12)
    seen = ask(weather, AS_OF, Sighting(on, height_cm=4), tilled=(WORKED,))
    low, high = np.quantile(seen.height_on(on), (0.1, 0.9))
    assert seen.agreement == 1
    assert 2 < low < 4.5 < high < 8


@pytest.mark.parametrize(
    ("day", "said"), [(date(2005, 6, 21), "as-of date 2005-06-20"), (date(2004, 6, 1), "season is that of 2005")]
)
def test_ground_worked_later_or_in_another_year_is_refused(weather: Weather, day: date, said: str) -> None:
    with pytest.raises(Refused, match=said):
        ask(weather, AS_OF, tilled=(day,))


def test_cut_plants_in_steady_warmth_are_back_when_the_published_rate_says() -> None:
    """40 in (102 cm) in six weeks from stubs of 15 cm: 0.138 cm a degree day, so 10 cm after 72.5 of them."""
    days = [date(2004, 1, 1) + timedelta(days=i) for i in range(2 * 365 + 1)]
    steady = Weather(days, np.full(len(days), 18.0), np.full(len(days), 30.0), None)
    found = ask(steady, AS_OF, n=2000)
    again = found.regrowth(date(2005, 6, 1), 15.0)
    # 14 degree days a day; a day is told when it is over.
    waited = np.median(again.height_10_cm) - (date(2005, 6, 1) - date(2005, 1, 1)).days
    assert waited == np.ceil(10 / 0.138 / 14)
    assert np.median(again.survives) == pytest.approx(0.65, abs=0.02)
    lowest = found.regrowth(date(2005, 6, 1), 0.0)
    assert np.median(lowest.survives) == pytest.approx(0.05, abs=0.01)


def test_regrowth_has_luck_of_its_own_and_the_same_each_time(weather: Weather) -> None:
    found = ask(weather, AS_OF, n=2000)
    again, once_more = (found.regrowth(date(2005, 7, 1), 15.0) for _ in range(2))
    assert np.array_equal(again.survives, once_more.survives)
    assert np.array_equal(again.flowers, once_more.flowers, equal_nan=True)
    for name in ("emerges_50", "flowers", "viable_seed"):
        days = np.nan_to_num(found.event(name).days, nan=366.0)
        assert abs(np.corrcoef(again.survives, days)[0, 1]) < 0.08, name
    # Between its own: a strong stub is not the one that flowers first only because numbers were used twice.
    assert abs(np.corrcoef(again.survives, again.height_10_cm)[0, 1]) < 0.08


def test_windows_close_in_the_order_of_heights_and_the_crop_caps_the_cultivator(weather: Weather) -> None:
    found = ask(weather, date(2005, 5, 1))
    eight, ten, tenth = (found.event(name).days for name in ("tallest_8_cm", "tallest_10_cm", "height_10_cm"))
    assert np.all(eight <= ten)
    assert np.all(ten <= tenth)
    soybean = load().crop("soybean")
    assert soybean is not None
    planted = date(2005, 4, 20)
    by_name = {one.name: one.day for one in windows(found, crop=soybean, planted=planted)}
    assert by_name["cross_rows"].quantile(0.5) == planted + timedelta(days=60)
    assert by_name["harvest"].quantile(0.5) == planted + timedelta(days=135)
    capped = windows(found, crop=soybean, planted=date(2005, 3, 20))[0].day.days
    last = (date(2005, 3, 20) + timedelta(days=45) - found.start).days
    assert np.all(capped == np.minimum(eight, last))
    assert [one.name for one in windows(found)] == ["cultivate", "spray", "next_flush", "pull"]


def test_a_crop_without_its_planting_day_is_refused(weather: Weather) -> None:
    with pytest.raises(Refused, match="--planted"):
        windows(ask(weather, AS_OF, n=50), crop=load().crop("corn"))


def test_from_one_day_to_the_next_only_the_weather_moves_the_dates(weather: Weather) -> None:
    """In late autumn nothing is left to come: two as-of dates give the same numbers, member by member."""
    one, other = (
        forecast(weather, lat=41, as_of=day, taxon="AMATU", flora=load(), rng=np.random.default_rng(7), n=300)
        for day in (date(2005, 12, 20), date(2005, 12, 31))
    )
    for name in ("emerges_10", "emerges_90", "height_10_cm", "flowers", "viable_seed"):
        assert np.array_equal(one.event(name).days, other.event(name).days, equal_nan=True), name
