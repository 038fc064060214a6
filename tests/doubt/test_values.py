"""Uncertain values against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tepal.doubt import (
    Drawable,
    Fixed,
    LogitNormal,
    LogNormal,
    Samples,
    TruncatedNormal,
    generator_for,
    log_normal_from_range,
    logit_normal_from_range,
)

N = 40_000


def _same_law(values: np.ndarray, law: object) -> bool:
    """Kolmogorov–Smirnov at 1 in 10,000: with a fixed seed this is a fact, not a lottery."""
    return float(stats.kstest(values, law.cdf).pvalue) > 1e-4  # type: ignore[attr-defined]


@given(low=st.floats(1e-6, 1e6), factor=st.floats(1, 1e4))
def test_a_positive_range_is_the_10_and_90_percent_points(low: float, factor: float) -> None:
    value = log_normal_from_range(low, low * factor)
    law = stats.norm(math.log(value.median), value.sigma or 1e-300)
    assert math.exp(law.ppf(0.1)) == pytest.approx(low, rel=1e-9)
    assert math.exp(law.ppf(0.9)) == pytest.approx(low * factor, rel=1e-9)


@given(low=st.floats(0.001, 0.999), more=st.floats(0, 1))
def test_a_range_of_shares_is_the_10_and_90_percent_points(low: float, more: float) -> None:
    high = low + more * (0.999 - low)
    value = logit_normal_from_range(low, high)
    centre, step = math.log(value.median / (1 - value.median)), stats.norm.ppf(0.9) * value.sigma
    assert 1 / (1 + math.exp(step - centre)) == pytest.approx(low, rel=1e-9)
    assert 1 / (1 + math.exp(-step - centre)) == pytest.approx(high, rel=1e-9)


def test_widening_multiplies_the_spread_and_keeps_the_median() -> None:
    for make, low, high in ((log_normal_from_range, 2.0, 18.0), (logit_normal_from_range, 0.1, 0.4)):
        plain, wide = make(low, high), make(low, high, widen=2.0)
        assert wide.sigma == pytest.approx(2 * plain.sigma)
        assert wide.median == plain.median


def test_draws_follow_their_laws() -> None:
    rng = np.random.default_rng(11)
    assert _same_law(LogNormal(3.0, 0.7).draws(rng, N), stats.lognorm(0.7, scale=3.0))
    shares = LogitNormal(0.2, 1.1).draws(rng, N)
    assert _same_law(np.log(shares / (1 - shares)), stats.norm(math.log(0.25), 1.1))
    assert _same_law(TruncatedNormal(2.0, 1.5, low=0.0).draws(rng, N), stats.truncnorm(-2 / 1.5, np.inf, 2.0, 1.5))


def test_the_law_test_would_notice_a_wrong_spread() -> None:
    assert not _same_law(LogNormal(3.0, 0.73).draws(np.random.default_rng(11), N), stats.lognorm(0.7, scale=3.0))


@pytest.mark.parametrize(
    ("mean", "sd", "low", "high"), [(5.0, 2.0, 0.0, 6.0), (0.0, 1.0, 0.0, math.inf), (0.5, 3.0, 0.0, 1.0)]
)
def test_a_cut_normal_has_the_moments_of_the_closed_form(mean: float, sd: float, low: float, high: float) -> None:
    values = TruncatedNormal(mean, sd, low, high).draws(np.random.default_rng(3), N)
    assert low <= values.min() and values.max() <= high
    # Mean and variance of a truncated normal: Johnson, Kotz and Balakrishnan (1994), eq. 13.134–13.135.
    a, b = (low - mean) / sd, (high - mean) / sd
    phi_a, phi_b = stats.norm.pdf(a), stats.norm.pdf(b)
    inside = stats.norm.cdf(b) - stats.norm.cdf(a)
    shift = (phi_a - phi_b) / inside
    ends = (a * phi_a - (b * phi_b if math.isfinite(b) else 0.0)) / inside
    variance = sd**2 * (1 + ends - shift**2)
    assert values.mean() == pytest.approx(mean + sd * shift, abs=5 * math.sqrt(variance / N))
    assert values.var() == pytest.approx(variance, rel=0.04)


def test_a_known_number_does_not_vary_and_zero_spread_is_allowed() -> None:
    rng = np.random.default_rng(1)
    assert set(Fixed(4.5).draws(rng, 5)) == {4.5}
    assert set(TruncatedNormal(1.0, 0.0, 0.0, 2.0).draws(rng, 3)) == {1.0}
    assert set(log_normal_from_range(8.0, 8.0).draws(rng, 3)) == {8.0}


def test_samples_are_a_closed_copy_and_are_drawn_evenly() -> None:
    made = np.array([1.0, 2.0, 4.0])
    samples = Samples(made)
    made[0] = 99.0
    drawn = samples.draws(np.random.default_rng(5), 30_000)
    values, counts = np.unique(drawn, return_counts=True)
    assert values.tolist() == [1.0, 2.0, 4.0]
    assert stats.chisquare(counts).pvalue > 1e-4
    with pytest.raises(ValueError, match="read-only"):
        samples.values[0] = 0.0


@pytest.mark.parametrize(
    "make",
    [
        lambda: LogNormal(0.0, 1.0),
        lambda: LogNormal(1.0, -0.1),
        lambda: LogNormal(math.nan, 1.0),
        lambda: LogitNormal(1.0, 1.0),
        lambda: LogitNormal(0.5, math.nan),
        lambda: TruncatedNormal(3.0, 1.0, high=2.0),
        lambda: TruncatedNormal(math.nan, 1.0),
        lambda: Samples(np.array([])),
        lambda: Samples(np.ones((2, 2))),
        lambda: log_normal_from_range(0.0, 1.0),
        lambda: log_normal_from_range(2.0, 1.0),
        lambda: logit_normal_from_range(0.5, 1.0),
    ],
)
def test_impossible_values_are_not_made(make: object) -> None:
    with pytest.raises(ValueError, match=r"need|got"):
        make()  # type: ignore[operator]


def test_all_kinds_are_drawable_and_one_seed_gives_one_answer() -> None:
    kinds = [Fixed(1.0), LogNormal(1.0, 1.0), LogitNormal(0.5, 1.0), TruncatedNormal(0.0, 1.0), Samples(np.ones(2))]
    for value in kinds:
        assert isinstance(value, Drawable)
        first, second = (value.draws(generator_for("Creek Bottom", "2026-07-01", 41), 50) for _ in range(2))
        assert first.shape == (50,)
        assert np.array_equal(first, second)


@given(st.lists(st.text(st.characters(exclude_characters="\x1f", exclude_categories=["Cs"])), max_size=3))
def test_a_seed_depends_on_where_the_parts_end(parts: list[str]) -> None:
    joined = generator_for("".join(parts), "x").random()
    assert (generator_for(*parts, "x").random() == joined) == (["".join(parts)] == parts)
