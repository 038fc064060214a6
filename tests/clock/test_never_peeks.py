"""Whatever stands in the file after the as-of date, the answer is the same."""

from __future__ import annotations

from datetime import date

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from clock.conftest import Station
from clock.test_forecast import ask, same
from tepal.clock import Weather

YEARS = (2001, 2004)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    as_of=st.dates(date(2004, 1, 1), date(2004, 12, 31)),
    shift=st.floats(-15, 15),
    swing=st.floats(0, 10),
    wet=st.one_of(st.none(), st.floats(0, 200)),
    lost=st.floats(0, 1),
    seed=st.integers(0, 2**16),
)
def test_no_change_of_later_days_changes_the_answer(  # noqa: PLR0917
    station: Station, as_of: date, shift: float, swing: float, wet: float | None, lost: float, seed: int
) -> None:
    whole = station(*YEARS)
    later = whole.days > np.datetime64(as_of)
    rng = np.random.default_rng(seed)
    low = np.where(later, np.clip(whole.tmin_c + shift - swing, -70, 60), whole.tmin_c)
    high = np.where(later, np.clip(whole.tmax_c + shift + swing, -70, 60), whole.tmax_c)
    rain = whole.prcp_mm
    assert rain is not None
    if wet is not None:
        rain = np.where(later, wet, rain)
    kept = ~later | (rng.random(later.size) >= lost)
    order = rng.permutation(np.flatnonzero(kept))
    altered = Weather(whole.days[order], low[order], high[order], rain[order])
    one, other = (ask(weather, as_of, n=40) for weather in (whole, altered))
    assert same(one, other)
    assert one.filled == other.filled
    assert one.notes == other.notes


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(as_of=st.dates(date(2001, 1, 1), date(2004, 12, 31)), lat=st.floats(25, 50))
def test_any_day_of_any_year_has_an_answer_in_order(station: Station, as_of: date, lat: float) -> None:
    found = ask(station(*YEARS), as_of, n=60, lat=lat)
    for event in found.events:
        days = [event.quantile(p) or date.max for p in (0.1, 0.5, 0.9)]
        assert days == sorted(days)
        assert np.all(np.isnan(event.days) | ((event.days >= 0) & (event.days <= 365)))
    assert found.start == date(as_of.year, 1, 1)
