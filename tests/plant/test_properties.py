"""What must hold of any flora's looks: what a look, a reader, a leaf and the order of names may and may not do."""

from __future__ import annotations

import math
from dataclasses import replace
from types import MappingProxyType
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import nnls

import tepal.flora
from tepal.plant import Call, Reader, Specimen, identify, identify_many, load_settings
from tepal.plant._likelihood import likelihoods

from .strategies import STAGES, looks

FLORA = tepal.flora.load()
# A temper is a judgement on how much a look is worth: information can only be reckoned where a look counts for itself.
PLAIN = load_settings().changed(
    {("temper", stage): 1.0 for stage in STAGES} | {("overlap_correlation", ""): 0.0, ("borrowed_weight", ""): 1.0}
)
REGION = st.sampled_from((None, "SE", "CB", "UM", "SP", "NE"))
STATED = {
    stage: sorted(
        name for name, part in likelihoods(FLORA, stage, PLAIN, Reader()).categorical.items() if len(part.states) > 1
    )
    for stage in STAGES
}


def entropy(p: np.ndarray) -> float:
    p = p[p > 0]
    return float(-(p * np.log(p)).sum())


def after(seen: dict[str, Any], name: str, reader: Reader, **where: Any) -> tuple[float, Call]:
    """Mean entropy over what a further look would show, and the call before it.

    The mean of the beliefs after, each by its chance, is the belief before: that gives the chances.
    """
    before = identify(seen, settings=PLAIN, reader=reader, **where)
    beliefs = np.stack(
        [
            identify({**seen, name: state}, settings=PLAIN, reader=reader, **where).posterior
            for state in FLORA.characters[name].states
        ],
        axis=1,
    )
    chance, off = nnls(beliefs, before.posterior)
    assert off < 1e-8
    return float(sum(q * entropy(p) for q, p in zip(chance, beliefs.T, strict=True))), before


@settings(max_examples=60, deadline=None)
@given(looks(FLORA, 5), st.sampled_from(STAGES), REGION, st.data())
def test_one_more_look_never_raises_the_expected_entropy(
    seen: dict[str, Any], stage: str, region: str | None, data: Any
) -> None:
    name = data.draw(st.sampled_from(STATED[stage]))
    coarse = {other for other in FLORA.characters if FLORA.characters[other].binned_from == name}
    seen = {
        key: value
        for key, value in seen.items()
        if key != name and key not in coarse and FLORA.characters[name].binned_from != key
    }
    expected, before = after(seen, name, Reader(), stage=stage, region=region)
    assert expected <= entropy(before.posterior) + 1e-9


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(STAGES), REGION, st.floats(0.5, 1), st.floats(0.5, 1), st.data())
def test_a_more_reliable_reader_never_raises_the_expected_entropy(
    stage: str, region: str | None, one: float, two: float, data: Any
) -> None:
    name = data.draw(st.sampled_from(STATED[stage]))
    size = len(FLORA.characters[name].states)
    # Below 1 / states a reader would tell by being wrong.
    low, high = sorted((max(one, 1.5 / size), max(two, 1.5 / size)))
    worse, better = (
        after({}, name, Reader(1e6 * r, 1e6 * (1 - r) + 1e-6), stage=stage, region=region)[0] for r in (low, high)
    )
    assert better <= worse + 1e-9


@settings(max_examples=15, deadline=None)
@given(st.permutations(list(FLORA.taxa)), looks(FLORA, 6), st.sampled_from((*STAGES, "unknown")), REGION)
def test_permuting_the_taxa_permutes_the_answer(
    order: list[str], seen: dict[str, Any], stage: str, region: str | None
) -> None:
    turned = replace(FLORA, taxa=MappingProxyType({code: FLORA.taxa[code] for code in order}))
    one, two = (identify(seen, stage=stage, region=region, flora=flora) for flora in (FLORA, turned))
    assert two.taxa[: len(order)] == tuple(order)
    for name in one.taxa:
        assert two.probability(name) == pytest.approx(one.probability(name), abs=1e-12)
    assert two.enough == one.enough
    gains = [{look.character: look.gain for look in call.next} for call in (one, two)]
    for name in set(gains[0]) | set(gains[1]):
        assert gains[0].get(name, 0.0) == pytest.approx(gains[1].get(name, 0.0), abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(STAGES), REGION, st.data())
