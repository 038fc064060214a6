"""Draws to shown numbers: quantiles last, never-events counted as later than every date."""

from __future__ import annotations

import math
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tepal.doubt import Provenance, day_quantile, share_of_never, summary, weakest_basis

START = date(2026, 1, 1)


def test_a_summary_of_known_numbers() -> None:
    # 0, 1, …, 100: the 5 % point is 5, by definition and in any of the usual conventions.
    assert summary(np.arange(101.0)) == {"mean": 50.0, "q05": 5.0, "q50": 50.0, "q95": 95.0}


@pytest.mark.parametrize("draws", [[], [1.0, math.nan], [math.inf]])
def test_no_summary_of_nothing_or_of_what_is_not_finite(draws: list[float]) -> None:
    with pytest.raises(ValueError, match="at least one draw, all finite"):
        summary(np.array(draws))


@given(days=st.lists(st.floats(0, 400) | st.just(math.nan), min_size=1, max_size=40), probability=st.floats(0.01, 0.99))
def test_a_day_is_the_first_by_which_enough_futures_have_it(days: list[float], probability: float) -> None:
    answer = day_quantile(np.array(days), probability, START)
    # The slow plain twin: go through the days that occur and count.
    wanted = None
    for day in sorted(day for day in days if not math.isnan(day)):
        if sum(other <= day for other in days) >= probability * len(days) - 1e-12:
            wanted = START + timedelta(days=int(day))
            break
    assert answer == wanted


def test_an_event_in_a_few_futures_has_no_median_and_is_not_falsely_late() -> None:
    days = np.array([100.0, math.nan, math.nan, math.nan])
    assert day_quantile(days, 0.10, START) == START + timedelta(days=100)
    assert day_quantile(days, 0.5, START) is None
    assert share_of_never(days) == 0.75


def test_provenance_adds_up_in_order_and_keeps_the_weakest_basis() -> None:
    one = Provenance(("b", "a"), "measured", ("e2",))
    two = Provenance(("a", "c"), "review", ("e1", "e2"))
    assert one | two == Provenance(("b", "a", "c"), "review", ("e2", "e1"))
    assert Provenance() | one == one
    assert weakest_basis([]) is None
    assert weakest_basis(["judgement", "measured"]) == "judgement"
