"""A range is an 80 % interval: its 10 and 90 % points are the two numbers, whatever their kind."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tepal.programme import Amount

Z = NormalDist()
RANGES = [(3.0, 400.0, "positive"), (0.0, 20.0, "positive"), (0.02, 0.3, "share"), (0.0, 0.4, "share"),
          (0.6, 1.0, "share"), (0.0, 1.0, "share")]  # fmt: skip


@pytest.mark.parametrize(("low", "high", "kind"), RANGES)
def test_a_tenth_lies_below_and_a_tenth_above(low, high, kind):
    values = Amount(low, high, kind).draws(np.random.default_rng(5), 200_000)
    # Counting sd of a tenth of 200,000 is 0.0007. A wall holds its tenth as a lump; from 0 to 1 all is alike.
    below = (values <= low).mean() if low == 0 and (low, high) != (0, 1) else (values < low).mean()
    above = (values >= high).mean() if high == 1 and (low, high) != (0, 1) else (values > high).mean()
    expected = 0.0 if (low, high) == (0.0, 1.0) else 0.1
    assert abs(below - expected) < 0.004
    assert abs(above - expected) < 0.004
    assert values.min() >= 0
    assert kind == "positive" or values.max() <= 1


def test_middles_in_closed_form():
    zero = np.zeros(1)
    assert Amount(3, 400, "positive").at(zero)[0] == pytest.approx(math.sqrt(1200))
    logits = [math.log(p / (1 - p)) for p in (0.02, 0.3)]
    assert Amount(0.02, 0.3, "share").at(zero)[0] == pytest.approx(1 / (1 + math.exp(-sum(logits) / 2)))
    assert Amount(0.0, 1.0, "share").at(np.array([Z.inv_cdf(0.37)]))[0] == pytest.approx(0.37)
    assert Amount(0.5, 0.5, "share").at(np.array([3.0]))[0] == 0.5


@given(st.sampled_from(RANGES), st.lists(st.floats(-5, 5), min_size=2, max_size=9))
def test_values_rise_with_the_luck(kind, luck):
    low, high, which = kind
    values = Amount(low, high, which).at(np.sort(np.array(luck)))
    assert (np.diff(values) >= 0).all()


@given(st.floats(0.01, 0.4), st.floats(0.01, 0.5))
def test_a_share_that_could_be_all_mirrors_one_that_could_be_none(high, z):
    assert Amount(1 - high, 1.0, "share").at(np.array([z]))[0] == pytest.approx(
        1 - Amount(0.0, high, "share").at(np.array([-z]))[0]
    )
