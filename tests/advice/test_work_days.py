"""Days lost, days left to spray, and the week that is waited: from made records whose answer is known."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import _advice_cases as cases
import numpy as np
import pytest

from tepal.advice import Effort, Waiting, advise, spray_days, to_json, waiting, work_days
from tepal.doubt import Provenance
from tepal.flora import load
from tepal.reading import StationRecord
from tepal.words import Words

FLORA = load()
DAY = cases.day(cases.JULY)
N = 4000


def effort(**draws: Any) -> Effort:
    base = {"total": 40.0, "tallest_cm": 60.0, "viable_seed_day": 240.0, "share.AMAPA": 1.0, "share.AMATU": 0.0} | draws
    arrays = {key: np.broadcast_to(np.asarray(value, dtype=float), (N,)).copy() for key, value in base.items()}
    return Effort(FLORA, {"hectares": 4.0}, arrays, ("test",), DAY)


def station(rain: np.ndarray, years: int = 12) -> StationRecord:
    """The same rain every year; the last row is the season under way."""
    wet = np.broadcast_to(rain, (years + 1, 366)).copy()
    warm = np.full_like(wet, 25.0)
    return StationRecord("Depot", tuple(range(2026 - years, 2027)), wet, warm - 12, warm)


DRY, POURING = np.zeros(366), np.full(366, 900.0)


def test_in_dry_weather_only_getting_together_and_the_wind_cost_days() -> None:
    work = work_days(station(DRY), effort())
    for kind in ("crew", "machine"):
        assert work.lost[kind] == pytest.approx(effort().parameter("gathering_days", kind))
    waited = work.lost["spray"] - effort().parameter("gathering_days", "spray")
    # Each day is lost to wind with chance p: the wait for the first calm one, 40 days at most.
    p = effort().parameter("wind_stops", "spray")
    assert waited.mean() == pytest.approx((p * (1 - p**40) / (1 - p)).mean(), rel=0.1)
    assert len(work.years) == 12


def test_where_it_pours_every_day_no_day_is_fit() -> None:
    work = work_days(station(POURING), effort(height_10_cm_day=DAY + 20))
    assert work.lost["crew"].min() >= 40
    left = spray_days(work, effort(height_10_cm_day=DAY + 20))
    assert left is not None
    assert left.none == 1.0
    assert left.text(Words()).startswith("Hardly a day fit to spray is left")


def test_rain_every_other_day_costs_less_than_rain_for_a_week() -> None:
    days = np.arange(366)
    other, weekly = np.where(days % 2, 300.0, 0.0), np.where(days % 14 < 7, 300.0, 0.0)
    lost = [float(work_days(station(rain), effort()).lost["machine"].mean()) for rain in (DRY, other, weekly)]
    assert lost[0] < lost[2]
    # Ground soaked the day before bears no machine, so that of every other day none is fit.
    assert lost[1] == pytest.approx(40 + lost[0], rel=0.01)


def test_without_enough_years_the_table_of_usual_losses_serves() -> None:
    for record in (None, station(DRY, years=4)):
        work = work_days(record, effort())
        assert work.years == ()
        assert np.array_equal(work.lost["crew"], effort().parameter("days_lost", "crew"))
        assert spray_days(work, effort(height_10_cm_day=DAY + 9)) is None


def test_spray_days_left_are_the_calm_days_until_the_tallest_pass_10_cm() -> None:
    there = effort(height_10_cm_day=DAY + 10)
    left = spray_days(work_days(station(DRY), there), there)
    assert left is not None
    assert left.days["mean"] == pytest.approx(10 * (1 - there.parameter("wind_stops", "spray").mean()), rel=0.03)
    assert left.days["q95"] <= 10
    past = effort(height_10_cm_day=DAY - 1)
    assert spray_days(work_days(station(DRY), past), past) is None


def test_the_act_by_date_comes_earlier_where_the_station_is_wet() -> None:
    days = []
    for rain in (DRY, np.where(np.arange(366) % 9 < 7, 30.0, 0.0)):
        reading = replace(cases.escapes(), station=station(rain))
        item = next(i for i in advise(reading, flora=FLORA).actions if i.id == "pull_before_flower")
        days.append(item.by)
    assert days[1] < days[0]


def test_the_week_that_is_waited_agrees_with_a_plain_twin() -> None:
    there = effort(viable_seed_day=DAY - 5.0)
    found = waiting(there, cases.JULY)
    assert found is not None and found.when == "now"
    fill, whole = there.parameter("seed_fill_days"), there.season_seed()
    plain = [w * (min(max(12 / f, 0), 1) - min(max(5 / f, 0), 1)) for w, f in zip(whole, fill, strict=True)]
    assert found.seeds["mean"] == pytest.approx(np.mean(plain))
    assert found.seeds["q10"] == pytest.approx(np.quantile(plain, 0.1))


def test_before_any_seed_the_week_is_one_from_the_first_ripe_seed_on() -> None:
    there = effort(viable_seed_day=DAY + 30.0)
    found = waiting(there, cases.JULY)
    assert found is not None
    assert (found.when, found.start) == ("later", date(2026, 8, 7))
    plain = there.season_seed() * np.minimum(7 / there.parameter("seed_fill_days"), 1)
    assert found.seeds["q50"] == pytest.approx(np.median(plain))
    assert "each week of waiting lets something like" in found.text(Words())
    assert "August 7" in found.text(Words())


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (2e6, 9e6, "It may be 2 million to 9 million."),
        (5e6, 2.9e9, "That is rough: 20 times more or less would be no surprise."),
        (0.0, 7.4e8, "It may be none at all, or as many as 740 million."),
    ],
)
def test_a_number_of_seeds_is_told_with_how_rough_it_is_in_words_that_mean_something(
    low: float, high: float, said: str
) -> None:
    middle = max(np.sqrt(low * high), 1e7)
    spread = {"mean": middle, "q10": low, "q50": middle, "q90": high}
    for when in ("later", "ripe"):
        told = Waiting(date(2026, 8, 7), when, spread, Provenance()).text(Words())  # type: ignore[arg-type]
        assert told.endswith(said), told


def test_where_all_is_ripe_no_more_ripens_and_what_stands_on_the_plants_is_told() -> None:
    there = effort(viable_seed_day=DAY - 185.0)
    found = waiting(there, cases.JULY)
    assert found is not None and found.when == "ripe"
    assert found.seeds["mean"] == pytest.approx(there.season_seed().mean(), rel=0.01)


def test_nothing_is_said_of_waiting_where_no_seed_comes_or_nobody_counted() -> None:
    assert waiting(effort(viable_seed_day=np.nan), cases.JULY) is None
    assert waiting(effort(total=0.0), cases.JULY) is None
    assert advise(cases.escapes(p_hunted=0.1), flora=FLORA).waiting is None
    assert to_json(advise(cases.escapes(total=None), flora=FLORA))["waiting"] is None  # type: ignore[arg-type]


def test_a_few_known_plants_are_charged_the_ground_around_them_and_not_the_whole_field() -> None:
    far = advise(cases.first_find(where_hectares=None), flora=FLORA)
    near = advise(cases.first_find(where_hectares=0.6), flora=FLORA)
    hours = [next(i for i in a.actions if i.id == "first_find_pull_hold").hours["q50"] for a in (far, near)]  # type: ignore[index]
    assert hours[0] > 30
    assert hours[1] < 2


def test_edges_are_credited_with_their_own_plants_only() -> None:
    crowd = cases.escapes(total=3_000_000)
    edges = next(i for i in advise(crowd, flora=FLORA, limit=99).actions if i.id == "edges_and_singles_first")
    whole = Effort(FLORA, crowd.facts, crowd.draws, ("t",), DAY).seed_if_left()
    assert edges.seed_kept_out["q95"] < 0.2 * np.quantile(whole, 0.95)  # type: ignore[index]


@pytest.mark.parametrize(
    ("facts", "shown", "not_shown"),
    [
        ({"hot_days": 4.0}, "heat_hot", "heat"),
        ({"hot_days": 0.5, "hottest_lately_c": 25.0}, "heat", "heat_hot"),
        ({"hottest_lately_c": 34.0}, "heat_hot", "heat"),
        ({"region": "SP"}, "snakes", "training"),
        ({"sprayed_days": 12.0, "survivors": False}, "training", "snakes"),
        ({"sprayed_days": 45.0, "survivors": False}, "gloves", "re_entry"),
    ],
)
def test_a_caution_stands_where_it_belongs(facts: dict[str, Any], shown: str, not_shown: str) -> None:
    keys = {caution.key for caution in advise(cases.escapes(**facts), flora=FLORA).cautions}
    assert shown in keys
    assert not_shown not in keys


def test_in_winter_nobody_is_warned_of_heat() -> None:
    keys = {caution.key for caution in advise(cases.escapes(date(2026, 3, 2)), flora=FLORA).cautions}
    assert not keys & {"heat", "heat_hot", "lightning", "snakes"}
