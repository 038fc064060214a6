"""The count model against closed forms, another library's distributions and simulation."""

import math

import numpy as np
import pytest
from scipy import stats

from tepal.stand._counts import Counts
from tepal.stand._margin import KAPPA_MEDIAN, KAPPA_SIGMA, Margin, log_pmf, normal_bounds, normal_point, truncated

COUNTS = np.array([0.0, 1, 2, 5, 40, 1000])


@pytest.mark.parametrize("size", [0.02, 0.7, 5.0, 1e4])
@pytest.mark.parametrize("mean", [1e-3, 1.0, 60.0, 3e4])
def test_the_chances_are_those_of_another_library(size, mean):
    expected = stats.nbinom.logpmf(COUNTS, size, size / (size + mean))
    close = expected > -500
    assert log_pmf(COUNTS, mean, size)[close] == pytest.approx(expected[close], rel=1e-7, abs=1e-7)


@pytest.mark.parametrize(("mean", "size"), [(3.0, 0.5), (200.0, 2.0), (0.01, 1.0)])
def test_normal_points_are_those_of_another_library(mean, size):
    below = stats.nbinom.cdf(COUNTS, size, size / (size + mean))
    above = stats.nbinom.sf(COUNTS, size, size / (size + mean))
    expected = np.where(below < above, stats.norm.ppf(below), stats.norm.isf(above))
    usable = np.abs(expected) < 30
    assert normal_point(COUNTS, mean, size)[usable] == pytest.approx(expected[usable], abs=1e-6)


def test_truncated_moments_are_those_of_another_library():
    low = np.array([-np.inf, -1.0, 0.2, 3.0, 5.0, 0.0, -8.0, 1.0])
    high = np.array([0.3, 1.5, 0.9, np.inf, 5.5, 1e-3, -7.0, 1.0 + 1e-5])
    mass, mean, variance = truncated(low, np.minimum(high, 37))
    for i in range(low.size):
        expected = stats.truncnorm(low[i], high[i])
        chance = stats.norm.cdf(high[i]) - stats.norm.cdf(low[i])
        if low[i] > 0:
            chance = stats.norm.sf(low[i]) - stats.norm.sf(high[i])
        assert mass[i] == pytest.approx(math.log(chance), rel=1e-5)
        assert mean[i] == pytest.approx(expected.mean(), rel=1e-5)
        if high[i] - low[i] > 1e-2:
            assert variance[i] == pytest.approx(expected.var(), rel=1e-3)


def test_nearly_poisson_counts_give_the_conjugate_gamma():
    # Closed form: Poisson counts with the prior mu^(-1/2) give Gamma(sum y + 1/2, sum a). Many counts of equal density
    # rule the size to be large; the fall of the prior beyond 10 plants/m2 is worth (1 + mu/10)^-2, near constant here.
    rng = np.random.default_rng(5)
    area = rng.uniform(0.5, 2.0, 4000)
    count = rng.poisson(0.8 * area)
    margin = Margin.of(Counts(np.zeros(4000), np.zeros(4000), area, count))
    mu, kappa = margin.draw(np.random.default_rng(1), 20_000)
    exact = stats.gamma(count.sum() + 0.5, scale=1 / area.sum())
    assert np.median(kappa) > 5
    for p in (0.05, 0.5, 0.95):
        # What is left of over-dispersion widens a little: 5 % of a standard deviation.
        assert np.quantile(mu, p) == pytest.approx(exact.ppf(p), abs=0.12 * exact.std())


def test_each_interval_of_the_normal_has_the_chance_of_its_count():
    count = np.arange(0.0, 30)
    low, high = normal_bounds(count, np.full(30, 4.0), np.full(30, 0.8))
    assert stats.norm.cdf(high) - stats.norm.cdf(low) == pytest.approx(np.exp(log_pmf(count, 4.0, 0.8)), rel=1e-6)


def test_ranks_of_the_truth_are_uniform():
    # Simulation-based calibration: parameters from the prior, counts from the parameters, rank of the truth among
    # draws. The prior is drawn here by plain rejection from its formula.
    rng = np.random.default_rng(20)
    bins = np.zeros((2, 10))
    worlds = 400
    done = 0
    while done < worlds:
        log_mu = rng.uniform(math.log(0.01), math.log(100))
        mean = math.exp(log_mu)
        kappa = KAPPA_MEDIAN * math.exp(KAPPA_SIGMA * rng.standard_normal())
        if rng.random() > math.sqrt(mean / (1 + 2.0 * mean / kappa)) / (1 + mean / 10) ** 2 / 1.8:
            continue
        area = np.full(12, 2.0)
        count = rng.poisson(math.exp(log_mu) * area * rng.gamma(kappa, size=12) / kappa)
        margin = Margin.of(Counts(np.zeros(12), np.zeros(12), area, count))
        mu, kappas = margin.draw(rng, 199)
        # The world's mu is cut to the range above; so are the draws, by drawing within it.
        keep = (mu > 0.01) & (mu < 100)
        for k, (draws, truth) in enumerate(((mu[keep], math.exp(log_mu)), (kappas[keep], kappa))):
            bins[k, min(int(10 * (draws < truth).mean()), 9)] += 1
        done += 1
    for k in range(2):
        assert stats.chisquare(bins[k]).pvalue > 0.001


def test_nodes_have_the_means_of_the_whole_posterior():
    rng = np.random.default_rng(8)
    count = rng.negative_binomial(0.8, 0.8 / (0.8 + 3.0), 60)
    margin = Margin.of(Counts(np.arange(60), np.zeros(60), np.ones(60), count))
    mass = np.exp(margin.log_post - margin.log_post.max())
    mass /= mass.sum()
    kappa, mu, weight = margin.nodes(3, 5)
    assert weight.sum() == pytest.approx(1)
    for power in (1, 2):
        exact = (mass.sum(axis=1) * np.exp(power * margin.log_mu)).sum()
        assert (weight * mu**power).sum() == pytest.approx(exact, rel=0.02)
    odds = np.exp(margin.log_mu[:, None] - margin.log_kappa)
    none = (mass * stats.nbinom.cdf(0, np.exp(margin.log_kappa), 1 / (1 + odds))).sum()
    found = (weight * stats.nbinom.cdf(0, kappa[:, None], 1 / (1 + mu / kappa[:, None]))).sum()
    assert found == pytest.approx(none, rel=0.01)
