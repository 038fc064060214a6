"""Deadlines: the closed set, and the early date less the days lost, from draws of both together."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tepal.advice import due, parse_deadline
from tepal.tables import Refused, Where

HERE = Where("rules.toml", None, "rule r")
TODAY = date(2026, 7, 1)
FACTS = {"as_of": TODAY}
NONE_LOST = {who: np.zeros(1000) for who in ("crew", "spray", "machine")}


def test_the_early_date_of_event_less_loss_is_taken_from_both_together() -> None:
    # Event on day 200..1199, loss of 2 where the event's rank is even: the tenth of the differences by plain sorting.
    event = np.arange(200.0, 1200.0)
    lost = np.where(np.arange(1000) % 2 == 0, 2.0, 0.0)
    plain = sorted(int(e - x) for e, x in zip(event, lost, strict=True))[99]
    got = due((parse_deadline("before viable_seed less days_lost.crew", HERE),), FACTS,
              {"viable_seed_day": event}, NONE_LOST | {"crew": lost})  # fmt: skip
    assert got is not None
    assert got.by == date(2026, 1, 1) + timedelta(days=plain)


def test_an_event_that_seldom_comes_sets_no_date_and_one_that_never_comes_none_at_all() -> None:
    for share, told in ((0.05, False), (0.2, True), (0.0, False)):
        event = np.full(1000, np.nan)
        event[: int(1000 * share)] = 250.0
        got = due(
            (parse_deadline("before flower less days_lost.machine", HERE),), FACTS, {"flower_day": event}, NONE_LOST
        )
        assert (got is not None) is told


def test_without_draws_the_windows_early_date_serves_less_the_usual_loss() -> None:
    facts = FACTS | {"window.height_10_cm.q10": date(2026, 7, 20)}
    got = due((parse_deadline("before height_10_cm less days_lost.spray", HERE),), facts, {},
              NONE_LOST | {"spray": np.array([1.0, 2.5, 9.0])})  # fmt: skip
    assert got is not None
    assert got.by == date(2026, 7, 17)


def test_the_earliest_of_several_counts_and_a_day_gone_by_is_today_and_late() -> None:
    lines = tuple(
        parse_deadline(line, HERE) for line in ("in 7 days", "14 days after pulled_days", "14 days after cut_days")
    )
    got = due(lines, FACTS | {"pulled_days": 10.0}, {}, NONE_LOST)
    assert got is not None
    assert (got.by, got.late) == (TODAY + timedelta(days=4), False)
    got = due(lines, FACTS | {"pulled_days": 30.0}, {}, NONE_LOST)
    assert got is not None
    assert (got.by, got.late) == (TODAY, True)


@given(st.integers(1, 366), st.integers(0, 30))
def test_a_deadline_never_lies_in_the_past(day: int, lost: int) -> None:
    got = due((parse_deadline("before viable_seed less days_lost.crew", HERE),), FACTS,
              {"viable_seed_day": np.full(50, float(day))}, NONE_LOST | {"crew": np.full(50, float(lost))})  # fmt: skip
    assert got is not None
    assert got.by == max(TODAY, date(2026, 1, 1) + timedelta(days=day - lost))


@pytest.mark.parametrize(
    "line",
    ["tomorrow", "in a week", "in -3 days", "14 days after harvest", "before frost less days_lost.crew",
     "before flower", "before flower less days_lost.drone", "ground", "window.frost.q10"],
)  # fmt: skip
def test_any_other_deadline_is_refused_with_the_rules_name(line: str) -> None:
    with pytest.raises(Refused, match=r"rules\.toml, column 'rule r'.*A deadline is"):
        parse_deadline(line, HERE)
