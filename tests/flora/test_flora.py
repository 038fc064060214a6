"""The flora as loaded: whole, read-only, quick; a second weed group needs no code."""

from __future__ import annotations

import math
import time
from pathlib import Path
from types import MappingProxyType
from typing import ClassVar

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tepal.doubt import BASES
from tepal.flora import (
    REGIONS,
    STAGES,
    Flora,
    Measure,
    StateShares,
    groups,
    load,
    messages,
    tell_list,
    tell_taxon,
    telling,
)
from tepal.flora import (
    _wording as wording,
)
from tepal.flora._load import _load
from tepal.plant import identify
from tepal.tables import Refused
from tepal.words import Words
from tepal.words import _words as words_module

FOXTAILS = Path(__file__).parent / "foxtails"


@pytest.fixture(scope="module")
def flora() -> Flora:
    return load()


@pytest.fixture(scope="module")
def foxtails() -> Flora:
    return load("foxtails", folder=FOXTAILS)


def test_the_pigweeds_are_the_group_of_the_house(flora: Flora) -> None:
    assert groups() == ("pigweeds",)
    assert flora.hunted() == ("AMAPA", "AMATU")
    assert len(flora.pigweeds()) == 12
    assert flora.look_alikes() == ("CHEAL", "SOLPT", "ACCOS", "KCHSC", "POLPE", "POLCO")


def test_loading_is_cached_and_takes_less_than_a_quarter_second(flora: Flora) -> None:
    assert load() is flora
    _load.cache_clear()
    start = time.process_time()
    again = load()
    assert time.process_time() - start < 0.25
    assert again.tables_hash == flora.tables_hash


def test_the_hash_changes_with_one_letter_of_a_rule_or_a_table(tmp_path: Path) -> None:
    hashes = set()
    for number, (file, text) in enumerate(
        (("a", ""), ("overlaps.csv", "\n"), ("rules.toml", "x = 1\n"), ("rules.toml", "x = 2\n"), ("README.md", "no"))
    ):
        folder = tmp_path / str(number)
        folder.mkdir()
        for source in FOXTAILS.glob("*.csv"):
            (folder / source.name).write_bytes(source.read_bytes())
        with (folder / file).open("a", encoding="utf-8") as stream:
            stream.write(text)
        hashes.add(load("foxtails", folder=folder).tables_hash)
    # The first and the last differ from the original in no table and no rule.
    assert len(hashes) == 4
    assert load("foxtails", folder=FOXTAILS).tables_hash in hashes


def test_nothing_of_a_flora_can_be_changed(flora: Flora) -> None:
    for table in (flora.taxa, flora.shares, flora.measures, flora.sources, flora.taxa["AMAPA"].weights):
        assert isinstance(table, MappingProxyType)
    with pytest.raises(AttributeError):
        flora.taxa["AMAPA"].english_name = "another"  # type: ignore[misc]
    with pytest.raises(TypeError):
        flora.shares["AMAPA", "nodal_spines", "vegetative"].shares["present"] = 1.0  # type: ignore[index]


def test_the_weights_of_every_region_and_of_their_mean_sum_to_one(flora: Flora) -> None:
    for region in (*REGIONS, None):
        assert math.fsum(flora.weights(region).values()) == pytest.approx(1, abs=1e-9)
    with pytest.raises(Refused, match="SE, CB, UM, SP, NE"):
        flora.weights("Midwest")


def test_look_alikes_weigh_only_while_plants_are_small(flora: Flora) -> None:
    assert {stage: flora.look_alike_weight(stage) for stage in STAGES} == {
        "cotyledon": 0.3,
        "seedling_2-4_leaf": 0.3,
        "vegetative": 0.0,
        "reproductive": 0.0,
        "mature_seed": 0.0,
    }


def test_characters_that_tell_the_same_thing_share_an_overlap_group(flora: Flora) -> None:
    # As the sources' own notes say (id_sources: which characters overlap by construction).
    together = [
        ("fold_test_lower_leaf", "petiole_blade_ratio_lower"),
        ("blade_lw_ratio", "leaf_outline"),
        ("bract_tepal_ratio", "bract_vs_flower"),
        ("spike_thickness", "inflorescence_type"),
        ("spike_thickness", "seedhead_feel_female"),
    ]
    for one, other in together:
        assert flora.characters[one].overlap is not None
        assert flora.characters[one].overlap == flora.characters[other].overlap
    assert flora.characters["fold_test_lower_leaf"].binned_from == "petiole_blade_ratio_lower"
    for group in flora.overlaps.values():
        assert len(group.members) >= 2


def test_guesses_about_looking_are_marked_as_judgement(flora: Flora) -> None:
    for character in flora.characters.values():
        assert character.basis == "judgement"
        assert character.seconds > 0
        assert (character.misread > 0) == (character.kind == "categorical")
        assert (character.reading_cv > 0) == (character.kind == "numeric")
        assert "?" in character.question


def test_trial_results_are_no_looks(flora: Flora) -> None:
    trials = [name for name, character in flora.characters.items() if not character.look]
    assert trials == [
        "final_height_trial", "height_2wk_after_planting", "height_4wk_after_planting", "height_growth_rate",
    ]  # fmt: skip
    assert not set(trials) & {name for stage in STAGES for name in flora.characters_at(stage)}


def test_a_look_told_for_any_stage_is_found_at_each(flora: Flora) -> None:
    assert flora.look("AMAPA", "leaf_arrangement", "reproductive") is flora.shares["AMAPA", "leaf_arrangement", "any"]
    assert flora.look("AMAPA", "seed_diameter", "cotyledon") is None


def test_every_fact_names_a_known_basis_and_known_sources(flora: Flora) -> None:
    for _, record, sources in flora.rows():
        assert set(sources) <= set(flora.sources)
        assert getattr(record, "basis", "judgement") in BASES


