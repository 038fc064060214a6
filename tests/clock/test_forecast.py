"""What a forecast must do whatever the numbers: never peek, move with the weather, narrow as time goes on."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from clock.conftest import Station
from tepal.clock import Forecast, Sighting, Weather, forecast
from tepal.flora import load

LAT = 41.0
NAMES = ("emerges_10", "emerges_50", "emerges_90", "height_10_cm", "flowers", "viable_seed")


def ask(
    weather: Weather | None, as_of: date, *seen: Sighting, taxon: str = "AMATU", lat: float = LAT, **more: object
) -> Forecast:
    return forecast(
        weather, lat=lat, as_of=as_of, taxon=taxon, flora=load(), seen=seen, rng=np.random.default_rng(4),
        n=more.pop("n", 800), **more,
    )  # type: ignore[arg-type]  # fmt: skip


def middle(found: Forecast, name: str) -> float:
    day = found.event(name).quantile(0.5)
    return np.inf if day is None else float((day - found.start).days)


def same(one: Forecast, other: Forecast) -> bool:
    return all(np.array_equal(a.days, b.days, equal_nan=True) for a, b in zip(one.events, other.events, strict=True))


def test_days_after_the_as_of_date_change_nothing(station: Station) -> None:
    whole = station(1995, 2006)
    as_of = date(2005, 6, 1)
    later = whole.days > np.datetime64(as_of)
    altered = Weather(
        whole.dates, np.where(later, whole.tmin_c - 20, whole.tmin_c), np.where(later, whole.tmax_c + 15, whole.tmax_c),
        np.where(later, 0.0, whole.prcp_mm),
    )  # fmt: skip
    cut = Weather(
        whole.days[~later], whole.tmin_c[~later], whole.tmax_c[~later],
        whole.prcp_mm[~later] if whole.prcp_mm is not None else None,
    )  # fmt: skip
    first = ask(whole, as_of)
    assert same(first, ask(altered, as_of))
    assert same(first, ask(cut, as_of))
    # And the days before it do count.
    earlier = Weather(whole.dates, whole.tmin_c + 2.0, whole.tmax_c + 2.0, whole.prcp_mm)
    assert not same(first, ask(earlier, as_of))


def test_the_same_question_has_the_same_answer(station: Station) -> None:
    weather = station(1999, 2005)
    assert same(ask(weather, date(2005, 6, 1)), ask(weather, date(2005, 6, 1)))


@pytest.mark.parametrize("taxon", ["AMATU", "AMAPA", "AMARE", "AMABL"])
def test_everything_comes_sooner_in_a_hot_year(station: Station, taxon: str) -> None:
    as_of = date(2005, 12, 31)
    hot, cold = (ask(station(1995, 2005, warmer={2005: by}), as_of, taxon=taxon) for by in (2.5, -2.5))
    for name in NAMES:
        assert middle(hot, name) < middle(cold, name), name


def test_everything_comes_sooner_farther_south() -> None:
    south, north = (ask(None, date(2021, 1, 1), lat=lat) for lat in (36.0, 45.0))
    for name in NAMES:
        assert middle(south, name) < middle(north, name), name


def test_quantiles_are_in_order_and_emergence_is_too(station: Station) -> None:
    weather = station(1995, 2005)
    for month in (3, 5, 6, 8, 11):
        found = ask(weather, date(2005, month, 15))
        for event in found.events:
            days = [event.quantile(p) or date.max for p in (0.1, 0.5, 0.9)]
            assert days == sorted(days), event.name
        ten, fifty, ninety = (found.event(f"emerges_{p}").days for p in (10, 50, 90))
        assert np.all(~(ten > fifty) & ~(fifty > ninety))
        flower, seed = found.event("flowers").days, found.event("viable_seed").days
        assert np.all(~(seed < flower))


def test_intervals_shrink_as_the_season_goes_on(station: Station) -> None:
    widths, weather = [], station(1985, 2005)
    for asked in ((5, 1), (6, 15), (12, 31)):
        of_years = []
        for year in range(1998, 2006):
            found = ask(weather, date(year, *asked), n=1500)
            # Of what is still to come at all of these dates but the last.
            for name in ("flowers", "viable_seed"):
                of_years.append(np.subtract(*np.nanquantile(found.event(name).days, (0.9, 0.1))))
        widths.append(np.mean(of_years))
    assert widths[0] > widths[1]
    # By mid June hardly any weather is left that matters; whole days make the rest jump a little.
    assert widths[2] < widths[1] + 1.0
    assert widths[2] < widths[0]


def test_past_years_narrow_what_a_made_up_climate_leaves_wide(station: Station) -> None:
    as_of = date(2005, 4, 15)
    spread = [
        np.nanstd(found.event("flowers").days)
        for found in (ask(station(1975, 2005), as_of), ask(station(2003, 2005), as_of), ask(None, as_of))
    ]
    assert spread[0] < spread[1] < spread[2]


def test_what_does_not_happen_before_frost_is_null() -> None:
    found = ask(None, date(2021, 1, 1), lat=60.0)
    assert found.event("viable_seed").quantile(0.9) is None
    assert np.isnan(found.event("viable_seed").days).mean() > 0.3


def test_a_crop_thins_and_slows_the_late_plants(station: Station) -> None:
    weather, as_of = station(1995, 2005), date(2005, 12, 31)
    bare, crop = ask(weather, as_of), ask(weather, as_of, planted=date(2005, 4, 25))
    assert middle(crop, "emerges_90") <= middle(bare, "emerges_90")
    assert np.median(crop.typical_height_on(date(2005, 7, 10))) < np.median(bare.typical_height_on(date(2005, 7, 10)))


def test_a_warm_outlook_brings_the_rest_of_the_season_forward(station: Station) -> None:
    weather, as_of = station(1995, 2005), date(2005, 5, 1)
    assert middle(ask(weather, as_of, outlook_c=2.0), "flowers") < middle(ask(weather, as_of), "flowers")


def test_regrowth_comes_later_and_lives_less_from_a_lower_cut(station: Station) -> None:
    found = ask(station(1995, 2005), date(2005, 7, 1))
    low, high = (found.regrowth(date(2005, 7, 10), cm) for cm in (0.0, 15.0))
    assert low.survives.mean() < 0.15
    assert high.survives.mean() > 0.5
    assert np.nanmedian(high.height_10_cm) < np.nanmedian(np.where(np.isnan(low.height_10_cm), 365, low.height_10_cm))
    assert high.return_by is not None
    assert date(2005, 7, 10) < high.return_by < (found.event("killing_frost").quantile(0.1) or date.max)


def test_the_next_flush_lies_after_the_as_of_date(station: Station) -> None:
    as_of = date(2005, 6, 5)
    flush = ask(station(1995, 2005), as_of).next_flush
    assert np.nanmin(flush.days) > (as_of - date(2005, 1, 1)).days


def test_the_chance_of_viable_seed_rises_from_nothing_to_near_one(station: Station) -> None:
    found = ask(station(1995, 2005), date(2005, 6, 5))
    chances = [found.p_viable_seed(date(2005, month, 1)) for month in range(5, 12)]
    assert chances == sorted(chances)
    assert chances[0] < 0.01
    assert chances[-1] > 0.9


def test_heights_and_shares_rise_through_spring(station: Station) -> None:
    found = ask(station(1995, 2005), date(2005, 6, 5))
    days = [date(2005, 5, 1) + timedelta(days=10 * i) for i in range(7)]
    heights = [np.median(found.height_on(day)) for day in days]
    shares = [np.median(found.share_up(day)) for day in days]
    assert heights == sorted(heights)
    assert shares == sorted(shares)
    assert np.all(found.height_on(days[-1]) >= found.typical_height_on(days[-1]) - 1e-9)
