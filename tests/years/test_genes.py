"""Mating against a plain reckoning, gamete by gamete."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tepal.years._genes import allele_share, copies, gamete_shares, hardy_weinberg, mated, meiosis, selfed

LOCI = st.integers(1, 3)


def plain_gametes(genotype):
    """Gametes of one genotype by flipping a coin at each mixed locus."""
    out = {}
    for sides in product((0, 1), repeat=len(genotype)):
        gamete = tuple(side if c == 1 else c // 2 for c, side in zip(genotype, sides, strict=True))
        out[gamete] = out.get(gamete, 0) + 0.5 ** len(genotype)
    return out


@settings(deadline=None, max_examples=30)
@given(LOCI, st.integers(0, 2**32))
def test_mating_is_every_pair_of_gametes(loci, seed):
    rng = np.random.default_rng(seed)
    mothers, fathers = rng.random((2, 3**loci)) * 10.0 ** rng.integers(-9, 3, (2, 3**loci))
    expected = dict.fromkeys(product((0, 1, 2), repeat=loci), 0.0)
    for (m, a), (f, b) in product(
        zip(expected.copy(), mothers, strict=True), zip(expected.copy(), fathers / fathers.sum(), strict=True)
    ):
        for (egg, x), (grain, y) in product(plain_gametes(m).items(), plain_gametes(f).items()):
            expected[tuple(np.add(egg, grain))] += a * b * x * y
    share = meiosis(loci)
    got = mated(mothers[None] @ share, (fathers / fathers.sum())[None] @ share)[0]
    # Relative, also for genotypes of one in 10^18: nothing is a difference of large numbers.
    np.testing.assert_allclose(got, list(expected.values()), rtol=1e-10)


@given(LOCI, st.lists(st.floats(0, 1), min_size=3, max_size=3))
def test_random_mating_keeps_shares(loci, p):
    p = np.array([p[:loci]])
    start = hardy_weinberg(p)
    assert start.sum() == pytest.approx(1)
    after = mated(start @ meiosis(loci), gamete_shares(p))
    np.testing.assert_allclose(after, start, atol=1e-12)
    for locus in range(loci):
        assert allele_share(after, locus, loci)[0] == pytest.approx(p[0, locus], abs=1e-12)


def test_what_is_selected_together_stays_together_for_a_while():
    """Half of the field has both genes twice, half has none: with unlinked loci the tie halves with each mating."""
    field = np.zeros((1, 9))
    field[0, 0] = field[0, 8] = 0.5
    ties = []
    for _ in range(4):
        share = field @ meiosis(2)
        ties.append(float(share[0, 3] - share[0, 2:4].sum() * share[0, [1, 3]].sum()))
        field = mated(share, share)
    assert ties == pytest.approx([0.25, 0.125, 0.0625, 0.03125])


def test_selfing_halves_the_mixed():
    mixed = np.array([[0.0, 8.0, 0.0]])
    assert selfed(mixed).tolist() == [[2.0, 4.0, 2.0]]
    assert selfed(np.eye(9)[[4]])[0].reshape(3, 3).tolist() == np.outer([0.25, 0.5, 0.25], [0.25, 0.5, 0.25]).tolist()
    assert copies(2).tolist()[5] == [1, 2]
