"""Three cases word for word, as a person reads them. A change here changes advice: read it before you accept it."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import _advice_cases as cases
import pytest

from tepal.advice import advise, in_words, provenance, rules_for, to_json
from tepal.flora import load
from tepal.reading import Reading
from tepal.words import Words

FLORA = load()
CASES = {
    "first_find": cases.first_find(),
    "seedlings_trait_unknown": cases.seedlings(traits_known=False),
    "patch_in_a_ditch": cases.escapes(
        date(2026, 8, 12), total=60_000, tallest_cm=140, ground="drainage", crop=None, traits_known=None,
        hectares=3.0, waterway=True, flowering_seen=True,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_the_words_are_those_that_were_read_and_approved(name: str) -> None:
    golden = Path(__file__).parent / "golden" / f"{name}.txt"
    text = "\n".join(in_words(advise(CASES[name], flora=FLORA), Words())).strip() + "\n"
    assert text == golden.read_text(encoding="utf-8")


def test_metric_words_give_the_same_advice_in_other_units() -> None:
    advice = advise(CASES["seedlings_trait_unknown"], flora=FLORA)
    us, metric = ("\n".join(in_words(advice, Words(units=units))) for units in ("us", "metric"))
    assert "4 in" in us
    assert "10 cm" in metric
    assert "4 in" not in metric
    assert len(us.splitlines()) == len(metric.splitlines())


@pytest.mark.parametrize("reading", CASES.values(), ids=CASES)
def test_json_is_plain_finite_and_the_same_each_time(reading: Reading) -> None:
    first, again = (json.dumps(to_json(advise(reading, flora=FLORA)), allow_nan=False) for _ in range(2))
    assert first == again
    made = json.loads(first)
    assert list(made) == ["actions", "do_nots", "cautions", "programme", "later", "return_on", "waiting",
                          "spray_days"]  # fmt: skip
    assert len(made["actions"]) <= 5
    for item in made["actions"] + made["do_nots"]:
        assert item["text"]
        assert item["why"]
        assert item["basis"] == "judgement" or item["sources"]


def test_every_item_can_say_what_it_stands_on() -> None:
    advice = advise(CASES["first_find"], flora=FLORA)
    known = provenance(advice)
    pull = next(i for i, item in enumerate(advice.actions) if item.id == "first_find_pull_hold")
    stands_on = known[f"/advice/actions/{pull}"]
    assert "BellTranel2010" in stands_on.sources  # the rule's
    assert "Keeley1987" in stands_on.sources  # a number's that ranked it
    assert stands_on.basis == "judgement"
    assert set(known) >= {f"/advice/do_nots/{i}" for i in range(len(advice.do_nots))}


def test_every_source_of_rules_cautions_and_numbers_has_a_citation() -> None:
    book = rules_for(FLORA)
    keys = {key for rule in book.rules for key in rule.sources}
    keys |= {key for caution in book.cautions.values() for key in caution.sources}
    assert keys <= set(FLORA.sources)


def test_every_caution_of_the_table_is_used() -> None:
    book = rules_for(FLORA)
    named = {key for rule in book.rules for key in rule.cautions}
    stand_ins = {key for key, row in book.cautions.items() if row.instead_of}
    assert set(book.cautions) == named | stand_ins
    assert not named & stand_ins
