"""The field: a slow plain twin count by count, exact integration on small cases, and limits known beforehand."""

import math

import numpy as np
import pytest
from scipy import stats

from tepal.stand._field import fit, knots_of
from tepal.stand._kernel import Kernel, shapes_for


def twin(low, high, knot, correlation, share):
    """Expectation propagation one count at a time, with a full covariance updated plainly; no damping, no batching."""
    n, b = len(low), len(correlation)
    rate, precision = np.zeros(n), np.zeros(n)
    inverse = np.linalg.inv(correlation)

    def whole():
        p, r = np.zeros(b), np.zeros(b)
        for i in range(n):
            p[knot[i]] += precision[i]
            r[knot[i]] += rate[i]
        cov = np.linalg.inv(inverse + np.diag(p))
        return cov, cov @ r

    for _ in range(300):
        for i in range(n):
            cov, mean = whole()
            k = knot[i]
            v = 1 / (1 / cov[k, k] - precision[i])
            u = v * (mean[k] / cov[k, k] - rate[i])
            total = share * v + 1 - share
            piece = stats.truncnorm((low[i] - math.sqrt(share) * u) / math.sqrt(total),
                                    (high[i] - math.sqrt(share) * u) / math.sqrt(total))  # fmt: skip
            m1 = u + math.sqrt(share / total) * v * piece.mean()
            v1 = v - share * v * v / total * (1 - piece.var())
            precision[i] = 1 / v1 - 1 / v
            rate[i] = m1 / v1 - u / v
    return whole()


def case(seed=1, n=7):
    rng = np.random.default_rng(seed)
    places = rng.uniform(0, 10, (n, 2))
    places[1] = places[0]
    knots, knot = knots_of(places)
    correlation = np.exp(-np.hypot(*(knots[:, None] - knots[None]).T) / 4)
    low = rng.normal(0, 1, n)
    high = low + rng.uniform(0.05, 1.5, n)
    low[2] = -np.inf
    return low, high, knot, correlation


@pytest.mark.parametrize("share", [0.3, 0.9])
def test_the_field_agrees_with_the_slow_twin(share):
    low, high, knot, correlation = case()
    result = fit(low[None], high[None], knot, correlation, share, rounds=400, enough=1e-12)
    cov, mean = twin(low, high, knot, correlation, share)
    assert result.pull[0] @ correlation == pytest.approx(mean, abs=1e-6)
    assert correlation - correlation @ result.loss[0] @ correlation == pytest.approx(cov, abs=1e-6)


def test_evidence_of_two_counts_is_that_of_a_bivariate_normal():
    # Exact: two intervals of a normal pair with correlation share·rho, by another library's rectangle chance.
    low, high = np.array([-0.4, 0.3]), np.array([0.8, 1.4])
    correlation = np.array([[1, 0.7], [0.7, 1]])
    share = 0.6
    pair = stats.multivariate_normal(cov=[[1, share * 0.7], [share * 0.7, 1]])
    exact = pair.cdf(high) - pair.cdf([low[0], high[1]]) - pair.cdf([high[0], low[1]]) + pair.cdf(low)
    got = fit(low[None], high[None], np.array([0, 1]), correlation, share, rounds=50, enough=1e-10).log_evidence[0]
    assert got == pytest.approx(math.log(exact), abs=0.002)


def test_without_field_the_evidence_is_the_plain_product():
    low, high, knot, correlation = case()
    got = fit(low[None], high[None], knot, correlation, 0.0, rounds=1).log_evidence[0]
    assert got == pytest.approx(np.log(stats.norm.cdf(high) - stats.norm.cdf(low)).sum(), abs=1e-6)


def test_field_prior_adds_to_one():
    assert sum(math.exp(shape.log_prior) for shape in shapes_for(100.0)) == pytest.approx(1)


@pytest.mark.parametrize("n", [5, 200, 3000])
def test_knots_are_few_and_near_their_counts(n):
    places = np.random.default_rng(2).uniform(0, 300, (n, 2))
    knots, index = knots_of(places)
    assert len(knots) <= 200
    assert index.shape == (n,)
    assert np.hypot(*(knots[index] - places).T).max() < (1e-9 if n <= 200 else 40)


def test_a_long_line_of_counts_keeps_many_knots():
    x = np.linspace(0, 2000, 1500)
    knots, _ = knots_of(np.column_stack([x, 0 * x]))
    assert 10 <= len(knots) <= 200


def test_a_kernel_with_one_reach_for_both_axes_falls_as_an_exponential_of_distance():
    places = np.random.default_rng(1).uniform(0, 50, (6, 2))
    apart = np.hypot(*(places[:, None] - places[None]).T)
    assert Kernel("rough", 9.0, 9.0)(places, places) == pytest.approx(np.exp(-apart / 9))


@pytest.mark.parametrize("kind", ["rough", "strips"])
def test_every_kernel_is_a_correlation(kind):
    places = np.random.default_rng(1).uniform(0, 50, (40, 2))
    matrix = Kernel(kind, 20.0, 5.0)(places, places)
    assert np.diag(matrix) == pytest.approx(1)
    assert np.linalg.eigvalsh(matrix).min() > -1e-9


def test_a_strip_is_shared_all_along():
    far_along = Kernel("strips", 10.0, 10.0)(np.array([[0.0, 0.0]]), np.array([[0.0, 1e6], [3e5, 1e6]]))[0]
    assert far_along == pytest.approx([0.5, 0.0])


def test_a_count_made_thrice_is_three_counts():
    low, high, knot, correlation = case()
    more = [np.concatenate([a, a[:1], a[:1]]) for a in (low, high, knot)]
    times = np.where(np.arange(low.size) == 0, 3, 1)
    each = fit(more[0][None], more[1][None], more[2], correlation, 0.6, rounds=200, enough=1e-12)
    once = fit(low[None], high[None], knot, correlation, 0.6, times=times, rounds=200, enough=1e-12)
    assert once.log_evidence == pytest.approx(each.log_evidence, abs=1e-8)
    assert once.pull == pytest.approx(each.pull, abs=1e-8)
