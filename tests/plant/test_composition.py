"""What a stand is made of, from plants named with error."""

from __future__ import annotations

import time
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import gammaln
from scipy.stats import beta

from tepal.flora import Flora
from tepal.plant import Call, composition, identify, load_settings
from tepal.tables import Refused


def certain(call: Call, code: str) -> Call:
    posterior = np.array([float(name == code) for name in call.taxa])
    return replace(call, posterior=posterior)


def test_plants_named_for_sure_give_the_dirichlet_posterior(tiny: Flora) -> None:
    """7 alpha and 3 beta without doubt: shares are Dirichlet(a prior + counts), whose means are known."""
    base = identify({}, stage="vegetative", flora=tiny)
    calls = [certain(base, "AAA")] * 7 + [certain(base, "BBB")] * 3
    stand = composition(calls, rng=np.random.default_rng(1))
    alpha = load_settings()("stand_concentration") * base.prior
    expected = (alpha[:2] + np.array([7, 3])) / (alpha.sum() + 10)
    assert stand.p_any("AAA") == 1
    assert stand.p_any("CCC") == 0
    np.testing.assert_allclose(stand.shares.mean(axis=0)[:2], expected, atol=0.015)
    np.testing.assert_allclose(stand.shares.sum(axis=1), 1)


def test_names_agree_with_adding_up_every_possibility(tiny: Flora) -> None:
    """Four doubtful plants: 4^4 ways to name them, each weighed exactly by likelihood and Dirichlet-multinomial."""
    seen = [{"hair": "yes"}, {"hair": "no"}, {"shape": "round", "hair": "yes"}, {"size": 11.5}]
    calls = [identify(x, stage="vegetative", flora=tiny) for x in seen]
    alpha = load_settings()("stand_concentration") * calls[0].prior
    like = np.array([call.posterior / call.prior for call in calls])
    chance = np.zeros(4)
    whole = 0.0
    for names in product(range(4), repeat=4):
        counts = np.bincount(names, minlength=4)
        weight = np.exp((gammaln(alpha + counts) - gammaln(alpha)).sum()) * np.prod(like[range(4), names])
        whole += weight
        chance[counts > 0] += weight
    stand = composition(calls, rng=np.random.default_rng(2))
    # 2,000 draws of 200 chains: three standard errors with an effective 500.
    for at, code in enumerate(("AAA", "BBB", "CCC", "other")):
        assert stand.p_any(code) == pytest.approx(chance[at] / whole, abs=0.06)


def test_clumps_agree_with_adding_up_every_possibility(tiny: Flora) -> None:
    """Two doubtful clumps of 5 and 3 alike plants and a single one: a clump is of one name, and counts its plants."""
    seen = [{"hair": "yes"}, {"shape": "round"}, {"size": 11.5}]
    many = np.array([5, 3, 1])
    calls = [identify(x, stage="vegetative", flora=tiny) for x in seen]
    alpha = load_settings()("stand_concentration") * calls[0].prior
    like = np.array([call.posterior / call.prior for call in calls])
    chance, share, whole = np.zeros(4), np.zeros(4), 0.0
    for names in product(range(4), repeat=3):
        counts = np.bincount(names, weights=many, minlength=4)
        weight = np.exp((gammaln(alpha + counts) - gammaln(alpha)).sum()) * np.prod(like[range(3), names])
        whole += weight
        chance[counts > 0] += weight
        share += weight * (alpha + counts) / (alpha.sum() + 9)
    stand = composition(calls, rng=np.random.default_rng(6), counts=many.tolist())
    for at, code in enumerate(("AAA", "BBB", "CCC", "other")):
        assert stand.p_any(code) == pytest.approx(chance[at] / whole, abs=0.06)
        assert stand.share(code).mean() == pytest.approx(share[at] / whole, abs=0.04)


def test_how_many_more_to_look_at_agrees_with_the_integral(tiny: Flora) -> None:
    """Forty plants that are beta without doubt: alpha's share is Beta; m more, all beta, weigh it by (1 - r x)^m."""
    base = identify({}, stage="vegetative", flora=tiny)
    stand = composition([certain(base, "BBB")] * 40, rng=np.random.default_rng(7))
    a = load_settings()("stand_concentration") * base.prior[0]
    rest = load_settings()("stand_concentration") * (1 - base.prior[0]) + 40
    found = stand.more_to_look_at("AAA", below=0.001, sure=0.95)
    assert found is not None

    def sure(more: int) -> float:
        def weight(x: float) -> float:
            return float(beta.pdf(x, a, rest) * (1 - stand.recognised * x) ** more)

        low = quad(weight, 1e-12, 0.001, points=[1e-9, 1e-6], limit=200)[0] + float(beta.cdf(1e-12, a, rest))
        return low / (low + quad(weight, 0.001, 1, points=[0.01, 0.1], limit=200)[0])

    # From 2,000 draws: the chance at the answer is the wished one to three standard errors.
    assert sure(found) == pytest.approx(0.95, abs=0.015)


