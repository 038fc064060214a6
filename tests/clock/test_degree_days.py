"""Degree days against the sine they stand for, summed in small steps."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tepal.clock import degree_days


def summed(tmin: float, tmax: float, lower: float, upper: float) -> float:
    """The day as a sine of time: what lies between the thresholds, averaged over 200,000 moments."""
    moments = (np.arange(200_000) + 0.5) / 200_000 * 2 * math.pi
    temperature = (tmin + tmax) / 2 + (tmax - tmin) / 2 * np.sin(moments)
    return float(np.mean(np.clip(temperature, lower, upper) - lower))


@pytest.mark.parametrize(
    ("tmin", "tmax"), [(-5, 3), (2, 9), (2, 9.5), (4, 18), (10, 30), (12, 38), (15, 42), (36, 41), (9, 9), (20, 20)]
)
def test_a_days_degree_days_are_the_area_under_its_sine(tmin: float, tmax: float) -> None:
    found = degree_days(np.array([tmin]), np.array([tmax]), lower_c=9, upper_c=35)[0]
    assert found == pytest.approx(summed(tmin, tmax, 9, 35), abs=2e-4)


@given(st.floats(-30, 45), st.floats(0, 30), st.floats(0, 20), st.floats(0.1, 30))
def test_degree_days_lie_between_nothing_and_the_distance_of_the_thresholds(
    low: float, span: float, lower: float, apart: float
) -> None:
    found = degree_days(np.array([low]), np.array([low + span]), lower_c=lower, upper_c=lower + apart)[0]
    assert -1e-9 <= found <= apart + 1e-9


@given(st.floats(-30, 45), st.floats(0, 30), st.floats(0, 5))
def test_a_warmer_day_never_has_fewer(low: float, span: float, warmer: float) -> None:
    cool, warm = degree_days(
        np.array([low, low + warmer]), np.array([low, low + warmer]) + span, lower_c=10, upper_c=34
    )
    assert warm >= cool - 1e-9


def test_without_an_upper_threshold_a_warm_day_counts_its_mean_less_the_base() -> None:
    assert degree_days(np.array([14.0]), np.array([40.0]), lower_c=10)[0] == pytest.approx(17.0)


def test_thresholds_the_wrong_way_round_are_refused() -> None:
    with pytest.raises(ValueError, match="below the upper"):
        degree_days(np.array([1.0]), np.array([2.0]), lower_c=10, upper_c=10)