def test_two_leaves_of_one_plant_are_two_looks_that_go_together(stage: str, region: str | None, data: Any) -> None:
    """Odds of two names by two leaves: the product of both leaves' odds to the power of 1 / (1 + correlation)."""
    name = data.draw(st.sampled_from(STATED[stage]))
    states = data.draw(st.lists(st.sampled_from(FLORA.characters[name].states), min_size=2, max_size=2, unique=True))
    told = likelihoods(FLORA, stage, PLAIN, Reader()).categorical[name].known
    start, first, second, both = (
        identify(x, stage=stage, region=region, settings=PLAIN)
        for x in ({}, {name: states[0]}, {name: states[1]}, {name: states})
    )
    common = [i for i in range(len(start.taxa)) if told[i] and start.prior[i] > 0]
    a, b = common[0], common[-1]

    def push(call: Call) -> float:
        return math.log(call.posterior[a] / call.posterior[b]) - math.log(start.posterior[a] / start.posterior[b])

    expected = (push(first) + push(second)) / (1 + PLAIN("leaf_correlation"))
    assert push(both) == pytest.approx(expected, abs=1e-6)


@given(st.integers(0, 50), st.integers(0, 50), st.integers(0, 50), st.integers(0, 50))
def test_a_reader_is_a_beta_of_what_was_checked(a: int, b: int, c: int, d: int) -> None:
    drill, laboratory = {"right": a, "wrong": b}, {"right": c, "wrong": d}
    one = Reader().after(**drill).after(**laboratory)
    assert one == Reader().after(**laboratory).after(**drill)
    start = Reader()
    assert one.reliability == pytest.approx((start.right + a + c) / (start.right + start.wrong + a + b + c + d))


def test_the_prior_is_shown_and_can_be_replaced() -> None:
    region = identify({}, stage="vegetative", region="UM")
    assert region.prior[region.taxa.index("AMATU")] == pytest.approx(FLORA.weights("UM")["AMATU"], abs=0.05)
    own = identify({}, stage="vegetative", region="UM", prior={"AMASP": 3, "AMAPA": 1})
    np.testing.assert_allclose(own.prior, own.posterior, rtol=0, atol=1e-12)
    assert own.probability("AMASP") == pytest.approx(3 * own.probability("AMAPA"), rel=0.05)


MEASURED = {stage: sorted(likelihoods(FLORA, stage, PLAIN, Reader()).numeric) for stage in STAGES}


def grid_of(name: str, stage: str, reader: Reader) -> tuple[np.ndarray, np.ndarray]:
    """Points far beyond every plant on both sides, and the density of one leaf there, shape = (points, names)."""
    numeric = likelihoods(FLORA, stage, PLAIN, reader).numeric[name]
    centre, wide = numeric.broad
    x = centre + wide * np.sinh(np.linspace(-4.5, 4.5, 4001))  # close together where the narrow densities are
    return x, numeric.density(x, np.ones(len(x)))


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(STAGES), st.floats(0.5, 1), st.data())
def test_the_density_of_a_measure_is_whole_for_every_name_and_reader(stage: str, r: float, data: Any) -> None:
    if not MEASURED[stage]:
        return
    reader = Reader(1e6 * r, 1e6 * (1 - r) + 1e-6)
    name = data.draw(st.sampled_from(MEASURED[stage]))
    x, density = grid_of(name, stage, reader)
    known = likelihoods(FLORA, stage, PLAIN, reader).numeric[name].known
    assert np.trapezoid(density, x, axis=0)[known] == pytest.approx(1, abs=1e-4)


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(STAGES), REGION, st.floats(0.5, 1), st.data())
def test_a_measurement_never_raises_the_expected_entropy(stage: str, region: str | None, r: float, data: Any) -> None:
    """By the integral over what the ruler could show; the beliefs after are those of `identify_many`."""
    if not MEASURED[stage]:
        return
    reader = Reader(1e6 * r, 1e6 * (1 - r) + 1e-6)
    name = data.draw(st.sampled_from(MEASURED[stage]))
    low, high = 0.0, 2 * max(row.high for (_, named, _), row in FLORA.measures.items() if named == name)
    x = np.linspace(low, high, 400)
    batch = [Specimen({name: float(value)}, stage, region) for value in x]
    after = identify_many(batch, flora=FLORA, settings=PLAIN, reader=reader).posterior
    before = identify({}, stage=stage, region=region, settings=PLAIN, reader=reader)
    numeric = likelihoods(FLORA, stage, PLAIN, reader).numeric[name]
    told = numeric.density(x, np.ones(len(x)))
    prior = before.posterior
    chance = (told * prior)[:, numeric.known].sum(axis=1) / prior[numeric.known].sum()
    weight = chance / chance.sum()
    # No ruler shows less than nothing: what little the densities have there is left out.
    assert weight @ after == pytest.approx(prior, abs=0.02)
    assert weight @ [entropy(p) for p in after] <= entropy(prior) + 0.02
