"""A season's plan, checked: each objection has a plan that draws it and one, a single thing away, that does not."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from typing import Any

import _advice_cases as cases
import numpy as np
import pytest

from tepal.advice import CheckedPass, ProgrammeCheck, check_programme, plan_in_words, plan_to_json, population, verdict
from tepal.cli import main
from tepal.doubt import Provenance
from tepal.flora import load
from tepal.programme import read_programme_text
from tepal.reading import DoneLine, Place, Reading, StationRecord, Window
from tepal.tables import Refused
from tepal.words import Words

FLORA = load()
TRAITS = ("glyphosate", "glufosinate", "2,4-D")
PULL = "[[season.pull]]\nshare = 0.9\n"


def plan(*passes: str, crop: str = "soybean", planted: str = "05-10", more: str = PULL, head: str = "") -> Any:
    text = f'taxon = "AMATU"\n[start]\nseedbank_m2 = 300\n{head}\n[[season]]\ncrop = "{crop}"\nplanted = "{planted}"\n'
    return read_programme_text(text + "\n".join(passes) + "\n" + more, name="plan.toml")


def residual(groups: str, days: int = 0, lasts: int | None = None) -> str:
    told = "" if lasts is None else f"lasts_days = {lasts}\n"
    return f"[[season.residual]]\ngroups = [{groups}]\ndays_after_planting = {days}\n{told}"


def post(groups: str, days: int = 28, height: float | None = None) -> str:
    told = "" if height is None else f"height_cm = {height}\n"
    return f"[[season.post]]\ngroups = [{groups}]\ndays_after_planting = {days}\n{told}"


def checked(made: Any, **more: Any) -> ProgrammeCheck:
    return check_programme(made, flora=FLORA, **{"year": 2026, "traits": TRAITS} | more)


def rules(check: ProgrammeCheck, number: int | None = None) -> set[str]:
    season = check.seasons[0]
    if number is None:
        return {finding.rule for finding in season.findings}
    return {finding.rule for finding in season.passes[number].findings}


def station(rain: float = 20.0, tmin: float = 14.0, tmax: float = 28.0, years: int = 20, **last: Any) -> StationRecord:
    """Twenty years of the same weather every day, then the season under way, known up to July 8."""
    shape = (years + 1, 366)
    record = {"rain_mm": np.full(shape, rain), "tmin_c": np.full(shape, tmin), "tmax_c": np.full(shape, tmax)}
    for values in record.values():
        values[-1, 189:] = np.nan
    if "rain_this_year" in last:
        record["rain_mm"][-1, :189] = last["rain_this_year"]
    return StationRecord("Depot", tuple(range(2026 - years, 2027)), **record)


def site(made: Reading | None = None, *, weather: StationRecord | None = None, done: tuple[DoneLine, ...] = (),
         state: str | None = None, region: str = "CB", **facts: Any) -> Reading:  # fmt: skip
    reading = made or cases.escapes()
    place = Place(name="North Eighty", ground="field", state=state, region=region, crop="soybean", traits=TRAITS)
    windows = (Window("height_10_cm", "AMATU", None, None, None, 0.0, "spray"),)
    return replace(
        reading, place=place, windows=windows, done=done, station=weather, facts={**reading.facts, **facts},
        why={"/windows/0": Provenance(("HorakLoughin2000",), "judgement")},
    )  # fmt: skip


def sprayed(
    groups: str, *, survivors: bool | None = None, tallest: float | None = None, on: date = date(2026, 6, 2)
) -> DoneLine:
    items = [{"name": f"group {g}", "group": g} for g in groups.split(",")]
    detail: dict[str, Any] = {"ingredients": items}
    detail |= {} if survivors is None else {"survivors": survivors}
    detail |= {} if tallest is None else {"tallest_cm": tallest}
    return DoneLine("e1", "sprayed", date(2026, 6, 2), detail)


# ---------------------------------------------------------------------------------------------- sites of action


def test_two_sites_that_nothing_speaks_against_draw_no_objection_and_one_does() -> None:
    assert rules(checked(plan(post("10, 14"))), 0) == set()
    assert rules(checked(plan(post("10"))), 0) == {"one_site"}
    # A group that does nothing to plants that are up, or little to this weed, is no second site.
    assert "one_site" in rules(checked(plan(post("10, 15"))), 0)


@pytest.mark.parametrize("grown", ["soybean", "corn"])
def test_a_group_that_is_weak_in_a_crop_is_no_second_site_there(grown: str) -> None:
    # Over soybean group 6 is bentazon alone, poor on pigweeds; corn bears bromoxynil too.
    assert ("one_site" in rules(checked(plan(post("6, 10"), crop=grown)), 0)) == (grown == "soybean")
    done = site(done=(sprayed("6,10"),))
    told = {finding.rule for finding in check_programme(None, flora=FLORA, reading=done).done[0].findings}
    assert "one_site" in told


def test_a_widespread_resistance_is_no_site_to_count_on_before_a_test() -> None:
    assert "nothing_counts" in rules(checked(plan(post("9"))), 0)
    assert "one_site" in rules(checked(plan(post("9, 10"))), 0)
    assert verdict(9, population("AMARE"), on_leaves=True, flora=FLORA).standing == "sure"  # nothing said of redroot


@pytest.mark.parametrize(
    ("how", "standing"),
    [
        ({"resistant_groups": "14"}, "failed"),
        ({"done": (sprayed("14", survivors=True),)}, "doubtful"),
        ({"done": (sprayed("14", survivors=False),)}, "sure"),
        ({}, "sure"),
    ],
)
def test_what_this_field_showed_counts_first(how: dict[str, Any], standing: str) -> None:
    here = population("AMATU", reading=site(**how))
    assert verdict(14, here, on_leaves=True, flora=FLORA).standing == standing


def test_the_plans_own_resistant_plants_put_a_group_in_doubt_unless_they_are_rare() -> None:
    for share, told in (("[0.1, 0.4]", "doubtful"), ("[0.0001, 0.001]", "sure")):
        made = plan(post("14"), head=f"[resistance.14]\nallele_share = {share}")
        assert verdict(14, population("AMATU", plan=made), on_leaves=True, flora=FLORA).standing == told


def test_several_groups_are_in_doubt_at_once_where_plants_that_break_them_down_are_known() -> None:
    made = plan(post("4, 27"), crop="corn")
    far, near = checked(made, region="NE"), checked(made, region="CB", state="IL")
    assert rules(far, 0) == set()
    assert {"several_at_once", "nothing_counts"} <= rules(near, 0)
    text = " ".join(plan_in_words(near, Words(), flora=FLORA))
    assert "Groups 4 and 27 may fail together" in text
    assert "known in this state" in text
    assert "known in the region: " in " ".join(
        plan_in_words(checked(made, region="CB", state="IA"), Words(), flora=FLORA)
    )


def test_a_gene_of_the_plan_that_weakens_groups_takes_them_out_of_the_count() -> None:
    head = "[resistance.metabolic]\nallele_share = [0.05, 0.2]\nweakens = { 4 = 0.5, 27 = 0.5 }"
    assert "nothing_counts" in rules(checked(plan(post("4, 27"), head=head), region="NE"), 0)


def test_the_same_single_site_again_is_told_and_another_is_not() -> None:
    assert "same_again" in rules(checked(plan(post("14, 9", 25), post("14, 9", 40))), 1)
    assert "same_again" not in rules(checked(plan(post("14, 9", 25), post("10, 9", 40))), 1)
    assert "one_group_all_season" in rules(checked(plan(post("14, 9", 25), post("14, 9", 40))))
    assert "one_group_all_season" not in rules(checked(plan(post("14, 9", 25), post("10, 9", 40))))


def test_what_was_sprayed_this_season_stands_before_the_plan() -> None:
    done = (sprayed("14"),)
    assert "same_again" in rules(checked(plan(post("14")), reading=site(done=done), traits=None), 0)
    assert "same_again" not in rules(checked(plan(post("10")), reading=site(done=done), traits=None), 0)
    check = check_programme(None, flora=FLORA, reading=site(done=(sprayed("14", tallest=25),)))
    assert {finding.rule for finding in check.done[0].findings} == {"one_site", "sprayed_tall"}


# --------------------------------------------------------------------------------------------- the crop, residuals


@pytest.mark.parametrize(
    ("crop", "year", "told"), [("soybean", 2026, False), ("soybean", 2027, True), ("corn", 2026, True)]
)
def test_traits_on_record_are_those_of_this_seasons_crop(crop: str, year: int, told: bool) -> None:
    made = plan(post("10, 14"), crop=crop)
    found = rules(check_programme(made, flora=FLORA, reading=site(traits_known=True), year=year), 0)
    assert ("trait_unknown" in found) is told


def test_nothing_goes_over_a_crop_with_unknown_traits() -> None:
    assert "trait_unknown" in rules(checked(plan(post("14, 27")), traits=None), 0)
    assert "trait_unknown" not in rules(checked(plan(post("14, 27", days=-5)), traits=None), 0)  # before planting
    assert "trait_unknown" not in rules(checked(plan(post("14, 27"), crop="fallow"), traits=None), 0)


def test_a_pass_past_the_crop_s_last_stage_by_most_labels_is_told() -> None:
    """Soybean is in flower some sixty days after planting, corn past V8 some forty: what goes over them ends there."""
    for crop, last in (("soybean", 60), ("corn", 40)):
        assert "past_crop_stage" in rules(checked(plan(post("14", days=last), crop=crop), traits=()), 0)
        assert "past_crop_stage" not in rules(checked(plan(post("14", days=last - 1), crop=crop), traits=()), 0)


@pytest.mark.parametrize(
    ("group", "crop", "traits", "rule"),
    [
        ("10", "soybean", ("glufosinate",), None),
        ("10", "soybean", (), "trait_missing"),
        ("14", "soybean", (), None),
        ("27", "cotton", (), "not_over_crop"),
        ("15", "soybean", (), None),
        ("17", "cotton", (), "not_over_crop"),
    ],
)
def test_a_group_needs_a_use_over_the_crop_or_the_trait(
    group: str, crop: str, traits: tuple[str, ...], rule: str | None
) -> None:
    found = rules(checked(plan(post(group), crop=crop), traits=traits), 0) & {"trait_missing", "not_over_crop"}
    assert found == (set() if rule is None else {rule})


def test_residuals_that_do_not_overlap_are_told() -> None:
    assert "no_residual" in rules(checked(plan(post("10, 14"))))
    single = plan(residual("14, 5"), post("10, 14"))
    assert "no_overlap" in rules(checked(single))
    overlapping = plan(residual("14, 5", lasts=35), residual("15", 28, lasts=40), post("10, 14"))
    assert "no_overlap" not in rules(checked(overlapping, region="NE"))
    gap = plan(residual("14, 5", lasts=20), residual("15", 28, lasts=40), post("10, 14"))
    assert "no_overlap" in rules(checked(gap, region="NE"))
    # A residual that plants here break down holds nothing.
    assert "no_residual" in rules(checked(plan(residual("15"), post("10, 14")), state="IL", region="CB"))


def test_a_season_of_herbicides_only_is_told() -> None:
    assert "herbicides_only" in rules(checked(plan(post("10, 14"), more="")))
    assert "herbicides_only" not in rules(checked(plan(post("10, 14"))))


# -------------------------------------------------------------------------------------------------- rain, height


def test_rain_that_washes_a_residual_in_comes_from_the_years_on_record() -> None:
    made = plan(residual("14, 5"))
    assert "no_rain" not in rules(checked(made, reading=site(weather=station(rain=20.0))), 0)
    assert "no_rain" in rules(checked(made, reading=site(weather=station(rain=0.0, rain_this_year=np.nan))), 0)
    measured = site(weather=station(rain=20.0, rain_this_year=0.0))
    assert "no_rain_came" in rules(checked(made, reading=measured), 0)  # planted in May, read in July
    assert "no_rain" not in rules(checked(made), 0)  # no station, no word of rain


def test_plants_over_the_height_on_the_planned_day_are_told_from_the_clock() -> None:
    draws = {"height_10_cm_day": np.full(cases.N, float(cases.day(date(2026, 6, 10))))}
    reading = replace(site(), draws={**cases.escapes().draws, **draws})
    for days, told in ((20, False), (40, True)):  # May 30, June 19
        assert ("too_tall_by_date" in rules(checked(plan(post("10, 14", days)), reading=reading), 0)) is told


def test_plants_that_come_up_after_a_pass_that_works_are_reckoned_from_that_day() -> None:
    # 11 degree days a day (21 degC, base 10): 10 cm takes 140 to 260 of them, so 13 to 24 days.
    reading = site(weather=station())
    for later, told in ((36, False), (75, True)):
        second = checked(plan(post("10, 14", 28), post("10, 27", later)), reading=reading, region="NE")
        assert ("too_tall_by_date" in rules(second, 1)) is told


def test_a_height_in_the_plan_is_judged_by_the_tallest_not_by_the_usual_plant() -> None:
    assert "too_tall_told" in rules(checked(plan(post("10, 14", height=8))), 0)
    assert "too_tall_told" not in rules(checked(plan(post("10, 14", height=5))), 0)


# ------------------------------------------------------------------------------------------------- forms, refusals


def test_every_finding_says_why_and_what_it_stands_on_and_json_is_plain() -> None:
    head = "[resistance.9]\nallele_share = [0.1, 0.4]"
    made = plan(residual("15"), post("9, 14", 30, 9), post("14, 9", 60), more="", head=head)
    check = checked(made, traits=None, state="IL", region="CB")
    found = [f for one in check.all_passes() for f in one.findings] + list(check.seasons[0].findings)
    assert len({finding.rule for finding in found}) >= 7
    for finding in found:
        for words in (Words(), Words(units="metric")):
            for text in (finding.text(words), finding.why(words)):
                assert text[0].isupper() or text[0].isdigit()
                assert "{" not in text
        assert finding.stands_on.sources or finding.stands_on.basis == "judgement"
        assert set(finding.stands_on.sources) <= set(FLORA.sources)
    told = json.loads(json.dumps(plan_to_json(check, flora=FLORA), allow_nan=False))
    assert list(told) == ["name", "taxon", "answer", "done", "seasons", "notes"]
    assert told["seasons"][0]["passes"][1]["doubtful"] == {"9": "the plan itself counts with resistant plants"}


def test_a_group_stands_in_one_place_of_the_count_only() -> None:
    check = checked(plan(post("4, 9, 10, 15, 27")), state="IL", region="CB")
    one: CheckedPass = check.seasons[0].passes[0]
    counted = [g for s in ("sure", "doubtful", "failed", "idle") for g in one.groups(s)]  # type: ignore[arg-type]
    assert sorted(counted) == [4, 9, 10, 15, 27]


def test_nothing_to_check_and_an_unknown_weed_are_refused() -> None:
    with pytest.raises(Refused, match="neither a plan nor a site"):
        check_programme(None, flora=FLORA)
    made = read_programme_text(
        'taxon = "XXXXX"\n[start]\nseedbank_m2 = 3\n[[season]]\ncrop = "corn"\n', name="plan.toml"
    )
    with pytest.raises(Refused, match="no taxon 'XXXXX'"):
        checked(made)


def test_the_command_checks_a_file_and_refuses_what_is_wrong(tmp_path: Any, capsys: Any) -> None:
    file = tmp_path / "plan.toml"
    text = (
        'taxon = "AMATU"\n[start]\nseedbank_m2 = 3\n[[season]]\ncrop = "soybean"\n'
        "[[season.post]]\ngroups = [9]\nheight_cm = 5\n"
    )
    file.write_text(text, encoding="utf-8")
    assert main(["programme", str(file), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["seasons"][0]["passes"][0]["findings"][0]["rule"] == "trait_unknown"
    assert main(["programme", str(file), "--state", "IL", "--units", "metric"]) == 0
    assert "Not advised over the soybean" in capsys.readouterr().out
    for wrong in (
        ["--ledger", "x.ledger"],
        ["--site", "a"],
        ["--state", "Iowah"],
        ["--year", "26"],
        ["--region", "XX"],
    ):
        assert main(["programme", str(file), *wrong]) == 2
        assert len(capsys.readouterr().err.splitlines()) == 1
    assert main(["programme"]) == 2
    assert "neither a plan nor a site" in capsys.readouterr().err
    file.write_text(text.replace("groups", "group"), encoding="utf-8")
    assert main(["programme", str(file)]) == 2
    assert "line" in capsys.readouterr().err
