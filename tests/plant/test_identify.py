"""Naming one plant: what must hold whatever the looks."""

from __future__ import annotations

import math
from dataclasses import replace
from types import MappingProxyType
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import tepal.flora
from tepal.flora import Flora
from tepal.plant import Reader, Specimen, identify, identify_many, load_settings

from .conftest import TABLES, write_group
from .strategies import STAGES, looks
from .twin import posterior as plain

FLORA = tepal.flora.load()
ANY_STAGE = st.sampled_from((*STAGES, "unknown"))
REGION = st.sampled_from((None, "SE", "CB", "UM", "SP", "NE"))


@settings(max_examples=60, deadline=None)
@given(looks(FLORA), ANY_STAGE, REGION)
def test_probabilities_sum_to_one(seen: dict[str, Any], stage: str, region: str | None) -> None:
    call = identify(seen, stage=stage, region=region)
    assert call.posterior.sum() == pytest.approx(1, abs=1e-9)
    assert (call.posterior >= 0).all()


@settings(max_examples=60, deadline=None)
@given(looks(FLORA), ANY_STAGE, st.randoms())
def test_the_order_of_looks_and_leaves_never_matters(seen: dict[str, Any], stage: str, random: Any) -> None:
    mixed = list(seen.items())
    random.shuffle(mixed)
    turned = {name: value[::-1] if isinstance(value, list) else value for name, value in mixed}
    np.testing.assert_array_equal(identify(seen, stage=stage).posterior, identify(turned, stage=stage).posterior)


@settings(max_examples=60, deadline=None)
@given(looks(FLORA), ANY_STAGE, st.sampled_from(sorted(FLORA.characters)))
def test_cannot_tell_changes_no_probability(seen: dict[str, Any], stage: str, name: str) -> None:
    more = {**seen, name: "cannot_tell"}
    less = {key: value for key, value in seen.items() if key != name}
    np.testing.assert_array_equal(identify(more, stage=stage).posterior, identify(less, stage=stage).posterior)


@settings(max_examples=40, deadline=None)
@given(looks(FLORA, 5), st.sampled_from(STAGES), st.integers(2, 5))
def test_the_same_leaf_entered_several_times_counts_once(seen: dict[str, Any], stage: str, times: int) -> None:
    once = {name: value[0] if isinstance(value, list) else value for name, value in seen.items()}
    again = {name: [value] * times for name, value in once.items()}
    np.testing.assert_array_equal(identify(once, stage=stage).posterior, identify(again, stage=stage).posterior)


def test_two_leaves_say_more_than_one_and_less_than_two_plants_would() -> None:
    settings_ = load_settings()
    first, both = ({"petiole_blade_ratio_lower": value} for value in (1.2, [1.15, 1.25]))
    odds = [
        math.log(call.probability("AMAPA") / call.probability("AMATU"))
        for call in (identify(x, stage="vegetative", settings=settings_) for x in (first, both))
    ]
    prior = identify({}, stage="vegetative")
    start = math.log(prior.probability("AMAPA") / prior.probability("AMATU"))
    one, two = (value - start for value in odds)
    assert one < two < 2 * one


@settings(max_examples=60, deadline=None)
@given(looks(FLORA), st.sampled_from(STAGES), REGION)
def test_the_slow_plain_twin_agrees(seen: dict[str, Any], stage: str, region: str | None) -> None:
    call = identify(seen, stage=stage, region=region)
    prior = dict(zip(call.taxa, identify({}, stage=stage, region=region).posterior.tolist(), strict=True))
    expected = plain(seen, stage, prior, flora=FLORA, settings=load_settings(), reader=Reader())
    np.testing.assert_allclose(call.posterior, list(expected.values()), rtol=0, atol=1e-9)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(looks(FLORA), ANY_STAGE, REGION), min_size=1, max_size=12))
def test_a_batch_names_each_plant_as_it_would_be_alone(plants: list[tuple[dict[str, Any], str, str | None]]) -> None:
    batch = identify_many([Specimen(seen, stage, region) for seen, stage, region in plants])
    for row, (seen, stage, region) in zip(batch.posterior, plants, strict=True):
        np.testing.assert_allclose(row, identify(seen, stage=stage, region=region).posterior, rtol=0, atol=1e-12)


def test_a_bad_plant_does_not_stop_a_batch() -> None:
    batch = identify_many(
        [
            Specimen({"nodal_spines": "present"}, "vegetative"),
            Specimen({"nodal_spines": "maybe"}, "vegetative"),
            Specimen({}, "vegetative", "XX"),
            Specimen({}, "vegetative", None, {"AMAPA": -1.0}),
        ]
    )
    assert list(batch.refused) == [1, 2, 3]
    assert np.isfinite(batch.posterior[0]).all()
    assert np.isnan(batch.posterior[1:]).all()


def test_a_conjugate_case_agrees_with_the_hand(tiny: Flora) -> None:
    """Three taxa of weights 0.2, 0.5, 0.3; one look, hairy; a reader who never errs; no temper and nothing else.

    Dirichlet predictive with c = 60 and base mass 0.2 over two states: (60 f + 0.1) / 60.2, so 54.1 / 60.2 for alpha
    and 12.1 / 60.2 for beta; gamma has no row. Misreading 0.1 x 1: 0.9 p + 0.1 (1 - p).
    """
    exact = load_settings().changed(
        {("temper", "vegetative"): 1, ("other_weight", ""): 0, ("region_mix", ""): 0, ("misread_scale", ""): 1}
        | {("base_mass", ""): 0.2, ("concentration", "measured"): 60}
    )
    call = identify(
        {"hair": "yes"}, stage="vegetative", region="CB", flora=tiny, settings=exact, reader=Reader(1e15, 1)
    )
    alpha, beta = (0.9 * p + 0.1 * (1 - p) for p in (54.1 / 60.2, 12.1 / 60.2))
    whole = 0.2 * alpha + 0.5 * beta
    # Gamma keeps its 0.3; the other 0.7 are shared by what the look says.
    assert call.probability("AAA") == pytest.approx(0.7 * 0.2 * alpha / whole, abs=1e-12)
    assert call.probability("BBB") == pytest.approx(0.7 * 0.5 * beta / whole, abs=1e-12)
    assert call.probability("CCC") == pytest.approx(0.3, abs=1e-12)


