"""Whole plants: the same chances as an independent library gives, and nothing lost by rounding."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tepal.years._chance import come_through, so_many


@pytest.mark.parametrize(("n", "p"), [(1, 0.3), (40, 0.02), (5_000, 0.9), (10**6, 0.4), (10**9, 2e-9), (10**17, 3e-17),
                                      (10**17, 1 - 3e-17 * 0 - 1e-15)])  # fmt: skip
def test_mean_and_spread_are_binomial(n, p):
    got = come_through(np.random.default_rng(3), np.full(40_000, float(n)), p)
    mean, sd = n * p, np.sqrt(n * p * (1 - p))
    assert abs((got - n).mean() - (mean - n)) < 5 * max(sd, 1e-9) / 200 + n * 1e-15
    assert got.std() == pytest.approx(sd, rel=0.03, abs=1e-6 * n if n > 10**15 else 0)
    assert ((got >= 0) & (got <= n) & (got == np.rint(got))).all()


def test_a_normal_number_instead_of_many_coins_is_not_to_be_told_from_them():
    """Where the rounded normal takes over its distribution differs from the binomial by less than 1.5 in 100."""
    n, p = 1000, 0.4
    got = come_through(np.random.default_rng(5), np.full(100_000, float(n)), p)
    at = np.arange(340, 461)
    ours = np.searchsorted(np.sort(got), at, side="right") / got.size
    assert np.abs(ours - stats.binom(n, p).cdf(at)).max() < 0.015


@given(st.integers(0, 10**7), st.floats(0, 1), st.integers(0, 2**32))
def test_bounds(n, p, seed):
    got = come_through(np.random.default_rng(seed), np.full(3, float(n)), p)
    assert ((got >= 0) & (got <= n) & (got == np.rint(got))).all()
    if p in (0.0, 1.0):
        assert (got == n * p).all()


@given(st.floats(0, 1e12), st.integers(0, 2**32))
def test_counts_about_a_mean(mean, seed):
    got = so_many(np.random.default_rng(seed), np.full(4, mean))
    assert ((got >= 0) & (got == np.rint(got))).all()
    assert np.abs(got - mean).max() <= 7 * np.sqrt(mean) + 7


def test_the_last_plants_are_whole():
    """A field of a few plants is emptied in some replicates and not in others; no share of a plant is left."""
    left = np.full(2000, 3.0)
    rng = np.random.default_rng(1)
    for _ in range(3):
        left = come_through(rng, left, 0.5)
    assert (left == 0).mean() == pytest.approx((1 - 0.125) ** 3, abs=0.04)
    assert set(np.unique(left)) <= {0.0, 1.0, 2.0, 3.0}
