"""Which look next, and when it is enough."""

from __future__ import annotations

import math
import time
from typing import Any

import numpy as np
import pytest

from tepal.flora import Flora, load
from tepal.plant import (
    Reader,
    Settings,
    Specimen,
    identify,
    identify_many,
    later,
    load_settings,
    next_looks,
)
from tepal.plant._losses import loss_matrix

FREE = load_settings().changed({("temper", "vegetative"): 1, ("overlap_correlation", ""): 0})


def entropy(p: np.ndarray) -> float:
    p = p[p > 0]
    return float(-(p * np.log(p)).sum())


def expected_entropy(seen: dict[str, Any], name: str, flora: Flora, reader: Reader, settings: Settings) -> float:
    """Mean entropy after one more look, over what would be seen; Bayes' rule gives the chance of each outcome."""
    before = identify(seen, stage="vegetative", flora=flora, reader=reader, settings=settings)
    states = flora.characters[name].states
    after = [
        identify({**seen, name: s}, stage="vegetative", flora=flora, reader=reader, settings=settings) for s in states
    ]
    # The mixture of the posteriors by the chances of the states is the belief before: solve it for the chances.
    matrix = np.stack([call.posterior for call in after], axis=1)
    chance = np.linalg.lstsq(np.vstack([matrix, np.ones(len(states))]), np.append(before.posterior, 1), rcond=None)[0]
    assert chance.min() > -1e-9
    np.testing.assert_allclose(matrix @ chance, before.posterior, atol=1e-9)
    return float(sum(q * entropy(call.posterior) for q, call in zip(chance, after, strict=True)))


@pytest.mark.parametrize("seen", [{}, {"hair": "yes"}, {"size": 12.0}])
def test_expected_entropy_never_rises_with_one_more_look(seen: dict[str, Any], tiny: Flora) -> None:
    reader = Reader()
    before = identify(seen, stage="vegetative", flora=tiny, reader=reader, settings=FREE)
    assert expected_entropy(seen, "shape", tiny, reader, FREE) <= entropy(before.posterior) + 1e-12


def test_expected_entropy_never_rises_with_a_more_reliable_reader(tiny: Flora) -> None:
    found = [expected_entropy({}, "shape", tiny, Reader(r, 100 - r), FREE) for r in (60, 80, 90, 99)]
    assert found == sorted(found, reverse=True)


@pytest.mark.parametrize("nat", [0.0, 5.0])
def test_gain_agrees_with_the_losses_reckoned_outcome_by_outcome(nat: float, tiny: Flora) -> None:
    """The loss of the best action and of the doubt (nothing drawn): before, less the mean of it after, by hand."""
    settings = FREE.changed(
        {("drawn_share", ""): 0, ("loss", "sample"): 20, ("loss", "wrong_name"): 8, ("loss", "doubt"): nat}
    )
    before = identify({}, stage="vegetative", flora=tiny, settings=settings)
    loss = np.full((4, 4), 8.0)
    loss[0, :] = 15.0
    loss[1:, 0] = 100.0
    np.fill_diagonal(loss, 0)

    def least(p: np.ndarray) -> float:
        return min(float((loss @ p).min()), 20.0) + nat * entropy(p)

    states = tiny.characters["shape"].states
    after = [identify({"shape": s}, stage="vegetative", flora=tiny, settings=settings).posterior for s in states]
    matrix = np.stack(after, axis=1)
    chance = np.linalg.lstsq(np.vstack([matrix, np.ones(3)]), np.append(before.posterior, 1), rcond=None)[0]
    by_hand = least(before.posterior) - sum(q * least(p) for q, p in zip(chance, after, strict=True))
    gains = {look.character: look.gain for look in before.next}
    assert gains.get("shape", 0.0) == pytest.approx(by_hand, abs=1e-9)


def test_looks_come_best_first_and_none_twice() -> None:
    call = identify({"nodal_spines": "absent", "watermark": "cannot_tell"}, stage="vegetative", region="CB")
    rates = [look.gain_per_s for look in call.next]
    assert rates == sorted(rates, reverse=True)
    names = [look.character for look in call.next]
    assert len(set(names)) == len(names)
    assert not {"nodal_spines", "watermark"} & set(names)


