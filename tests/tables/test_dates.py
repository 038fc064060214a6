"""A date is taken when it can be read in one way only."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tepal.tables import Refused, Where, parse_date


@given(st.dates())
def test_iso_dates_come_back(day: date) -> None:
    assert parse_date(f" {day.isoformat()} ", "t") == day


def test_the_date_of_an_iso_date_time_is_the_one_written() -> None:
    assert parse_date("2026-08-13T23:30:00-05:00", "t") == date(2026, 8, 13)
    assert parse_date("2026-08-13 07:15", "t") == date(2026, 8, 13)
    assert parse_date("2026-08-13T12:00:00Z", "t") == date(2026, 8, 13)


@pytest.mark.parametrize(
    "text", ["", "04/05/2026", "13.08.2026", "2026-02-30", "2026-8-1", "Aug 13", "2026-08-13T25:00", "2026-08-13 noon"]
)
def test_what_can_mean_two_days_or_none_is_refused(text: str) -> None:
    with pytest.raises(Refused) as caught:
        parse_date(text, Where("t.csv", 4, "on"))
    assert "(t.csv, line 4, column 'on'). A date is written YYYY-MM-DD." in str(caught.value)


def test_a_refusal_can_be_told_of_a_better_place_and_stays_one_line() -> None:
    refusal = Refused("a\nb", where="t", rule="r.", step="s.")
    assert str(refusal) == "a b (t). r. s."
    assert str(refusal.at(Where("t", 3))) == "a b (t, line 3). r. s."