def test_one_paper_has_one_doi(flora: Flora) -> None:
    dois: dict[str, set[str]] = {}
    for key, source in flora.sources.items():
        if source.doi:
            dois.setdefault(source.doi.casefold(), set()).add(flora.lead_source(key))
    assert all(len(leads) == 1 for leads in dois.values())
    assert flora.lead_source("HOR00") == "HorakLoughin2000"
    assert flora.lead_source("SELL03") == "Sellers2003"


def test_no_parameter_is_given_out_that_nobody_gave(flora: Flora) -> None:
    with pytest.raises(KeyError, match="dd_to_10_cm"):
        flora.parameter("dd_to_10_cm", "AMAPA", "on the moon")
    assert flora.parameter("dd_to_10_cm", "AMAPA").code == "AMAPA"
    assert flora.parameter("dd_to_10_cm", "AMASP").code == "*"


def test_the_telling_looks_are_those_that_floras_name_first(flora: Flora) -> None:
    spiny = telling(flora, "AMASP", "vegetative")
    assert (spiny[0].row.character, spiny[0].state) == ("nodal_spines", "present")
    palmer = [item.row.character for item in telling(flora, "AMAPA", "vegetative")]
    assert palmer[0] == "petiole_blade_ratio_lower"
    redroot = telling(flora, "AMARE", "vegetative")
    assert (redroot[0].row.character, redroot[0].state) == ("stem_hair_upper", "dense")


@given(st.sampled_from(load().pigweeds()), st.sampled_from(STAGES), st.integers(1, 12))
def test_telling_looks_come_best_first_and_one_of_a_group(code: str, stage: str, limit: int) -> None:
    flora = load()
    found = telling(flora, code, stage, limit=limit)
    assert len(found) <= limit
    assert [item.nats for item in found] == sorted((item.nats for item in found), reverse=True)
    assert all(item.nats > 0 for item in found)
    named = [flora.characters[item.row.character].overlap or item.row.character for item in found]
    assert len(set(named)) == len(named)


def test_the_divergence_is_that_of_the_textbook(foxtails: Flora) -> None:
    (hairs,) = telling(foxtails, "SETFA", "vegetative")
    # Others: green foxtail (weight 0.2) 5 %, yellow (0.3) 3 % hairy.
    q = (0.2 * 0.05 + 0.3 * 0.03) / 0.5
    assert hairs.of_others == pytest.approx(q)
    assert hairs.nats == pytest.approx(0.95 * math.log(0.95 / q) + 0.05 * math.log(0.05 / (1 - q)))


def test_a_second_group_loads_without_code(foxtails: Flora) -> None:
    assert foxtails.hunted() == ("SETFA",)
    assert foxtails.look_alikes() == ("ECHCG",)
    assert isinstance(foxtails.look("SETFA", "ligule", "vegetative"), StateShares)
    assert isinstance(foxtails.look("SETPU", "head_length", "reproductive"), Measure)
    assert foxtails.crosses == foxtails.published == ()
    assert foxtails.tables_hash != load().tables_hash


def test_a_plant_of_a_second_group_is_named_without_code(foxtails: Flora) -> None:
    call = identify({"leaf_top_hair": "hairy"}, stage="vegetative", region="CB", flora=foxtails)
    assert math.fsum(float(p) for p in call.posterior) == pytest.approx(1)
    assert call.probability("SETFA") > 0.6
    other = identify(
        {"head_posture": "upright", "spikelet_length": 3.1}, stage="reproductive", region="CB", flora=foxtails
    )
    assert other.probability("SETPU") > other.probability("SETFA")


def test_an_unknown_taxon_is_refused_with_the_one_that_is_meant(flora: Flora) -> None:
    assert flora.taxon("amapa").code == "AMAPA"
    for asked, meant in (
        ("Palmer", "AMAPA"),
        ("water hemp", "AMATU"),
        ("Amaranthus viridis", "AMAVI"),
        ("AMAP0", "AMAPO"),
    ):
        with pytest.raises(Refused, match=meant):
            flora.taxon(asked)


class Recording(Words):
    """Words that remember every message they were asked for."""

    asked: ClassVar[set[str]] = set()

    def t(self, message: str, /, **values: object) -> str:
        self.asked.add(message)
        return Words.t(self, message, **values)


def test_every_text_that_people_read_can_be_translated(flora: Flora) -> None:
    for code in flora.taxa:
        list(tell_taxon(flora, code, Recording()))
    list(tell_list(flora, Recording()))
    # What is no literal of the code, which the extraction finds by itself, is given out by `messages`.
    code_text = Path(wording.__file__).read_text(encoding="utf-8") + Path(words_module.__file__).read_text(
        encoding="utf-8"
    )
    known = set(messages(flora))
    unknown = {text for text in Recording.asked if text not in known and text.strip() and text not in code_text}
    assert len(Recording.asked) > 100
    assert not unknown


def test_messages_for_the_catalogue_are_plain(flora: Flora) -> None:
    texts = [c.question for c in flora.characters.values()]
    texts += [words for c in flora.characters.values() for words in c.state_words.values()]
    assert len(set(texts)) == len(texts)
    assert all(len(text) <= 140 and "_" not in text for text in texts)


def test_draws_of_every_parameter_are_finite_and_within_their_kind(flora: Flora) -> None:
    rng = np.random.default_rng(1)
    for parameter in flora.parameters.values():
        draws = parameter.value().draws(rng, 50)
        assert draws.shape == (50,)
        assert np.isfinite(draws).all()
        if parameter.kind != "normal":
            assert (draws > 0).all()
        if parameter.kind == "logit_normal":
            assert (draws < 1).all()
