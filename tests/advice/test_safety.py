"""What advice must never say, whatever the facts."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from types import MappingProxyType
from typing import Any

import _advice_cases as cases
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tepal.advice import advise, in_words, rules_for
from tepal.flora import load
from tepal.reading import Reading, fact_types
from tepal.words import Words

FLORA = load()
FACTS = fact_types(FLORA.hunted())
_TEXTS = {
    "ground": ["field", "ditch", "roadside", "conservation", "feedlot", "pasture", "pivot_corner"],
    "region": ["SE", "CB", "UM", "SP", "NE"],
    "stage": ["cotyledon", "seedling_2-4_leaf", "vegetative", "reproductive", "mature_seed"],
    "crop": ["soybean", "corn", "cotton", "wheat", "sugarbeet"],
    "crop_kind": ["row", "small_grain", "forage", "none"],
    "law.listed": ["yes", "county", "seed", "no"],
    "law.taxon": ["AMAPA", "AMATU"],
    "law.status": ["read", "office", "recalled"],
    "leading": ["AMAPA", "AMATU", "AMARE"],
    "sprayed_groups": ["9", "9,14"],
    "resistant_groups": ["9"],
    "traits": ["a,b", ""],
    "moved_out": ["hay, 60 bales; straw", "manure"],
    "moved_out_on": ["2026-05-01; 2025-10-02", "2026-05-01"],
}


def _value(key: str) -> st.SearchStrategy[Any]:
    chance = key.startswith("p_") or key in ("leading_share", "seen_share")
    height = key.endswith("_cm") or key == "tallest_cm_q90"
    numbers = st.floats(0, 1) if chance else st.floats(0, 300) if height else st.floats(0, 120)
    strategies: dict[str, st.SearchStrategy[Any]] = {
        "text": st.sampled_from(_TEXTS.get(key, ["Larkmoor"])),
        "yes_no": st.booleans(),
        "date": st.dates(date(2026, 1, 1), date(2026, 12, 31)),
        "moment": st.just(cases.MORNING),
        "number": numbers,
    }
    return strategies[FACTS[key][0]]


_HAND_WORK = re.compile(r"\b(pull|hoe|sack|bag|cut|stumps)\b", re.IGNORECASE)


@pytest.mark.parametrize("rule", rules_for(FLORA).rules, ids=lambda rule: rule.id)
def test_beside_each_step_stand_the_cautions_of_its_kind_of_work(rule: Any) -> None:
    """Who walks in is told of heat, lightning, company, snakes, what was sprayed; hands, machines and chemicals bring
    theirs."""
    if rule.kind not in ("do", "find_out"):
        return
    wanted: set[str] = set()
    chemical, machine, enters = (tag in rule.tags for tag in ("chemical", "machine", "enter"))
    if enters and not chemical:
        wanted |= {"heat", "lone_work", "lightning", "snakes", "re_entry", "training"}
    if enters and not chemical and rule.kind == "do" and _HAND_WORK.search(rule.text):
        wanted |= {"gloves", "young_workers"}
    if machine:
        wanted |= {"machinery", "young_workers"}
    if chemical:
        wanted |= {"label", "applicator", "neighbors", "water", "young_workers"}
    assert wanted <= set(rule.cautions)


# Any facts, each known or not.
ANY_FACTS = st.fixed_dictionaries({}, optional={key: _value(key) for key in FACTS if key not in ("as_of", "month")})
# Facts near the edge of what opens the spray rules, so that these are reached.
EDGE_OF_SPRAYING = st.fixed_dictionaries(
    {
        "seen_any": st.just(True), "reported_only": st.just(False), "p_hunted": st.floats(0.2, 1),
        "ground": st.just("field"), "crop": st.just("corn"), "crop_kind": st.just("row"),
        "harvested": st.just(False), "stage": st.none(),
        "flowering_seen": st.just(False), "seed_dark_seen": st.just(False), "p_viable_seed": st.floats(0, 0.12),
        "window.viable_seed.q10": st.none(), "tallest_seen_cm": st.floats(5, 12), "tallest_cm_q90": st.floats(5, 12),
        "traits_known": st.sampled_from([True, True, False, None]), "days_since_planting": st.floats(10, 50),
    }
)  # fmt: skip

NEAR_SPRAYING = ANY_FACTS.flatmap(lambda facts: EDGE_OF_SPRAYING.map(lambda more: facts | more))


def _with(facts: dict[str, Any], on: date) -> Reading:
    reading = cases.make(on, total=500, tallest_cm=9, viable=date(2026, 8, 20))
    unknown: dict[str, Any] = dict.fromkeys(FACTS, None)
    return replace(reading, facts=MappingProxyType(unknown | facts))


@settings(max_examples=400, deadline=None)
@given(NEAR_SPRAYING, st.dates(date(2026, 3, 1), date(2026, 11, 30)))
def test_no_spray_is_advised_over_10_cm_or_over_the_top_of_a_crop_with_unknown_traits(
    facts: dict[str, Any], on: date
) -> None:
    advice = advise(_with(facts, on), flora=FLORA, limit=99)
    for item in advice.actions:
        if item.id in ("spray_small", "spray_other_site"):
            assert facts["tallest_seen_cm"] <= 10
            assert facts["tallest_cm_q90"] <= 10
        if "over_the_top" in item.tags:
            assert facts["traits_known"] is True


@settings(max_examples=200, deadline=None)
@given(ANY_FACTS, st.dates(date(2026, 3, 1), date(2026, 11, 30)))
def test_nothing_asks_people_in_before_the_re_entry_time_nor_falls_due_before_today(
    facts: dict[str, Any], on: date
) -> None:
    blocked = facts | {"re_entry_open": True, "re_entry_until": cases.MORNING}
    advice = advise(_with(blocked, on), flora=FLORA, limit=99)
    assert "no_entry_yet" in {item.id for item in advice.do_nots}
    for item in advice.items():
        if "enter" in item.tags:
            assert item.not_before == cases.MORNING
            assert item.by is None or item.by >= max(on, cases.MORNING.date())
        assert item.by is None or item.by >= on


@settings(max_examples=100, deadline=None)
@given(ANY_FACTS, st.dates(date(2026, 3, 1), date(2026, 11, 30)), st.sampled_from(["us", "metric"]))
def test_every_sentence_can_be_worded_with_any_facts_unknown(facts: dict[str, Any], on: date, units: Any) -> None:
    words = Words(units=units)
    for item in advise(_with(facts, on), flora=FLORA, limit=99).items():
        for text in (item.text(words), item.why(words), item.fails(words)):
            assert not re.search(r"[{}]|\bNone\b(?! were seen)|\bnan\b", text), text


def test_rules_that_spray_over_a_crop_ask_for_its_traits_and_those_that_kill_by_spray_for_small_plants() -> None:
    book = rules_for(FLORA)
    for rule in book.rules:
        if "over_the_top" in rule.tags:
            assert "traits_known is yes" in rule.lines, rule.id
        if rule.tactic in ("spray", "spray_other"):
            assert "small" in rule.lines, rule.id
    small = book.conditions["small"]
    assert small.holds({"tallest_seen_cm": 10.0, "tallest_cm_q90": 10.0})
    assert not small.holds({"tallest_seen_cm": 10.1, "tallest_cm_q90": 10.0})
    assert not small.holds({"tallest_seen_cm": 10.0})


def test_chemical_advice_carries_the_label_and_the_applicator_and_entering_carries_the_re_entry_time() -> None:
    for rule in rules_for(FLORA).rules:
        if "chemical" in rule.tags:
            assert {"label", "applicator"} <= set(rule.cautions), rule.id
        # A rule that speaks of spraying or herbicide is tagged, so that the loader can hold it to the above.
        speaks = re.search(r"\b(to spray|burndown|herbicide pass|residual fits|a residual)\b", rule.text)
        if speaks and rule.kind in ("do", "plan"):
            assert "chemical" in rule.tags, rule.id
        if "chemical" in rule.tags and "enter" in rule.tags:
            assert "re_entry" in rule.cautions, rule.id


def test_do_nots_about_seeded_plants_and_tall_sprays_stand_with_the_first_five() -> None:
    advice = advise(cases.first_find(), flora=FLORA)
    first = [item.id for item in advice.do_nots[:5]]
    assert {"no_mowing_seeded", "no_rescue_spray", "no_heads_left"} <= set(first)


@pytest.mark.parametrize("units", ["us", "metric"])
def test_sentences_are_short_and_no_herbicide_is_named_by_more_than_its_group(units: Any) -> None:
    book = rules_for(FLORA)
    for message in book.messages():
        for sentence in re.split(r"(?<=[.?!;:]) ", message):
            assert len(sentence.split()) <= 26, sentence
        # Neither brands (a registered mark gives them away) nor active ingredients: groups decide, the label governs.
        assert not re.search(r"[®™]", message)
        for name in FLORA.ingredients:
            assert name.casefold() not in message.casefold(), message


def test_look_alikes_are_never_called_harmless() -> None:
    advice = advise(cases.escapes(p_hunted=0.03, leading="AMARE"), flora=FLORA)
    texts = " ".join(item.text(Words()) for item in advice.items())
    assert "Pull or hoe the pigweed here before it sets seed, or till it where the ground is tilled anyway" in texts
    assert "It is probably not the one we hunt; still control it" in texts
    assert "harmless" not in " ".join(rules_for(FLORA).messages())


def test_nothing_seen_gives_no_chance_of_presence() -> None:
    advice = advise(cases.nothing_seen(), flora=FLORA)
    (item,) = advice.actions
    assert item.by == date(2026, 6, 22)
    assert "None were seen (a plant standing there had about 7 chances in 10 of being seen)" in item.why(Words())


@settings(max_examples=60, deadline=None)
@given(ANY_FACTS)
def test_after_frost_nobody_is_sent_to_pull_spray_or_mow_dead_plants(facts: dict[str, Any]) -> None:
    advice = advise(_with(facts | {"season_over": True}, date(2026, 11, 15)), flora=FLORA, limit=99)
    kept = {rule.id for rule in rules_for(FLORA).rules if rule.after_frost}
    assert {item.id for item in advice.items()} <= kept
    assert not {"pull_and_bag", "pull_before_flower", "spray_small", "mow_before_flower"} & kept


def test_where_the_re_entry_time_is_open_each_step_that_sends_people_in_says_so() -> None:
    advice = advise(cases.escapes(re_entry_open=True, re_entry_until=cases.MORNING), flora=FLORA)
    lines = in_words(advice, Words())
    steps = lines[lines.index("What to do") + 1 : lines.index("What not to do")]
    entering = [item for item in advice.actions if "enter" in item.tags]
    assert entering
    assert sum("Nobody goes in before" in line for line in steps) == len(entering)
