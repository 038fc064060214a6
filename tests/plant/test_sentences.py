"""A call in words: no surer than the figures behind it."""

from __future__ import annotations

import pytest

from tepal.flora import Flora
from tepal.plant import figures, identify, name_in_words, reasons, sentence, what_settles_it
from tepal.words import Words

WORDS = Words()


def test_a_sure_call_is_one_short_sentence(flora: Flora) -> None:
    seen = {"bract_length_female": 1.5, "tepal_count_female": "absent_or_1-2", "plant_sex": "female_only"}
    call = identify(seen, stage="reproductive", region="CB")
    assert sentence(call, flora, WORDS).startswith("Waterhemp, almost certainly.")
    assert "would not change" in what_settles_it(call, flora, WORDS)


def test_before_flowering_the_three_are_named_together(flora: Flora) -> None:
    call = identify({"stem_hair_upper": "dense", "leaf_gloss": "dull"}, stage="vegetative", region="NE")
    text = sentence(call, flora, WORDS)
    assert text.startswith("One of redroot pigweed, smooth pigweed or Powell amaranth, ")
    assert "Before they flower" in text


def test_a_doubtful_call_says_so_and_asks(flora: Flora) -> None:
    call = identify({"leaf_outline": "ovate"}, stage="seedling_2-4_leaf", region="NE")
    assert sentence(call, flora, WORDS).startswith(("Not to be told yet", "One of"))
    assert what_settles_it(call, flora, WORDS).startswith("Look next, ")


@pytest.mark.parametrize("name", ["AMAPA", "AMAPAxAMATU", "other", "X_AMAREN"])
def test_every_name_has_words_without_codes(name: str, flora: Flora) -> None:
    text = name_in_words(name, flora, WORDS)
    assert "AMA" not in text
    assert "(" not in text


def test_reasons_and_figures_stand_behind_it(flora: Flora) -> None:
    seen = {"petiole_blade_ratio_lower": 1.4, "stem_hair_upper": "none", "watermark": "cannot_tell"}
    call = identify(seen, stage="vegetative", region="CB")
    assert len(reasons(call, flora, WORDS)) == 2
    assert "times likelier in" in reasons(call, flora, WORDS)[0]
    assert all(float(line.split()[0]) >= 0.01 for line in figures(call, flora, WORDS))
    assert all(set(item.sources) <= set(flora.sources) for item in call.evidence)
