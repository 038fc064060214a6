"""Stopping rules against closed forms, scipy's likelihoods, and counting done by the rule many times over."""

import math

import numpy as np
import pytest
from scipy import stats

from tepal.tables import Refused
from tepal.walk import aggregation, fixed_precision, threshold_lines


def test_poisson_counts_need_what_the_textbook_says():
    # With no aggregation the relative error of n stops is 1/sqrt(n m): 16 plants in all for a quarter.
    rule = fixed_precision(2.0, math.inf, 0.25)
    assert rule.stops == 8
    assert rule.stop_at[7] == pytest.approx(16)
    assert rule.stop_at[0] == pytest.approx(16)


def test_precision_has_its_closed_form():
    rule = fixed_precision(0.5, 0.8, 0.3)
    assert rule.stops == math.ceil((1 / 0.5 + 1 / 0.8) / 0.09)
    # No count is enough before 1/(k D²) stops.
    assert [n for n, t in enumerate(rule.stop_at, 1) if t is None] == list(range(1, 1 + int(1 / (0.8 * 0.09))))


def test_at_the_line_the_error_is_what_was_asked():
    k, d = 1.3, 0.25
    rule = fixed_precision(1.0, k, d, most=60)
    for n, t in enumerate(rule.stop_at, 1):
        if t is not None:
            m = t / n
            assert math.sqrt((m + m * m / k) / n) / m == pytest.approx(d)


@pytest.mark.parametrize("k", [0.4, 2.0, math.inf])
def test_the_lines_are_those_of_the_likelihood_ratio(k):
    few, many, alpha, beta = 0.3, 1.1, 0.1, 0.05
    lines = threshold_lines(few, many, k, alpha=alpha, beta=beta)

    def log_of(x, m):
        return stats.poisson.logpmf(x, m) if math.isinf(k) else stats.nbinom.logpmf(x, k, k / (k + m))

    counts = np.random.default_rng(2).poisson(0.8, 25)
    ratio = float(np.sum(log_of(counts, many) - log_of(counts, few)))
    total, n = counts.sum(), len(counts)
    upper, lower = math.log((1 - beta) / alpha), math.log(beta / (1 - alpha))
    # Where the ratio lies between its bounds is where the count lies between the lines.
    assert (total - lines.low(n)) / (lines.high(n) - lines.low(n)) == pytest.approx((ratio - lower) / (upper - lower))


@pytest.mark.parametrize("mean", ["few", "many"])
def test_counting_by_the_lines_errs_as_seldom_as_promised(mean):
    few, many, k, rng = 0.5, 2.0, 1.0, np.random.default_rng(9)
    lines = threshold_lines(few, many, k, alpha=0.1, beta=0.1)
    m = few if mean == "few" else many
    wrong = 0
    for _ in range(1500):
        total = n = 0
        while lines.low(n) < total < lines.high(n):
            n += 1
            total += rng.negative_binomial(k, k / (k + m))
        wrong += (total >= lines.high(n)) == (mean == "few")
    # Wald's bounds overshoot, so the error is at most about what was asked; three standard errors on top.
    assert wrong / 1500 <= 0.1 + 3 * math.sqrt(0.1 * 0.9 / 1500)


def test_aggregation_is_found_again():
    x = np.random.default_rng(1).negative_binomial(0.7, 0.7 / (0.7 + 3), 20_000)
    assert aggregation(x) == pytest.approx(0.7, rel=0.08)
    assert math.isinf(aggregation([2, 2, 2, 2]))


@pytest.mark.parametrize(
    "ask",
    [lambda: fixed_precision(0, 1, 0.2), lambda: fixed_precision(1, -1, 0.2), lambda: threshold_lines(2, 1, 1),
     lambda: threshold_lines(1, 2, 1, alpha=0.6), lambda: aggregation([3]), lambda: fixed_precision(1, 1, math.inf)],
)  # fmt: skip
def test_nonsense_is_refused(ask):
    with pytest.raises(Refused):
        ask()