@settings(max_examples=30, deadline=None)
@given(st.sampled_from(sorted(FLORA.characters)), st.sampled_from(STAGES), REGION, st.data())
def test_a_name_of_which_nothing_is_told_keeps_its_probability(
    name: str, stage: str, region: str | None, data: Any
) -> None:
    seen = data.draw(looks(FLORA, 1).filter(bool))
    name = next(iter(seen))
    if isinstance(seen[name], list):
        seen = {name: seen[name][0]}
    before, after = (identify(x, stage=stage, region=region) for x in ({}, seen))
    told_anywhere = {
        code for table in (FLORA.shares, FLORA.measures) for code, character, _ in table if character == name
    }
    for code in set(FLORA.taxa) - told_anywhere:
        assert after.probability(code) == pytest.approx(before.probability(code), abs=1e-9)


@pytest.mark.parametrize("order", [("BBB", "AAA", "CCC"), ("CCC", "BBB", "AAA"), ("CCC", "AAA", "BBB")])
def test_permuting_the_taxa_permutes_the_answer(
    order: tuple[str, ...], tiny: Flora, tmp_path_factory: pytest.TempPathFactory
) -> None:
    head, *rows = TABLES["taxa.csv"].splitlines()
    by_code = {row[:3]: row for row in rows}
    folder = write_group(
        tmp_path_factory.mktemp("permuted"), {"taxa.csv": "\n".join([head, *(by_code[c] for c in order)]) + "\n"}
    )
    turned = tepal.flora.load("turned", folder=folder)
    seen = {"hair": "yes", "shape": ["long", "odd"], "size": 11.0}
    calls = [identify(seen, stage="vegetative", region="SE", flora=group) for group in (tiny, turned)]
    assert calls[1].taxa[:3] == order
    for code in (*order, "other"):
        assert calls[0].probability(code) == pytest.approx(calls[1].probability(code), abs=1e-12)
    assert [look.character for look in calls[0].next] == [look.character for look in calls[1].next]


def test_a_cross_is_as_probable_as_both_parents_make_it_plausible() -> None:
    near = identify({}, stage="vegetative", prior={"AMACH": 0.5, "AMATU": 0.5})
    far = identify({}, stage="vegetative", prior={"AMACH": 1.0})
    assert near.probability("AMACHxAMATU") > 5 * far.probability("AMACHxAMATU")
    assert near.probability("AMACHxAMATU") < 0.05


def test_look_alikes_matter_only_while_plants_are_small() -> None:
    alike = FLORA.look_alikes()
    assert identify({}, stage="cotyledon", region="CB").probability(*alike) == pytest.approx(0.3, abs=0.02)
    assert identify({}, stage="vegetative", region="CB").probability(*alike) == 0


def test_an_unknown_stage_is_found_from_the_looks() -> None:
    call = identify({"bract_length_female": 1.5, "tepal_count_female": "absent_or_1-2"})
    assert call.likely_stage == "reproductive"
    assert call.best == "AMATU"
    assert sum(p for _, p in call.stages) == pytest.approx(1)


def test_a_worse_reader_is_never_surer() -> None:
    seen = {"stem_hair_upper": "dense", "nodal_spines": "absent", "leaf_gloss": "dull"}
    tops = [
        identify(seen, stage="vegetative", reader=Reader(right, 100 - right)).posterior.max() for right in (99, 90, 70)
    ]
    assert tops == sorted(tops, reverse=True)


def test_redroot_smooth_and_powell_are_one_of_three_before_they_flower() -> None:
    call = identify({"stem_hair_upper": "sparse", "taproot_colour": "red_pink"}, stage="vegetative", region="NE")
    assert set(call.group) == {"AMARE", "AMACH", "AMAPO"}
    assert call.group_probability > max(call.posterior)
    assert identify({"stem_hair_upper": "dense"}, stage="reproductive", region="NE").group == ()


def test_a_measured_leaf_that_is_binned_too_counts_once() -> None:
    ratio = {"petiole_blade_ratio_lower": 1.3}
    both = {**ratio, "fold_test_lower_leaf": "longer"}
    np.testing.assert_array_equal(
        identify(ratio, stage="vegetative").posterior, identify(both, stage="vegetative").posterior
    )


def test_what_the_laboratory_proved_leads() -> None:
    call = identify({"stem_hair_upper": "none"}, stage="vegetative").proved("AMAPA", sure=0.98)
    assert call.probability("AMAPA") == pytest.approx(0.98)
    assert call.posterior.sum() == pytest.approx(1)


def test_a_changed_table_changes_the_call(tiny: Flora) -> None:
    hairy = tiny.characters["hair"]
    worse = replace(tiny, characters=MappingProxyType({**tiny.characters, "hair": replace(hairy, misread=0.4)}))
    sure, doubtful = (identify({"hair": "yes"}, stage="vegetative", flora=f).probability("AAA") for f in (tiny, worse))
    assert sure > doubtful
