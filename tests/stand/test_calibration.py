"""The count model against what must hold of any exact posterior: uniform ranks, honest intervals, a conjugate case."""

import numpy as np
import pytest
from scipy import stats

from tepal.stand._counts import Counts
from tepal.stand._margin import Margin, log_prior, quantile, size_of

AREA, PLOTS, FIELDS = 4.0, 8, 300


def draws(rng, n):
    """(mu, kappa) from the joint prior: kappa from its own marginal, which the mass over mu bends."""
    log_kappa = np.linspace(-4.5, 4.5, 400)
    log_mu = np.linspace(-16, 6, 1501)
    p = np.exp(log_prior(log_mu[:, None], log_kappa[None, :], AREA))
    cell = rng.choice(p.size, n, p=(p / p.sum()).ravel())
    i, j = np.unravel_index(cell, p.shape)
    jitter = rng.random((2, n)) - 0.5
    return np.exp(log_mu[i] + jitter[0] * (log_mu[1] - log_mu[0])), np.exp(log_kappa[j] + jitter[1] * (9 / 399))


def below(margin, log_mu):
    mass = np.exp(margin.log_post - margin.log_post.max()).sum(axis=1)
    edges = np.append(margin.log_mu, margin.log_mu[-1] + margin.log_mu[1] - margin.log_mu[0])
    edges = edges - 0.5 * (margin.log_mu[1] - margin.log_mu[0])
    return float(np.interp(log_mu, edges, np.concatenate([[0.0], np.cumsum(mass)]) / mass.sum()))


@pytest.mark.slow
def test_ranks_of_the_truth_are_uniform_and_intervals_hold_what_they_say():
    rng = np.random.default_rng(12)
    ranks = []
    for mu, kappa in zip(*draws(rng, FIELDS), strict=True):
        size = float(size_of(np.array(kappa), np.array(AREA), AREA))
        count = rng.negative_binomial(size, size / (size + mu * AREA), PLOTS)
        margin = Margin.of(Counts(np.arange(PLOTS), np.zeros(PLOTS), np.full(PLOTS, AREA), count))
        ranks.append(below(margin, np.log(mu)))
    observed = np.histogram(ranks, bins=10, range=(0, 1))[0]
    assert stats.chisquare(observed).pvalue > 0.001
    for level in (0.5, 0.8, 0.9):
        held = np.mean(np.abs(np.array(ranks) - 0.5) <= level / 2)
        assert abs(held - level) < 3.5 * np.sqrt(level * (1 - level) / FIELDS)


def test_with_counts_that_scatter_by_chance_alone_the_posterior_is_the_gamma():
    # Closed form: Poisson counts with Jeffreys' prior; kappa held at its largest, and densities far below 10 per m².
    plots, plants, area = 400, 30, 0.5
    count = np.zeros(plots)
    count[:plants] = 1
    margin = Margin.of(Counts(np.arange(plots), np.zeros(plots), np.full(plots, area), count))
    mass = margin.mu_given(float(np.exp(margin.log_kappa[-1])))
    exact = stats.gamma(plants + 0.5, scale=1 / (plots * area))
    for p in (0.05, 0.25, 0.5, 0.75, 0.95):
        got = float(np.exp(quantile(margin.log_mu, mass, np.array([p]))[0]))
        # The prior's fall beyond 10 plants/m² takes 2 of 10 + 0.15: three in a hundred of one standard deviation.
        assert got == pytest.approx(exact.ppf(p) / (1 + 2 / 10 / (plots * area)), rel=0.004)
