"""Every rule has a reading in which it holds and one, a single fact away, in which it does not."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import _advice_cases as cases
import pytest

from tepal.advice import advise, rules_for
from tepal.flora import load
from tepal.reading import Reading

Make = Callable[..., Reading]
# rule: (how the reading is made, what is set for the rule, what is then changed so that it just misses)
CASES: dict[str, tuple[Make, dict[str, Any], dict[str, Any]]] = {
    "first_find_keep_specimen": (cases.first_find, {}, {"first_find__AMAPA": False}),
    "first_find_tell": (cases.first_find, {}, {"p_any__AMAPA": 0.29}),
    "first_find_pull_hold": (cases.first_find, {}, {"pulled_days": 2.0}),
    "no_clearing_before_specimen": (cases.first_find, {}, {"seen_any": False}),
    "no_telling_the_place": (
        cases.first_find,
        {"first_find__AMAPA": False, "first_find__AMATU": True, "p_any__AMATU": 0.9, "region": "NE"},
        {"region": "CB"},
    ),
    "pull_and_bag": (cases.escapes, {"flowering_seen": True}, {"flowering_seen": False}),
    "pull_before_flower": (cases.escapes, {}, {"stage": "reproductive"}),
    "hoe_small": (cases.seedlings, {"total": 300}, {"tallest_seen_cm": 10.5}),
    "cut_what_will_not_pull": (cases.escapes, {}, {"tallest_cm": 58}),
    "edges_and_singles_first": (cases.escapes, {"total": 300_000}, {"total": 3_000}),
    "patch_give_up_crop": (cases.escapes, {"total": 300_000}, {"crop": None}),
    "patch_more_hands": (
        cases.escapes,
        {"total": 300_000, "ground": "drainage", "crop": None, "flowering_seen": True},
        {"flowering_seen": False},
    ),
    "males_before_pollen": (cases.escapes, {"survivors": True}, {"survivors": False}),
    "no_heads_left": (cases.escapes, {"seed_dark_seen": True}, {"seed_dark_seen": False}),
    "no_dropping_on_wet_soil": (cases.escapes, {}, {"flowering_seen": True}),
    "no_waiting_for_dark_seed": (cases.escapes, {"flowering_seen": True}, {"seed_dark_seen": True}),
    "no_high_cut": (cases.escapes, {}, {"tallest_cm": 25}),
    "return_after_pulling": (cases.escapes, {"pulled_days": 6.0}, {"pulled_days": None}),
    "return_after_cutting": (cases.escapes, {"mowed_days": 6.0}, {"mowed_days": None}),
    "plan_the_return": (cases.escapes, {}, {"pulled_days": 6.0}),
    "mow_before_flower": (cases.escapes, {"ground": "ditch", "crop": None}, {"ground": "field"}),
    "no_mowing_seeded": (cases.escapes, {"p_viable_seed": 0.1}, {"p_viable_seed": 0.09}),
    "cultivate_small": (cases.seedlings, {}, {"row_cm": 38.0}),
    "start_clean": (
        cases.seedlings,
        {"as_of": date(2026, 4, 28), "crop": None, "days_since_planting": None},
        {"planted": date(2026, 4, 20)},
    ),
    "spray_small": (cases.seedlings, {}, {"traits_known": False}),
    "spray_other_site": (cases.seedlings, {"survivors": True, "sprayed_days": 8.0}, {"sprayed_days": 6.0}),
    "residual_overlap": (cases.seedlings, {}, {"days_since_planting": 36.0}),
    "measure_before_spraying": (cases.seedlings, {"tallest_cm": 9.8}, {"tallest_cm": 8.5}),
    "ask_the_trait": (cases.seedlings, {"traits_known": False}, {"traits_known": True}),
    "rescout_after_spraying": (cases.seedlings, {"sprayed_days": 3.0}, {"survivors": True}),
    "no_rescue_spray": (cases.escapes, {"tallest_cm": 12}, {"tallest_cm": 8}),
    "no_waiting_while_small": (cases.seedlings, {}, {"tallest_cm": 12}),
    "no_over_the_top": (cases.seedlings, {"traits_known": None}, {"traits_known": True}),
    "no_same_site_again": (cases.seedlings, {"survivors": True, "sprayed_groups": "9,14"}, {"survivors": None}),
    "no_entry_yet": (cases.escapes, {"re_entry_open": True, "re_entry_until": cases.MORNING}, {"re_entry_open": False}),
    "read_re_entry_time": (cases.escapes, {"sprayed_days": 2.0}, {"re_entry_until": cases.MORNING}),
    "tell_resistance_from_a_miss": (cases.escapes, {"survivors": True}, {"resistant_groups": "9"}),
    "sample_for_resistance": (cases.escapes, {"survivors": True}, {"sample_pending": True}),
    "no_judging_from_road": (cases.escapes, {"survivors": True}, {"survivors": False}),
    "test_the_name": (cases.escapes, {"p_hunted": 0.6}, {"p_hunted": 0.96}),
    "look_closely": (cases.escapes, {"named_plants": 0.0}, {"named_plants": 1.0}),
    "look_alike_still_control": (cases.escapes, {"p_hunted": 0.03, "leading": "AMARE"}, {"p_hunted": 0.2}),
    "come_back_next_flush": (cases.nothing_seen, {}, {"none_seen": False}),
    "not_clean_for_the_season": (cases.nothing_seen, {}, {"none_seen": False}),
    "three_photographs": (cases.by_telephone, {}, {"reported_only": False}),
    "visit_what_was_reported": (cases.by_telephone, {}, {"reported_only": False}),
    "no_action_on_a_call": (cases.by_telephone, {}, {"reported_only": False}),
    "no_entry_without_leave": (cases.escapes, {"consent": False}, {"consent": None}),
    "look_downstream": (cases.escapes, {"waterway": True}, {"waterway": None}),
    "no_moving_uncleaned": (cases.escapes, {"stage": "mature_seed"}, {"stage": "vegetative"}),
    "no_hauling_sacks": (
        cases.escapes,
        {"window__viable_seed__q10": date(2026, 7, 8)},
        {"window__viable_seed__q10": date(2026, 7, 9)},
    ),
    "hold_feed_and_bedding": (cases.escapes, {"ground": "feedlot"}, {"ground": "field"}),
    "no_feeding_green": (cases.escapes, {"ground": "pasture"}, {"p_hunted": 0.1}),
    "harvest_last": (cases.escapes, {"harvest_near": True}, {"harvested": True}),
    "leave_patch_standing": (
        cases.escapes,
        {"total": 3000, "harvest_near": True, "flowering_seen": True},
        {"flowering_seen": False},
    ),
    "clean_the_combine": (cases.escapes, {"harvest_near": True}, {"harvest_near": False}),
    "walk_the_stubble": (cases.escapes, {"crop": "Wheat", "harvested": True}, {"harvested": False}),
    "zero_seed_years": (cases.escapes, {}, {"p_hunted": 0.1}),
    "two_sites_each_pass": (cases.escapes, {}, {"ground": "ditch"}),
    "narrow_rows": (cases.escapes, {}, {"row_cm": 38.0}),
    "rye_cover": (cases.escapes, {}, {"as_of": date(2026, 6, 30)}),
    "small_grain_year": (cases.escapes, {}, {"crop": "wheat"}),
    "bury_once": (cases.escapes, {"total": 300_000, "flowering_seen": True}, {"flowering_seen": False}),
    "mill_weed_seed": (cases.escapes, {"total": 300_000}, {"crop": "corn"}),
}


def _ids(reading: Reading) -> set[str]:
    return {item.id for item in advise(reading, flora=load()).items()}


def test_every_rule_has_a_case_that_triggers_it_and_one_that_nearly_does() -> None:
    assert set(CASES) == {rule.id for rule in rules_for(load()).rules}


@pytest.mark.parametrize("rule", CASES)
def test_a_rule_holds_in_its_case_and_misses_one_fact_away(rule: str) -> None:
    make, facts, change = CASES[rule]
    assert len(change) == 1
    assert rule in _ids(make(**facts))
    assert rule not in _ids(make(**(facts | change)))


def test_a_photograph_alone_asks_for_a_visit_and_for_no_weeding() -> None:
    reading = cases.seedlings(reported_only=True, traits_known=False)
    kinds = {item.id: item.kind for item in advise(reading, flora=load(), limit=99).actions}
    assert {"three_photographs", "visit_what_was_reported", "ask_the_trait"} <= set(kinds)
    assert not {"hoe_small", "cultivate_small", "spray_small", "plan_the_return"} & set(kinds)
