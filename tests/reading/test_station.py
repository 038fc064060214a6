"""What the station measured before, what left and came, and the ground around what was seen: facts for the advice."""

from __future__ import annotations

import math

import numpy as np
import pytest

from _books import AS_OF, book, lonlat, palmer, said, site, stop
from tepal import reading as readings
from tepal.ledger import WeatherTable
from tepal.reading._station import heat_facts, station_record


def table(days: list[tuple[str, float, float]]) -> WeatherTable:
    dates = np.array([day for day, _, _ in days], dtype="datetime64[D]")
    rain, warm = (np.array([row[i] for row in days]) for i in (1, 2))
    return WeatherTable("Depot", None, None, dates, warm - 10, warm, rain)


def test_each_year_is_a_row_and_each_day_of_the_year_a_column() -> None:
    record = station_record(
        table([("2024-02-29", 1.0, 5.0), ("2024-03-01", 2.0, 6.0), ("2025-03-01", 3.0, 7.0)]), AS_OF
    )
    assert record is not None
    assert record.years == (2024, 2025)
    assert record.rain_mm[0, 59] == 1.0  # day 60 of a leap year
    assert (record.rain_mm[0, 60], record.rain_mm[1, 59]) == (2.0, 3.0)
    assert np.isnan(record.rain_mm[1, 60])
    assert record.tmin_c[1, 59] == -3.0


def test_nothing_after_the_day_is_known_and_no_days_are_no_record() -> None:
    days = [("2026-06-30", 1.0, 20.0), ("2026-07-02", 9.0, 40.0)]
    record = station_record(table(days), AS_OF)
    assert record is not None
    assert np.nansum(record.rain_mm) == 1.0
    assert station_record(table(days[1:]), AS_OF) is None
    assert station_record(None, AS_OF) is None


def test_hot_days_are_counted_over_the_same_week_of_past_years() -> None:
    days = []
    for year, hot in ((2023, 7), (2024, 3), (2025, 0)):
        days += [(f"{year}-07-{day:02d}", 0.0, 33.0 if day <= hot else 25.0) for day in range(1, 9)]
    days += [("2026-06-29", 0.0, 34.5), ("2026-07-01", 0.0, 30.0)]
    facts = heat_facts(station_record(table(days), AS_OF), AS_OF)
    assert facts == {"hot_days": pytest.approx(10 / 3), "hottest_lately_c": 34.5}
    assert heat_facts(None, AS_OF) == {"hot_days": None, "hottest_lately_c": None}


def test_the_ground_to_search_is_a_disc_around_each_plant_and_none_where_a_place_is_missing(tmp_path) -> None:
    def where(name, *entries):
        with book(tmp_path / name, site(), *entries, with_weather=False) as ledger:
            return readings.read(ledger, "west", as_of=AS_OF).facts["where_hectares"]

    one = math.pi * 30**2 / 1e4
    assert where("one", palmer()) == pytest.approx(one, rel=0.02)
    assert where("two", palmer(), palmer(at=lonlat(-120, 90))) == pytest.approx(2 * one, rel=0.02)
    assert where("same", palmer(), palmer()) == pytest.approx(one, rel=0.02)
    assert where("edge", palmer(at=lonlat(200, 0))) == pytest.approx(one / 2, rel=0.05)  # half of it is the neighbor's
    assert where("nowhere", palmer(), palmer(at=None)) is None
    assert where("empty", stop(0)) is None
    track = {"type": "LineString", "coordinates": [lonlat(-150, 0), lonlat(150, 0)]}
    walk = said("walk", {"sigma_m": 6.0, "found": 5, "track": track})
    assert where("more", palmer(), walk) is None  # five were found, one has a place


def test_what_left_and_what_came_are_told_apart(tmp_path) -> None:
    def moved(name, **body):
        with book(
            tmp_path / name, site(), said("move", {"what": "hay", **body}, on="2026-06-20"), with_weather=False
        ) as led:
            facts = readings.read(led, "west", as_of=AS_OF).facts
        return facts["moved_out_days"], facts["moved_in_days"], facts["moved_out"]

    assert moved("out", to_words="a lot") == (11.0, None, "hay")
    assert moved("from", from_site="west", to_site="east") == (11.0, None, "hay")
    assert moved("in", from_site="east", to_site="west") == (None, 11.0, None)
    assert moved("past", from_site="east", to_site="south") == (None, None, None)


def test_each_load_that_left_is_told_with_its_own_day(tmp_path) -> None:
    loads = [
        said("move", {"what": "hay", "to_words": "a lot"}, on=on) for on in ("2025-09-12", "2026-06-20", "2026-06-19")
    ]
    with book(tmp_path / "loads", site(), *loads, with_weather=False) as led:
        facts = readings.read(led, "west", as_of=AS_OF).facts
    assert facts["moved_out_days"] == 11.0
    assert facts["moved_out"] == "hay; hay; hay"
    assert facts["moved_out_on"] == "2026-06-20; 2026-06-19; 2025-09-12"


def test_small_plants_after_planting_say_that_the_field_started_clean(tmp_path) -> None:
    """Plants no higher than a hand six weeks after planting came up since: their flowers come later."""

    def flowers(name, **more):
        crop = said("crop", {"year": 2026, "crop": "soybean", "planted": "2026-06-10", **more}, on="2026-06-10")
        with book(tmp_path / name, site(), crop, stop(5)) as ledger:
            reading = readings.read(ledger, "west", as_of=AS_OF)
        return next(w.q50 for w in reading.windows if w.name == "flowers")

    assert flowers("clean") > flowers("early", planted="2026-04-20")
