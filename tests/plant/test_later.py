"""What would change what to do, when looking now would not."""

from __future__ import annotations

import numpy as np
import pytest

from tepal.flora import Flora
from tepal.plant import Reader, identify, later, load_settings, what_settles_it
from tepal.plant._losses import loss_matrix
from tepal.words import Words


def asked_to_the_end(flora: Flora, answers: dict[str, object], stage: str, region: str) -> dict[str, object]:
    """Looks as the room asks for them; what is not in `answers` cannot be told."""
    looks: dict[str, object] = {}
    while True:
        call = identify(looks, stage=stage, region=region, flora=flora)
        if call.enough:
            return looks
        looks[call.next[0].character] = answers.get(call.next[0].character, "cannot_tell")


def test_a_doubtful_young_plant_is_told_by_its_flowers_later(flora: Flora) -> None:
    seen = {"stem_hair_upper": "none", "petiole_blade_ratio_lower": 0.95, "nodal_spines": "absent"}
    call = identify(asked_to_the_end(flora, seen, "vegetative", "SP"), stage="vegetative", region="SP")
    assert call.enough
    assert call.posterior.max() < 0.9
    found = later(call, flora)
    assert {look.stage for look in found.looks} == {"reproductive"}
    assert found.looks[0].character == "bract_length_female"
    text = what_settles_it(call, flora, Words())
    assert "Looking more would not change what to do." in text
    assert "once it flowers" in text
    assert "laboratory" in text


def test_a_plant_in_seed_that_is_sure_waits_for_nothing(flora: Flora) -> None:
    seen = {"bract_length_female": 1.5, "tepal_count_female": "absent_or_1-2", "plant_sex": "female_only"}
    call = identify(seen, stage="reproductive", region="CB")
    assert not later(call, flora).laboratory
    assert "laboratory" not in what_settles_it(call, flora, Words())


def test_a_sample_is_worth_its_price_exactly_when_every_name_risks_more(flora: Flora) -> None:
    call = identify({"stem_hair_upper": "none"}, stage="vegetative", region="SP")
    least = (loss_matrix(flora, load_settings(), "vegetative") @ call.posterior)[: len(flora.taxa)].min()
    for price, worth in ((least * 0.99, True), (least * 1.01, False)):
        from dataclasses import replace
        from types import MappingProxyType

        sample = replace(flora.losses["sample"], value=float(price))
        dear = replace(flora, losses=MappingProxyType({**flora.losses, "sample": sample}))
        assert later(call, dear).laboratory is worth


def test_the_drop_of_a_later_look_outcome_by_outcome(flora: Flora) -> None:
    """Reckoned from the definition: the plant's stage is the later one, its prior what is thought of it now."""
    settings = load_settings().changed({("temper", "reproductive"): 1})
    call = identify({"stem_hair_upper": "none"}, stage="vegetative", region="SP", settings=settings)
    found = {look.character: look for look in later(call, flora, settings=settings).looks}
    look = found["tepal_count_female"]
    loss = loss_matrix(flora, settings, "reproductive")[: len(flora.taxa)]
    before = (loss @ call.posterior).min()
    after, told = 0.0, 0.0
    from tepal.plant._likelihood import likelihoods

    table = likelihoods(flora, "reproductive", settings, Reader()).categorical["tepal_count_female"]
    pool = (table.shares * call.prior).sum(axis=1) / (table.known * call.prior).sum()
    chances = np.where(table.known, table.shares, pool[:, None])
    for row in chances / chances.sum(axis=0):
        after += (loss @ (row * call.posterior)).min()
    told = float(table.known @ call.posterior)
    assert look.gain == pytest.approx(told * (before - after), abs=1e-9)
    assert 0.05 <= look.chance <= 1
