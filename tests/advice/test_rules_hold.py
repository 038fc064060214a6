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
from tepal.words import Words

Make = Callable[..., Reading]
# rule: (how the reading is made, what is set for the rule, what is then changed so that it just misses)
CASES: dict[str, tuple[Make, dict[str, Any], dict[str, Any]]] = {
    "first_find_keep_specimen": (cases.first_find, {}, {"first_find__AMAPA": False}),
    "first_find_tell": (cases.first_find, {}, {"p_any__AMAPA": 0.29}),
    "first_find_pull_hold": (cases.first_find, {}, {"pulled_days": 2.0}),
    "first_find_pull_the_suspect": (
        cases.escapes,
        {"total": 300_000, "leading": "AMATU", "first_find__AMAPA": True},
        {"leading": "AMAPA"},
    ),
    "walk_all_of_it": (cases.escapes, {"looked_this_season": True, "counted": False}, {"counted": True}),
    "look_alike_with_seed": (
        cases.escapes,
        {"p_hunted": 0.03, "leading": "AMARE", "seed_dark_seen": True},
        {"seed_dark_seen": False},
    ),
    "no_clearing_before_specimen": (cases.first_find, {}, {"seen_any": False}),
    "no_telling_the_place": (
        cases.first_find,
        {"first_find__AMAPA": False, "first_find__AMATU": True, "p_any__AMATU": 0.9, "region": "NE"},
        {"region": "CB"},
    ),
    "pull_and_bag": (cases.escapes, {"flowering_seen": True}, {"flowering_seen": False}),
    "pull_before_flower": (cases.escapes, {}, {"stage": "reproductive"}),
    "hoe_small": (cases.seedlings, {"total": 300}, {"tallest_seen_cm": 10.5}),
    "cut_what_will_not_pull": (cases.escapes, {}, {"first_find__AMAPA": True}),
    "edges_and_singles_first": (cases.escapes, {"total": 300_000}, {"tallest_cm": 25}),
    "patch_give_up_crop": (cases.escapes, {"total": 300_000}, {"crop": None}),
    "patch_more_hands": (
        cases.escapes,
        {"total": 300_000, "ground": "drainage", "crop": None, "flowering_seen": True},
        {"flowering_seen": False},
    ),
    "males_before_pollen": (cases.escapes, {"survivors": True}, {"survivors": False}),
    "no_heads_left": (cases.escapes, {"seed_dark_seen": True}, {"seed_dark_seen": False}),
    "no_dropping_on_wet_soil": (cases.escapes, {}, {"flowering_seen": True}),
    "no_waiting_for_dark_seed": (cases.escapes, {"flowering_seen": True}, {"only_males_seen": True}),
    "no_high_cut": (cases.escapes, {}, {"tallest_cm": 25}),
    "return_after_pulling": (cases.escapes, {"pulled_days": 6.0}, {"pulled_days": None}),
    "return_after_cutting": (cases.escapes, {"mowed_days": 6.0}, {"looked_since_work": True}),
    "plan_the_return": (cases.escapes, {"cut_days": 12.0}, {"cut_days": 6.0}),
    "mow_before_flower": (cases.escapes, {"ground": "ditch", "crop": None}, {"ground": "field"}),
    "no_mowing_seeded": (cases.escapes, {"p_viable_seed": 0.1}, {"p_viable_seed": 0.09}),
    "cultivate_small": (cases.seedlings, {"traits_known": False}, {"row_cm": 38.0}),
    "cultivate_instead": (cases.seedlings, {}, {"traits_known": False}),
    "no_hands_for_thousands": (cases.seedlings, {"total": 1800}, {"total": 1200}),
    "after_the_combine": (
        cases.escapes,
        {"seed_dark_seen": True, "harvested": True, "harvested_days": 0.0},
        {"looked_since_harvest": True},
    ),
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
    "no_judging_from_road": (
        cases.escapes,
        {"survivors": True, "survivors_were_cm": 9.0},
        {"survivors_were_cm": 15.0},
    ),
    "they_were_too_tall": (
        cases.escapes,
        {"survivors": True, "survivors_were_cm": 15.0},
        {"survivors_were_cm": 10.0},
    ),
    "no_resisted_sites": (cases.seedlings, {"resistant_groups": "9,14"}, {"resistant_groups": None}),
    "spray_what_no_test_rules_out": (
        cases.seedlings,
        {"resistant_groups": "9,14"},
        {"survivors": True},
    ),
    "seedlings_past_crop_stage": (cases.seedlings, {"spray_stage_open": False}, {"spray_stage_open": True}),
    "no_spray_past_crop_stage": (cases.seedlings, {"spray_stage_open": False}, {"spray_stage_open": None}),
    "no_spray_organic": (cases.seedlings, {"organic": True}, {"organic": None}),
    "cultivate_organic": (cases.seedlings, {"organic": True}, {"organic": None}),
    "start_clean_organic": (
        cases.seedlings,
        {"as_of": date(2026, 4, 28), "crop": None, "days_since_planting": None, "organic": True},
        {"organic": None},
    ),
    "till_bare_ground_organic": (cases.stubble, {"tallest_cm": 5, "organic": True}, {"organic": None}),
    "end_the_cover_organic": (cases.cover, {"organic": True}, {"organic": None}),
    "look_alike_by_the_usual_pass": (
        cases.seedlings,
        {"p_hunted": 0.03, "leading": "AMARE"},
        {"traits_known": False},
    ),
    "before_the_season": (
        cases.escapes,
        {"as_of": date(2026, 2, 10), "seen_any": False, "seen_before": True, "tallest_cm": None, "stage": None},
        {"seen_before": False},
    ),
    "end_the_cover": (cases.cover, {}, {"crop_kind": "small_grain"}),
    "mind_what_is_beside": (cases.off_ditch, {"beside": "bee hives; house well"}, {"beside": None}),
    "look_for_females": (
        cases.escapes,
        {"flowering_seen": True, "only_males_seen": True},
        {"only_males_seen": False},
    ),
    "test_the_name": (
        cases.escapes,
        {"p_hunted": 0.6, "proved__AMAPA": False},
        {"proved__AMAPA": True},
    ),
    "look_closely": (cases.escapes, {"named_plants": 0.0}, {"named_plants": 1.0}),
    "look_alike_still_control": (cases.escapes, {"p_hunted": 0.03, "leading": "AMARE"}, {"p_hunted": 0.2}),
    "walk_this_season": (cases.escapes, {"looked_this_season": False, "reported_only": False}, {"reported_only": True}),
    "walk_first_in_spring": (cases.escapes, {"season_over": True}, {"season_over": False}),
    "ask_leave_again": (cases.escapes, {"consent": False}, {"consent": True}),
    "come_back_next_flush": (cases.nothing_seen, {}, {"none_seen": False}),
    "not_clean_for_the_season": (cases.nothing_seen, {}, {"none_seen": False}),
    "three_photographs": (cases.by_telephone, {}, {"photos": 3.0}),
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
    "no_counting_on": (cases.seedlings, {"tallest_cm": 9.9}, {"tallest_cm": 10.1}),
    "outgrown_and_many": (
        cases.seedlings,
        {"tallest_cm": 20, "total": 300_000},
        {"tallest_seen_cm": 30.0},
    ),
    "look_for_more_of_it": (
        cases.seedlings,
        {"leading": "AMATU", "p_any__AMAPA": 0.3, "density_all_per_ha": 5000.0, "stage": "vegetative"},
        {"stage": "seedling_2-4_leaf"},
    ),
    "trace_what_left": (cases.escapes, {"moved_out_days": 20.0}, {"moved_out_days": None}),
    "trace_what_came": (cases.off_field, {"ground": "feedlot", "moved_in_days": 60.0}, {"moved_in_days": None}),
    "harvest_last": (cases.escapes, {"harvest_near": True}, {"harvested": True}),
    "leave_patch_standing": (
        cases.escapes,
        {"total": 3000, "harvest_near": True, "flowering_seen": True},
        {"flowering_seen": False},
    ),
    "clean_the_combine": (cases.escapes, {"harvest_near": True}, {"harvest_near": False}),
    "where_the_combine_went": (
        cases.escapes,
        {"seed_dark_seen": True, "harvested": True, "harvested_days": 9.0},
        {"harvested_days": 22.0},
    ),
    "plan_the_stubble": (
        cases.escapes,
        {"crop": "wheat", "crop_kind": "small_grain", "harvest_near": True},
        {"harvest_near": False},
    ),
    "walk_the_stubble": (cases.stubble, {"looked_since_harvest": False}, {"looked_since_harvest": True}),
    "stubble_again": (cases.stubble, {"looked_since_harvest": True}, {"looked_since_harvest": False}),
    "bare_ground_ripe_and_many": (
        cases.stubble,
        {"total": 300_000, "flowering_seen": True},
        {"flowering_seen": False},
    ),
    "no_counting_on_late_spray": (cases.off_field, {"ground": "ditch"}, {"tallest_cm": 8}),
    "read_the_photographs": (cases.by_telephone, {"photos": 3.0}, {"photos": 2.0}),
    "law_listed": (cases.escapes, {"law__listed": "yes", "law__taxon": "AMAPA"}, {"law__listed": "seed"}),
    "law_moving": (
        cases.escapes,
        {"law__listed": "yes", "law__taxon": "AMAPA", "law__transport": "The plants may not be moved."},
        {"law__transport": None},
    ),
    "ask_the_law": (cases.escapes, {}, {"law__listed": "no"}),
    "road_authority": (cases.off_field, {"ground": "roadside"}, {"ground": "ditch"}),
    "drainage_authority": (cases.off_field, {"ground": "ditch"}, {"ground": "roadside"}),
    "conservation_authority": (cases.off_field, {"ground": "conservation"}, {"ground": "pasture"}),
    "corner_keeper": (cases.off_field, {"ground": "pivot_corner"}, {"p_hunted": 0.1}),
    "leave_for_spot_treatment": (
        cases.off_field,
        {"ground": "conservation", "nesting__open": True},
        {"nesting__open": False},
    ),
    "no_mowing_in_nesting": (
        cases.off_field,
        {"ground": "conservation", "nesting__open": True, "nesting__until": date(2026, 8, 1)},
        {"ground": "roadside"},
    ),
    "ask_the_nesting_days": (cases.off_field, {"ground": "conservation"}, {"nesting__open": False}),
    "conservation_seed": (cases.off_field, {"ground": "conservation"}, {"ground": "other"}),
    "mow_again": (cases.off_field, {"ground": "ditch", "mowed_days": 12.0}, {"mowed_days": 9.0}),
    "mow_this_last": (cases.off_field, {"ground": "roadside"}, {"stage": "mature_seed"}),
    "water_label": (cases.escapes, {"waterway": True}, {"waterway": False}),
    "no_hungry_stock": (cases.off_field, {"ground": "pasture"}, {"ground": "roadside"}),
    "grazing_wait": (cases.off_field, {"ground": "pasture", "sprayed_days": 30.0}, {"sprayed_days": 91.0}),
    "pens_before_seed": (cases.off_field, {"ground": "feedlot"}, {"flowering_seen": True}),
    "thicken_the_cover": (cases.off_field, {"ground": "roadside"}, {"ground": "field"}),
    "treat_bare_ground_small": (cases.stubble, {"tallest_cm": 7}, {"tallest_cm": 12}),
    "till_bare_ground_tall": (
        cases.escapes,
        {"crop": "prevented planting", "crop_kind": "none", "harvested": False},
        {"crop_kind": "row"},
    ),
    "second_crop_clean": (cases.stubble, {}, {"harvested_days": 15.0}),
    "hoe_low_crops": (cases.escapes, {"crop": "sugarbeet"}, {"crop": "corn"}),
    "cut_forage_before_flower": (cases.escapes, {"crop": "alfalfa", "crop_kind": "forage"}, {"crop_kind": "row"}),
    "no_seeded_hay": (
        cases.escapes,
        {"crop": "alfalfa", "crop_kind": "forage", "seed_dark_seen": True},
        {"seed_dark_seen": False},
    ),
    "no_crossing_rows": (cases.escapes, {"crop": "corn", "rows_crossable": False}, {"crop": "sugarbeet"}),
    "no_harvest_yet": (
        cases.escapes,
        {"pre_harvest_open": True, "pre_harvest_until": date(2026, 8, 1)},
        {"pre_harvest_open": False},
    ),
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


def test_of_spraying_and_cultivating_one_is_for_today_and_both_say_so() -> None:
    actions = advise(cases.seedlings(), flora=load()).actions
    ids = [item.id for item in actions]
    assert ids.index("cultivate_instead") == ids.index("spray_small") + 1
    assert "cultivate_small" not in ids
    assert "one of the two, not both on one day" in actions[ids.index("cultivate_instead")].text(Words())


def test_pulling_cutting_and_mowing_follow_each_other_in_that_order() -> None:
    for tallest, day in ((140, date(2026, 7, 8)), (70, date(2026, 7, 8)), (90, date(2026, 7, 28))):
        reading = cases.off_field("ditch", day, tallest_cm=tallest)
        ids = [item.id for item in advise(reading, flora=load(), limit=99).actions]
        order = [i for i in ids if i in ("pull_before_flower", "cut_what_will_not_pull", "mow_before_flower")]
        assert order == ["pull_before_flower", "cut_what_will_not_pull", "mow_before_flower"], ids


def test_plants_that_lived_are_sampled_before_any_is_pulled() -> None:
    for reading in (
        cases.escapes(survivors=True, flowering_seen=True),
        cases.escapes(total=300_000, leading="AMATU", first_find__AMAPA=True, survivors=True),
    ):
        ids = [item.id for item in advise(reading, flora=load(), limit=99).actions]
        pulls = [
            ids.index(i) for i in ids if i in ("pull_and_bag", "first_find_pull_the_suspect", "pull_before_flower")
        ]
        assert pulls and ids.index("sample_for_resistance") < min(pulls), ids


def test_after_the_combine_nobody_is_told_to_pull_what_it_took() -> None:
    combined = cases.escapes(seed_dark_seen=True, harvested=True, harvested_days=0.0)
    assert {"after_the_combine", "clean_the_combine", "where_the_combine_went"} <= _ids(combined)
    assert "pull_and_bag" not in _ids(combined)
    assert "clean_the_combine" not in _ids(cases.escapes(seed_dark_seen=True, harvested=True, harvested_days=2.0))


def test_right_after_spraying_nobody_measures_for_the_next_and_one_walk_back_is_planned() -> None:
    sprayed = cases.seedlings(sprayed_days=1.0, tallest_cm=9.8)
    assert "rescout_after_spraying" in _ids(sprayed)
    assert not {"measure_before_spraying", "plan_the_return"} & _ids(sprayed)
    assert advise(sprayed, flora=load()).spray_days is None


def test_what_left_is_told_with_its_days() -> None:
    left = cases.escapes(moved_out_days=20.0, moved_out="hay, 60 bales; straw", moved_out_on="2026-06-18; 2025-09-30")
    (item,) = [item for item in advise(left, flora=load(), limit=99).actions if item.id == "trace_what_left"]
    assert "(hay, 60 bales, on June 18; straw, on Tuesday, September 30, 2025)" in item.text(Words())


def test_no_spray_is_asked_for_past_the_stage_at_which_labels_end() -> None:
    """Soybean in flower, seedlings of two inches: what would still be asked for in June is against most labels."""
    closed = cases.seedlings(spray_stage_open=False, cultivable=False, rows_crossable=False)
    advice = advise(closed, flora=load(), limit=99)
    ids = {item.id for item in (*advice.actions, *advice.do_nots)}
    assert not ids & {"spray_small", "residual_overlap", "measure_before_spraying", "ask_the_trait", "no_counting_on"}
    # Hands would be advised against while nothing else is left.
    assert "no_hands_for_thousands" not in ids
    assert advice.spray_days is None
    (told,) = [item for item in advice.do_nots if item.id == "no_spray_past_crop_stage"]
    assert "most end by first flower, R1" in told.text(Words())


def test_on_organic_ground_no_step_speaks_of_a_spray() -> None:
    for made in (cases.seedlings(organic=True), cases.stubble(tallest_cm=5, organic=True), cases.cover(organic=True)):
        advice = advise(made, flora=load(), limit=99)
        steps = " ".join(item.text(Words()) for item in (*advice.actions, *advice.programme))
        assert "spray" not in steps
        assert "herbicide" not in steps
        assert "burndown" not in steps
        assert any("Do not spray here" in item.text(Words()) for item in advice.do_nots)


def test_in_winter_a_place_of_last_year_is_planned_for_and_no_spray_day_is_counted() -> None:
    away = {"seen_any": False, "seen_before": True, "tallest_cm": None, "stage": None}
    winter = advise(cases.escapes(date(2026, 2, 10), window__next_flush__q10=date(2026, 5, 3), **away), flora=load())
    assert [item.id for item in winter.actions] == ["before_the_season"]
    assert {"zero_seed_years", "two_sites_each_pass"} <= {item.id for item in winter.programme}
    assert winter.spray_days is None


def test_in_a_low_crop_hoes_go_along_on_the_same_walk_and_count_its_seed_once() -> None:
    found = advise(cases.escapes(crop="sugarbeet"), flora=load(), limit=99).actions
    order = [item.id for item in found]
    assert order.index("hoe_low_crops") - order.index("pull_before_flower") in (1, 2)
    (hoes,) = [item for item in found if item.id == "hoe_low_crops"]
    (pull,) = [item for item in found if item.id == "pull_before_flower"]
    assert hoes.seed_kept_out is None
    assert hoes.hours is None
    assert pull.by is not None
    assert hoes.by is not None
    assert hoes.by >= pull.by


def test_who_keeps_the_roadside_or_the_ditch_is_called_before_anybody_pulls() -> None:
    for ground, call in (("roadside", "road_authority"), ("ditch", "drainage_authority")):
        new = {"first_find__AMAPA": True, "proved__AMAPA": False}
        for facts in ({}, {"flowering_seen": True}, new, new | {"flowering_seen": True}):
            order = [item.id for item in advise(cases.off_field(ground, **facts), flora=load(), limit=99).actions]
            pulls = [name for name in order if "pull" in name or "cut" in name]
            assert order.index(call) < min(order.index(name) for name in pulls)


def test_all_loads_of_one_thing_are_told_and_of_many_how_many() -> None:
    days = ["2026-08-11", "2026-08-10", "2025-09-12", "2025-07-01", "2025-06-01"]

    def told(count: int) -> str:
        left = cases.escapes(
            moved_out_days=20.0, moved_out="; ".join(["hay"] * count), moved_out_on="; ".join(days[:count])
        )
        (item,) = [item for item in advise(left, flora=load(), limit=99).actions if item.id == "trace_what_left"]
        return item.text(Words())

    assert "(hay, on August 11, August 10 and Friday, September 12, 2025)" in told(3)
    assert "(hay, on August 11, August 10, Friday, September 12, 2025 and 2 earlier days)" in told(5)


def test_nothing_is_mowed_on_conservation_ground_while_birds_nest() -> None:
    closed = cases.off_field("conservation", nesting__open=True, nesting__until=date(2026, 8, 1), mowed_days=12.0)
    fresh = cases.off_field("conservation", nesting__open=True, nesting__until=date(2026, 8, 1))
    assert not {"mow_before_flower", "mow_again"} & (_ids(closed) | _ids(fresh))
    assert "mow_before_flower" in _ids(cases.off_field("conservation", nesting__open=False))


def test_fallow_is_no_standing_crop_so_nothing_is_asked_of_its_seed() -> None:
    fallow = cases.seedlings(crop="fallow", crop_kind="none", traits_known=None, cultivable=None)
    assert "treat_bare_ground_small" in _ids(fallow)
    assert not {"ask_the_trait", "no_over_the_top", "spray_small"} & _ids(fallow)


def test_a_double_crop_is_told_in_its_first_days_only() -> None:
    planted = {"double_crop": True, "harvested": False, "crop": "soybean", "crop_kind": "row"}
    assert "second_crop_clean" in _ids(cases.escapes(**planted, days_since_planting=3.0))
    # After that a residual would go over the top of a crop whose trait nobody asked for.
    assert "second_crop_clean" not in _ids(cases.escapes(**planted, days_since_planting=4.0))


def test_the_law_is_told_with_its_day_and_an_unknown_one_sends_to_the_state() -> None:
    words = Words()
    known = cases.escapes(
        law__listed="yes", law__taxon="AMAPA", law__class="noxious weed", law__tell="your county weed officer",
        law__checked=date(2026, 3, 2), law__status="office",
    )  # fmt: skip
    item = next(item for item in advise(known, flora=load(), limit=99).actions if item.id == "law_listed")
    assert item.text(words) == ("Tell your county weed officer: the state lists Palmer amaranth (noxious weed).")
    assert "entered by this office on" in item.why(words)
    first = next(i for i in advise(cases.first_find(), flora=load()).actions if i.id == "first_find_tell")
    assert "your state authority for weeds" in first.text(words)


def test_what_to_do_starts_with_what_to_do() -> None:
    for rule in rules_for(load()).rules:
        first = rule.text.split()[0]
        assert first not in {"There", "This", "None", "If", "When", "Before", "After", "Pigweeds", "It"}, rule.id
        assert rule.kind != "do_not" or first == "Do", rule.id


def test_a_photograph_alone_asks_for_a_visit_and_for_no_weeding() -> None:
    reading = cases.seedlings(reported_only=True, traits_known=False, photos=1.0)
    kinds = {item.id: item.kind for item in advise(reading, flora=load(), limit=99).actions}
    assert {"three_photographs", "visit_what_was_reported", "ask_the_trait"} <= set(kinds)
    assert not {"hoe_small", "cultivate_small", "spray_small", "plan_the_return"} & set(kinds)


def test_the_same_words_do_not_serve_a_ditch_and_a_field() -> None:
    words = Words()
    for ground in ("ditch", "roadside", "drainage", "conservation", "pasture", "pivot_corner", "feedlot", "other"):
        advice = advise(cases.off_field(ground, flowering_seen=True, sprayed_days=3.0), flora=load(), limit=99)
        told = " ".join(f"{i.text(words)} {i.why(words)} {i.fails(words)}" for i in (*advice.do_nots, *advice.actions))
        wrong = ("rescue the", "over the field", "through the field", "Walk the field", "under the crop")
        assert not [text for text in wrong if text in told], ground
    field = advise(cases.escapes(flowering_seen=True), flora=load())
    assert any("rescue the crop" in item.text(words) for item in field.do_nots)


def test_photographs_that_show_the_plant_are_not_asked_for_again() -> None:
    known = {"reported_only": True, "named_plants": 2.0, "photos": 1.0}
    assert "three_photographs" in _ids(cases.by_telephone(**known, p_hunted=0.5))
    assert "three_photographs" not in _ids(cases.by_telephone(**known, p_hunted=0.9))
    assert "three_photographs" not in _ids(cases.by_telephone(**known, p_hunted=0.1))
