"""Weather as it comes: leap years, gaps, double and unordered days, impossible values."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from clock.conftest import Station
from clock.test_forecast import ask, same
from tepal.clock import Weather
from tepal.clock._season import season
from tepal.tables import Refused


def without(weather: Weather, first: date, last: date) -> Weather:
    keep = (weather.days < np.datetime64(first)) | (weather.days > np.datetime64(last))
    rain = None if weather.prcp_mm is None else weather.prcp_mm[keep]
    lines = list(range(2, 2 + int(keep.sum())))
    return Weather(weather.days[keep], weather.tmin_c[keep], weather.tmax_c[keep], rain, file="w.csv", lines=lines)


def rest(weather: Weather, as_of: date) -> tuple[int, ...]:
    return season(weather, lat=41, as_of=as_of, rng=np.random.default_rng(1)).past_years


def test_short_gaps_are_drawn_between_their_neighbors_and_listed(station: Station) -> None:
    whole = station(1998, 2005)
    holed = without(whole, date(2005, 5, 3), date(2005, 5, 7))
    found = ask(holed, date(2005, 6, 1))
    assert found.filled == tuple(date(2005, 5, day) for day in range(3, 8))
    course = season(holed, lat=41, as_of=date(2005, 6, 1), rng=np.random.default_rng(1))
    at = course.index(date(2005, 5, 2))
    drawn = course.tmax_c[0, at : at + 7]
    assert np.allclose(np.diff(drawn), np.diff(drawn)[0])
    assert ask(whole, date(2005, 6, 1)).filled == ()


def test_a_gap_after_the_as_of_date_is_not_told_of(station: Station) -> None:
    assert ask(without(station(1998, 2005), date(2005, 7, 3), date(2005, 7, 9)), date(2005, 6, 1)).filled == ()


def test_a_long_gap_of_this_season_is_refused_with_line_and_rule(station: Station) -> None:
    holed = without(station(1998, 2005), date(2005, 5, 3), date(2005, 5, 8))
    with pytest.raises(Refused, match="6 days missing before 2005-05-09") as refusal:
        ask(holed, date(2005, 6, 1))
    assert refusal.value.where.line == int(np.searchsorted(holed.days, np.datetime64("2005-05-09"))) + 2
    assert "At most 5 days" in str(refusal.value)


def test_a_missing_temperature_counts_as_a_missing_day(station: Station) -> None:
    whole = station(1998, 2005)
    low = whole.tmin_c.copy()
    low[np.searchsorted(whole.days, np.datetime64("2005-05-03"))] = np.nan
    assert ask(Weather(whole.days, low, whole.tmax_c, whole.prcp_mm), date(2005, 6, 1)).filled == (date(2005, 5, 3),)


def test_a_past_year_with_a_long_gap_after_the_day_is_no_future(station: Station) -> None:
    holed = without(station(1998, 2005), date(2001, 8, 1), date(2001, 8, 20))
    assert rest(holed, date(2005, 6, 1)) == (1998, 1999, 2000, 2002, 2003, 2004)
    assert any("missing: 2001." in note for note in ask(holed, date(2005, 6, 1)).notes)
    # Before the as-of date the season's own days stand, so a gap there does no harm.
    assert 2001 in rest(holed, date(2005, 9, 1))


def test_the_season_and_later_years_are_never_futures(station: Station) -> None:
    assert rest(station(1998, 2010), date(2005, 6, 1)) == tuple(range(1998, 2005))


def test_a_record_that_starts_in_spring_or_ends_early_is_told_of_in_words(station: Station) -> None:
    whole = station(2000, 2005)
    late = without(whole, date(2005, 1, 1), date(2005, 4, 20))
    assert any("before 2005-04-21" in note for note in ask(late, date(2005, 6, 1)).notes)
    short = without(whole, date(2005, 5, 1), date(2005, 12, 31))
    assert any("ends" in note for note in ask(short, date(2005, 6, 1)).notes)


def test_no_past_year_leaves_a_made_up_climate_and_says_so(station: Station) -> None:
    found = ask(station(2005, 2005), date(2005, 6, 1))
    assert found.past_years == ()
    assert any("made-up climate" in note for note in found.notes)


@pytest.mark.parametrize("year", [2003, 2004])
def test_leap_years_and_others_are_each_others_futures(station: Station, year: int) -> None:
    course = season(station(1996, 2004), lat=41, as_of=date(year, 2, 20), rng=np.random.default_rng(1))
    assert course.days == (366 if year == 2004 else 365)
    assert np.isfinite(course.tmin_c).all()
    assert len(course.past_years) == year - 1996
    # The last day is 31 December in every future: a lost or doubled day would shift it.
    whole = station(1996, 2004)
    last = whole.tmax_c[np.searchsorted(whole.days, np.datetime64("1997-12-31"))]
    futures = course.tmax_c[[i for i in range(course.futures) if i % len(course.past_years) == 1]]
    shift = futures[:, -1] - last
    day = np.datetime64(f"1997-{date(2003, 12, 30):%m-%d}")
    assert np.allclose(futures[:, -2] - whole.tmax_c[np.searchsorted(whole.days, day)], shift)


def test_a_question_on_29_february_is_answered(station: Station) -> None:
    assert ask(station(1996, 2004), date(2004, 2, 29)).event("flowers").quantile(0.5) is not None


def test_days_out_of_order_are_put_in_order(station: Station) -> None:
    whole = station(2000, 2005)
    order = np.random.default_rng(2).permutation(whole.days.size)
    mixed = Weather(whole.days[order], whole.tmin_c[order], whole.tmax_c[order], whole.prcp_mm[order])  # type: ignore[index]
    assert same(ask(whole, date(2005, 6, 1)), ask(mixed, date(2005, 6, 1)))


DAYS = [date(2005, 1, 1) + timedelta(days=i) for i in range(4)]


@pytest.mark.parametrize(
    ("dates", "low", "high", "rain", "said"),
    [
        ([DAYS[0], DAYS[1], DAYS[1], DAYS[2]], [0, 0, 0, 0], [9, 9, 9, 9], None, "2005-01-02 twice .*line 4"),
        (DAYS, [0, 10, 0, 0], [9, 9, 9, 9], None, "lowest 10 above highest 9 .*line 3"),
        (DAYS, [0, 0, 0, -99], [9, 9, 9, 9], None, "tmin_c is -99 .*line 5"),
        (DAYS, [0, 0, 0, 0], [9, 99, 9, 9], None, "tmax_c is 99"),
        (DAYS, [0, 0, 0, 0], [9, 9, 9, 9], [0, -1, 0, 0], "prcp_mm is -1"),
        (DAYS, [0, 0, 0], [9, 9, 9, 9], None, "torn column"),
    ],
)
def test_impossible_weather_is_refused_with_its_line(
    dates: list[date], low: list[float], high: list[float], rain: list[float] | None, said: str
) -> None:
    with pytest.raises(Refused, match=said):
        Weather(dates, np.array(low, float), np.array(high, float), None if rain is None else np.array(rain, float),
                file="w.csv", lines=[2, 3, 4, 5])  # fmt: skip


def test_weather_that_starts_after_the_as_of_date_is_refused(station: Station) -> None:
    with pytest.raises(Refused, match="no weather up to 1990-06-01"):
        ask(station(2000, 2001), date(1990, 6, 1))


@pytest.mark.parametrize("lat", [-35.0, 70.0, float("nan")])
def test_latitudes_without_a_northern_season_are_refused(station: Station, lat: float) -> None:
    with pytest.raises(Refused, match="degrees north"):
        ask(station(2000, 2005), date(2005, 6, 1), lat=lat)


def test_a_look_alike_is_refused_and_a_wrong_code_gets_a_hint(station: Station) -> None:
    with pytest.raises(Refused, match="look-alikes"):
        ask(station(2000, 2005), date(2005, 6, 1), taxon="CHEAL")
    with pytest.raises(Refused, match="Did you mean AMATU"):
        ask(station(2000, 2005), date(2005, 6, 1), taxon="AMATO")


def test_a_file_that_looks_like_fahrenheit_is_told_of(station: Station) -> None:
    whole = station(2004, 2005)
    winter = (whole.days < np.datetime64("2005-03-01")) & (whole.days >= np.datetime64("2004-12-01"))
    low, high = (np.minimum(32 + 1.8 * column[winter], 59) for column in (whole.tmin_c, whole.tmax_c))
    found = ask(Weather(whole.days[winter], low, np.maximum(high, low), None), date(2005, 2, 20))
    assert any("Fahrenheit" in note for note in found.notes)
    # A hot year is no Fahrenheit.
    assert not any(
        "Fahrenheit" in note for note in ask(station(2000, 2005, warmer={2005: 6.0}), date(2005, 7, 1)).notes
    )


def test_filled_days_of_past_years_are_listed_only_where_they_are_used(station: Station) -> None:
    holed = without(
        without(station(1998, 2005), date(2001, 3, 3), date(2001, 3, 4)), date(2002, 8, 3), date(2002, 8, 4)
    )
    found = ask(holed, date(2005, 6, 1))
    assert found.filled == (date(2002, 8, 3), date(2002, 8, 4))


@pytest.mark.parametrize("outlook", [9.0, float("nan"), float("inf")])
def test_an_impossible_outlook_is_refused(station: Station, outlook: float) -> None:
    with pytest.raises(Refused, match="outlook"):
        ask(station(2003, 2005), date(2005, 6, 1), outlook_c=outlook)


@pytest.mark.parametrize("as_of", [date(2005, 1, 1), date(2005, 12, 31), date(2004, 12, 31)])
def test_the_turn_of_the_year_belongs_to_its_own_season(station: Station, as_of: date) -> None:
    found = ask(station(1999, 2005), as_of)
    assert found.start.year == as_of.year
    flower = found.event("flowers").quantile(0.5)
    assert flower is not None
    assert flower.year == as_of.year