def test_a_measurement_and_its_coarse_reading_are_not_both_asked() -> None:
    for seen, other in (
        ({"petiole_blade_ratio_lower": 0.7}, "fold_test_lower_leaf"),
        ({"fold_test_lower_leaf": "longer"}, "petiole_blade_ratio_lower"),
    ):
        assert other not in [look.character for look in next_looks(seen, stage="vegetative")]


def test_enough_where_the_answer_is_plain_and_not_before() -> None:
    assert not identify({}, stage="reproductive", region="CB").enough
    seen = {
        "bract_length_female": 1.5, "tepal_count_female": "absent_or_1-2", "nodal_spines": "absent",
        "plant_sex": "female_only", "stem_hair_upper": "none",
    }  # fmt: skip
    call = identify(seen, stage="reproductive", region="CB")
    assert call.best == "AMATU"
    assert call.enough


def test_nothing_is_asked_that_nobody_can_see_on_one_plant(flora: Flora) -> None:
    for stage in ("seedling_2-4_leaf", "vegetative", "reproductive"):
        for look in identify({}, stage=stage).next:
            assert flora.characters[look.character].look
            assert look.gain > 0
            assert math.isfinite(look.gain_per_s)


def test_dearer_misses_ask_for_more_looks() -> None:
    seen = {"stem_hair_upper": "none", "nodal_spines": "absent"}
    before = identify(seen, stage="vegetative", region="CB").next[0]
    cheap = load_settings().changed({("drawn_share", ""): 0.1})
    after = identify(seen, stage="vegetative", region="CB", settings=cheap).next
    assert before.gain > 0
    assert all(look.gain <= before.gain * 2 for look in after)


@pytest.mark.slow
def test_one_next_look_takes_under_three_milliseconds() -> None:
    seen = {"stem_hair_upper": "none"}
    identify(seen, stage="vegetative")
    # Processor time, for a machine that others use too.
    start = time.process_time()
    for _ in range(100):
        identify(seen, stage="vegetative")
    assert (time.process_time() - start) / 100 < 3e-3


def test_losses_are_dear_where_a_hunted_plant_is_missed(flora: Flora) -> None:
    names = identify({}, stage="vegetative").taxa
    at = {name: i for i, name in enumerate(names)}
    young, grown = (loss_matrix(flora, load_settings(), stage) for stage in ("vegetative", "reproductive"))
    assert (young.diagonal() == 0).all()
    assert young[at["AMARE"], at["AMAPA"]] == flora.losses["hunted_missed"].value
    assert young[at["AMAPA"], at["AMARE"]] == flora.losses["false_alarm"].value
    assert young[at["AMAPA"], at["AMATU"]] == flora.losses["hunted_confused"].value
    # A cross with a hunted parent is hunted: missing it is as dear.
    assert young[at["AMACH"], at["AMACHxAMATU"]] == flora.losses["hunted_missed"].value
    # Within the three that nobody can tell apart before they flower, a wrong name weighs less.
    assert young[at["AMARE"], at["AMACH"]] < grown[at["AMARE"], at["AMACH"]]


@pytest.mark.parametrize(
    ("sex", "absent"),
    [
        ("male_only", {"bract_length_female", "seedhead_feel_female", "tepal_count_female", "utricle_dehiscence"}),
        ("female_only", {"bract_length_male", "seedhead_feel_male"}),
        ("both", set()),
        ("cannot_tell", set()),
        (["male_only", "both"], set()),
    ],
)
def test_a_male_plant_is_not_asked_for_its_seed_head(sex: Any, absent: set[str]) -> None:
    every = {look.character for look in identify({}, stage="reproductive", region="SP").next}
    after = identify({"plant_sex": sex}, stage="reproductive", region="SP")
    assert not absent & {look.character for look in after.next}
    assert every - {look.character for look in after.next} - {"plant_sex"} >= absent
    (one,) = identify_many([Specimen({"plant_sex": sex}, "reproductive", "SP")], following=True).next.values()
    assert [look.character for look in one] == [look.character for look in after.next]
    # Nor does it have seed later.
    if sex == "male_only":
        assert not {look.character for look in later(after, load()).looks} & {"seed_colour", "seed_diameter"}