@pytest.mark.slow
def test_a_thousand_plants_take_under_two_seconds() -> None:
    rng = np.random.default_rng(8)
    calls = [
        identify(
            {"petiole_blade_ratio_lower": round(float(rng.uniform(0.3, 1.5)), 3), "stem_hair_upper": "none"},
            stage="vegetative", region="SP",
        )
        for _ in range(1000)
    ]  # fmt: skip
    start = time.process_time()
    stand = composition(calls, rng=rng)
    assert time.process_time() - start < 2
    assert stand.named.shape == (2000, 1000)


def test_many_alike_doubtful_plants_do_not_add_up_to_a_rare_taxon() -> None:
    """Thirty plants that each could be Palmer with a few in a hundred are still one kind of plant."""
    call = identify({"petiole_blade_ratio_lower": 0.85, "stem_hair_upper": "none"}, stage="vegetative", region="CB")
    alone = call.probability("AMAPA")
    assert 0.01 < alone < 0.3
    stand = composition([call] * 30, rng=np.random.default_rng(3))
    independent = 1 - (1 - alone) ** 30
    assert stand.p_any("AMAPA") < independent / 2


def test_a_clump_counts_its_plants(tiny: Flora) -> None:
    base = identify({}, stage="vegetative", flora=tiny)
    calls = [certain(base, "AAA"), certain(base, "BBB")]
    stand = composition(calls, rng=np.random.default_rng(4), counts=[9, 1])
    assert stand.share("AAA").mean() > 0.7


def test_more_plants_looked_at_leave_less_room_for_a_hidden_taxon() -> None:
    call = identify(
        {"petiole_blade_ratio_lower": 0.4, "blade_lw_ratio": 4.5, "nodal_spines": "absent"},
        stage="vegetative", region="CB",
    )  # fmt: skip
    few, many = (composition([call] * n, rng=np.random.default_rng(5)) for n in (2, 40))
    assert many.p_in_stand("AMAPA", plants=1000) < few.p_in_stand("AMAPA", plants=1000)
    first, second = (stand.more_to_look_at("AMAPA") for stand in (few, many))
    assert first is not None
    assert second is not None
    assert second <= first
    assert few.p_in_stand("AMAPA", plants=0) == few.p_any("AMAPA")


def test_a_mixed_stand_is_not_taken_for_a_stand_of_hybrids() -> None:
    """Ten Palmer and three spiny plants: a cross would explain all thirteen at once, but no field is full of them."""
    palmer = identify({"petiole_blade_ratio_lower": 1.2, "nodal_spines": "absent"}, stage="vegetative", region="SE")
    spiny = identify({"petiole_blade_ratio_lower": 1.1, "nodal_spines": "present"}, stage="vegetative", region="SE")
    stand = composition([palmer] * 10 + [spiny] * 3, rng=np.random.default_rng(9))
    crosses = [name for name in stand.taxa if "x" in name]
    assert stand.share(*crosses).mean() < 0.1
    assert stand.share("AMAPA").mean() > 0.5
    assert stand.share("AMASP").mean() > 0.08


def test_draws_come_from_the_generator_that_is_passed() -> None:
    calls = [identify({"stem_hair_upper": "none"}, stage="vegetative")] * 3
    one, two, other = (composition(calls, rng=np.random.default_rng(seed)).shares for seed in (1, 1, 2))
    np.testing.assert_array_equal(one, two)
    assert not np.array_equal(one, other)


def test_nothing_and_nonsense_are_refused(tiny: Flora) -> None:
    call = identify({}, stage="vegetative", flora=tiny)
    for calls, counts in (
        ([], None),
        ([call, identify({}, stage="vegetative")], None),
        ([call], [0]),
        ([call], [1, 2]),
    ):
        with pytest.raises(Refused):
            composition(calls, rng=np.random.default_rng(0), counts=counts)
