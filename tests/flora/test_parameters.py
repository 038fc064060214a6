"""A parameter's distribution against closed forms: its 10 and 90 % points, its moments, its widening."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tepal.doubt import BASES, Basis, LogitNormal, LogNormal, TruncatedNormal
from tepal.flora import Parameter
from tepal.flora._parameters import BARE_SPREAD, WIDEN, ParameterKind

Z90 = NormalDist().inv_cdf(0.9)


def parameter(
    kind: ParameterKind,
    *,
    mean: float | None = None,
    sd: float | None = None,
    low: float | None = None,
    high: float | None = None,
    basis: Basis = "measured",
    least: float | None = None,
    most: float | None = None,
) -> Parameter:
    return Parameter(
        "x", "*", "", mean, sd, low, high, "cm", kind, least, most, basis, ("Tests",), (), "", "growth.csv", 2
    )


def test_a_measured_range_is_kept_as_the_10_and_90_percent_points() -> None:
    value = parameter("log_normal", low=110, high=200).value()
    assert isinstance(value, LogNormal)
    assert value.median == pytest.approx(math.sqrt(110 * 200))
    assert value.median * math.exp(Z90 * value.sigma) == pytest.approx(200)
    draws = value.draws(np.random.default_rng(3), 40_000)
    assert np.quantile(draws, [0.1, 0.9]) == pytest.approx([110, 200], rel=0.02)


def test_a_mean_beside_a_range_is_the_median() -> None:
    value = parameter("log_normal", mean=150, low=110, high=200).value()
    assert isinstance(value, LogNormal)
    assert value.median == 150
    share = parameter("logit_normal", mean=0.97, low=0.9, high=0.99).value()
    assert isinstance(share, LogitNormal)
    assert share.median == 0.97


def test_a_mean_and_sd_give_the_log_normal_of_those_moments() -> None:
    value = parameter("log_normal", mean=10, sd=5).value()
    assert isinstance(value, LogNormal)
    # Mean of a log-normal: median * exp(sigma^2 / 2); variance: mean^2 * (exp(sigma^2) - 1).
    assert value.median * math.exp(value.sigma**2 / 2) == pytest.approx(10)
    assert 10 * math.sqrt(math.expm1(value.sigma**2)) == pytest.approx(5)


def test_a_normal_number_stays_within_its_declared_bounds() -> None:
    value = parameter("normal", mean=10, low=4, high=16, least=0, most=24).value()
    assert isinstance(value, TruncatedNormal)
    assert value.sd == pytest.approx(6 / Z90)
    draws = value.draws(np.random.default_rng(5), 5_000)
    assert draws.min() >= 0 and draws.max() <= 24


@given(
    st.floats(0.01, 0.5),
    st.floats(0.01, 0.45),
    st.sampled_from(BASES),
    st.sampled_from(["log_normal", "logit_normal", "normal"]),
)
def test_a_weaker_basis_never_narrows_the_doubt(low: float, more: float, basis: Basis, kind: ParameterKind) -> None:
    def spread(of: Basis) -> float:
        value = parameter(kind, low=low, high=low + more, basis=of).value()
        assert isinstance(value, LogNormal | LogitNormal | TruncatedNormal)
        return value.sd if isinstance(value, TruncatedNormal) else value.sigma

    assert spread("measured") <= spread(basis) <= spread("judgement")
    assert spread("judgement") > 1.5 * spread("measured")


def test_a_number_without_spread_is_not_taken_as_known() -> None:
    for kind in ("log_normal", "logit_normal", "normal"):
        for basis in BASES:
            value = parameter(kind, mean=0.5, basis=basis).value()  # type: ignore[arg-type]
            draws = value.draws(np.random.default_rng(7), 2_000)
            assert draws.std() > 0.03


def test_every_basis_has_its_widening_in_order_of_firmness() -> None:
    assert tuple(WIDEN) == tuple(BARE_SPREAD) == BASES
    assert list(WIDEN.values()) == sorted(WIDEN.values())
    assert list(BARE_SPREAD.values()) == sorted(BARE_SPREAD.values())
