"""Seed per hour: closed forms, a plain twin, order."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import _advice_cases as cases
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tepal.advice import TACTICS, Effort, advise, seed_and_hours
from tepal.flora import load
from tepal.reading import Fact
from tepal.tables import Refused

FLORA = load()
DAY = cases.day(cases.JULY)


def _effort(draws: dict[str, Any], **facts: Fact) -> Effort:
    n = 500
    arrays = {key: np.broadcast_to(np.asarray(value, dtype=float), (n,)).copy() for key, value in draws.items()}
    return Effort(FLORA, facts, arrays, ("test",), DAY)


BASE = {"total": 40.0, "tallest_cm": 60.0, "viable_seed_day": 240.0, "share.AMAPA": 1.0, "share.AMATU": 0.0}


def test_seed_if_left_agrees_with_a_plain_twin_draw_by_draw() -> None:
    effort = _effort(BASE | {"viable_seed_day": 180.0}, hectares=2.0)
    names = (
        ("seeds_per_female", "full_season", "AMAPA"), ("female_share", "", "AMAPA"), ("crowding_area", "", "*"),
        ("seed_lateness_start", "", "*"), ("seed_lateness_decay", "", "*"), ("seed_fill_days", "", "*"),
        ("seed_still_on_plant", "ripe", "*"),
    )  # fmt: skip
    values = {name: effort.parameter(name, condition, code) for name, condition, code in names}
    got = effort.seed_if_left()
    for i in range(0, 500, 37):
        v = {name: float(array[i]) for name, array in values.items()}
        seeds = v["seeds_per_female"] / (1 + v["crowding_area"] * 40 / 20_000)
        if v["seed_lateness_start"] < 180:
            seeds *= np.exp(-v["seed_lateness_decay"] * (180 - v["seed_lateness_start"]))
        ripe = min(max((DAY - 180) / v["seed_fill_days"], 0), 1)
        lost = ripe * (1 - v["seed_still_on_plant"])
        assert got[i] == pytest.approx(40 * v["female_share"] * seeds * (1 - lost))


def test_plants_that_never_ripen_seed_keep_nothing_out() -> None:
    effort = _effort(BASE | {"viable_seed_day": np.nan}, hectares=2.0)
    made = seed_and_hours("pull", effort)
    assert made is not None
    assert np.all(made[0] == 0)
    assert np.all(made[1] > 0)


def test_no_tactic_keeps_out_more_than_there_is_and_none_takes_negative_hours() -> None:
    for tactic in TACTICS:
        effort = _effort(BASE | {"tallest_cm": 7.0}, hectares=2.0)
        made = seed_and_hours(tactic, effort)
        assert made is not None
        assert np.all(made[0] <= effort.seed_if_left() * (1 + 1e-12))
        assert np.all(made[0] >= 0)
        assert np.all(made[1] > 0)


def test_hours_of_pulling_meet_the_published_rule_at_the_height_it_was_made_for() -> None:
    # 1.2 h per ha of walking and 0.006 h a plant (dynamics: hand_weeding_labour_model), usual plants 60 cm tall.
    effort = _effort(BASE, hectares=1.0)
    height = 60 / effort.parameter("typical_height_share")
    effort = _effort(BASE | {"tallest_cm": height, "total": 400.0}, hectares=1.0)
    assert float(np.median(effort.pull_hours(effort.plants()))) == pytest.approx(1.2 + 0.006 * 400, rel=0.15)


def test_a_five_foot_plant_takes_minutes_where_a_small_one_takes_seconds() -> None:
    share = _effort(BASE).parameter("typical_height_share")
    tall = float(np.median(_effort(BASE | {"tallest_cm": 150 / share}).pull_seconds()))
    small = float(np.median(_effort(BASE | {"tallest_cm": 20 / share}).pull_seconds()))
    assert 5 < small < 20
    assert 90 < tall < 240


def test_nobody_pulls_more_small_plants_in_a_day_than_hands_can() -> None:
    """A foot high, bent down for and carried out: six a minute at most, so fewer than three thousand in eight hours."""
    share = _effort(BASE).parameter("typical_height_share")
    seconds = _effort(BASE | {"tallest_cm": 30 / share}).pull_seconds() * _effort(BASE).parameter("no_bag_factor")
    assert 8 * 3600 / float(np.median(seconds)) < 3500


def test_seconds_rise_with_height_in_every_draw() -> None:
    before = None
    for height in (5, 20, 60, 100, 150, 250):
        seconds = _effort(BASE | {"tallest_cm": float(height)}).pull_seconds()
        assert before is None or np.all(seconds >= before)
        before = seconds


def test_bagging_keeps_ripe_seed_out_that_pulling_alone_does_not() -> None:
    draws = BASE | {"viable_seed_day": DAY - 600}  # all of it ripe
    bagged, pulled = (seed_and_hours(tactic, _effort(draws, hectares=1.0)) for tactic in ("pull_bag", "pull"))
    assert bagged is not None
    assert pulled is not None
    assert float(np.mean(bagged[0])) > 0
    assert float(np.max(pulled[0])) == 0


def test_cutting_at_the_soil_line_leaves_less_than_cutting_at_15_cm_by_the_measured_ratio() -> None:
    # Sosnoskie 2014: 0.0001 of the seed against 0.16 (dynamics: cutting_expected_seed_fraction).
    effort = _effort(BASE)
    left = {
        height: float(np.median(effort.parameter("cut_survives", height) * effort.parameter("regrowth_seed", height)))
        for height in ("soil_line", "2.5_cm", "15_cm")
    }
    assert left["soil_line"] == pytest.approx(0.0001, rel=0.5)
    assert left["2.5_cm"] == pytest.approx(0.03, rel=0.25)
    assert left["15_cm"] == pytest.approx(0.16, rel=0.25)


def test_actions_are_in_the_order_of_seed_per_hour_after_the_duties_of_the_day() -> None:
    for reading in (cases.first_find(), cases.escapes(), cases.seedlings(), cases.seedlings(survivors=True)):
        advice = advise(reading, flora=FLORA, limit=99)
        ranked = [item for item in advice.actions if item.after not in {other.id for other in advice.actions}]
        due = [item.today for item in ranked]
        assert due == sorted(due, reverse=True)
        rates = [item.seed_per_hour or 0.0 for item in ranked if not item.today]
        assert rates == sorted(rates, reverse=True)


@settings(max_examples=40, deadline=None)
@given(st.floats(1, 500), st.floats(1.1, 20))
def test_more_plants_never_lower_the_seed_kept_out_nor_the_hours(plants: float, times: float) -> None:
    few, many = (
        seed_and_hours("pull", _effort(BASE | {"total": count}, hectares=10.0)) for count in (plants, plants * times)
    )
    assert few is not None
    assert many is not None
    assert np.all(many[0] >= few[0])
    assert np.all(many[1] >= few[1])


def test_without_a_count_there_is_no_seed_per_hour_but_the_advice_stands() -> None:
    advice = advise(cases.escapes(total=None), flora=FLORA)  # type: ignore[arg-type]
    pull = next(item for item in advice.actions if item.id == "pull_before_flower")
    assert pull.seed_kept_out is None
    assert pull.hours is None
    assert pull.seed_per_hour is None
    assert pull.by is not None


def test_a_group_without_the_numbers_is_refused_by_the_row_that_is_missing() -> None:
    left = {key: row for key, row in FLORA.parameters.items() if key[0] != "crew_finds"}
    with pytest.raises(Refused, match=r"no parameter 'crew_finds'.*Add the row"):
        advise(cases.escapes(), flora=replace(FLORA, parameters=left))


def test_pulling_is_not_offered_over_the_ceiling_but_a_small_job_always_is() -> None:
    crowded = {item.id for item in advise(cases.escapes(total=300_000), flora=FLORA).actions}
    assert "edges_and_singles_first" in crowded
    assert "pull_before_flower" not in crowded
    # 40 plants on 40 square metres are 10,000 per ha, and half an hour's work.
    corner = {item.id for item in advise(cases.escapes(total=40, hectares=0.004), flora=FLORA).actions}
    assert "pull_before_flower" in corner


def test_the_same_reading_gives_the_same_advice_and_another_ledger_position_other_draws() -> None:
    first, again = (advise(cases.escapes(), flora=FLORA) for _ in range(2))
    assert first == again
    moved = advise(replace(cases.escapes(), known_to=13), flora=FLORA)
    assert moved.actions[0].seed_per_hour != first.actions[0].seed_per_hour
    assert [item.id for item in moved.actions] == [item.id for item in first.actions]


def test_at_most_the_limit_is_asked_for_and_the_rest_stands_in_later() -> None:
    whole = advise(cases.seedlings(survivors=True, waterway=True), flora=FLORA, limit=99)
    five = advise(cases.seedlings(survivors=True, waterway=True), flora=FLORA)
    assert len(whole.actions) > 5
    assert five.actions + five.later == whole.actions
    assert len(five.actions) == 5


def test_the_day_to_come_back_is_two_weeks_after_pulling() -> None:
    assert advise(cases.escapes(pulled_days=5.0), flora=FLORA).return_on == date(2026, 7, 17)
    late = next(
        i for i in advise(cases.escapes(pulled_days=20.0), flora=FLORA).actions if i.id == "return_after_pulling"
    )
    assert (late.by, late.late, late.today) == (cases.JULY, True, True)


@pytest.mark.parametrize("days", range(6, 40, 2))
def test_leave_to_treat_is_asked_no_later_than_the_plants_are_pulled(days: int) -> None:
    seed = np.full(cases.N, DAY + 22.0 + days)
    reading = cases.off_field("conservation", nesting__open=True, nesting__until=date(2026, 8, 1))
    reading = replace(reading, draws=reading.draws | {"flower_day": seed - 22, "viable_seed_day": seed})
    items = {item.id: item for item in advise(reading, flora=FLORA, limit=50).actions}
    leave, pull = items["leave_for_spot_treatment"], items["pull_before_flower"]
    assert leave.by is not None and pull.by is not None
    # Three days are allowed to ask; pulling may be due before.
    assert leave.by == min(pull.by, date.fromordinal(cases.JULY.toordinal() + 3))
    assert leave.today == (leave.by == cases.JULY)


def test_on_conservation_ground_the_agency_is_asked_before_a_first_find_is_pulled() -> None:
    found = advise(cases.first_find(ground="conservation", crop=None), flora=FLORA, limit=50)
    ids = [item.id for item in found.actions]
    assert ids.index("conservation_authority") == ids.index("first_find_pull_hold") - 1
    in_field = [item.id for item in advise(cases.first_find(), flora=FLORA, limit=50).actions]
    assert "first_find_pull_hold" in in_field and "conservation_authority" not in in_field
