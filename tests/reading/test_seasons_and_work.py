"""Other years, other people's words, and what was done: cases in which a careless reading would mislead."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from _books import AS_OF, book, lonlat, palmer, said, site, stop
from tepal import reading as readings
from tepal.words import Words

WALK = {
    "track": {"type": "LineString", "coordinates": [lonlat(-190, 0), lonlat(190, 0)]},
    "sigma_m": 6.0,
    "looked_for": ["AMAPA", "AMATU"],
}
NEXT_YEAR = date(2027, 6, 10)


def _read(folder, *entries, as_of=AS_OF):
    with book(folder, site(), *entries) as ledger:
        return readings.read(ledger, "west", as_of=as_of)


def _who(found):
    return readings.who(found, Words())


@pytest.mark.parametrize("region", ["SE", "CB", "UM", "SP", "NE"])
def test_one_plant_that_is_surely_palmer_leads_wherever_it_stands(tmp_path, region):
    with book(tmp_path, site(region=region), palmer()) as ledger:
        found = readings.read(ledger, "west", as_of=AS_OF)
    assert found.facts["leading"] == "AMAPA"
    assert _who(found).startswith(("Palmer amaranth, almost certainly", "Palmer amaranth, very probably"))


def test_before_anybody_looked_there_is_no_name_and_no_chance(tmp_path):
    found = _read(tmp_path, stop(4), as_of=date(2026, 4, 15))
    assert found.taxa == {} and found.facts["leading"] is None
    assert "chance" not in _who(found) and "Nobody has looked" in _who(found)


def test_a_plant_without_a_look_is_no_plant_looked_at(tmp_path):
    bare = said("plant", {"stage": "vegetative", "looks": {"leaf_gloss": "cannot_tell"}, "height_cm": 30.0})
    found = _read(tmp_path, bare)
    assert found.facts["named_plants"] == 0 and found.facts["seen_any"] is True
    assert found.facts["first_find.AMAPA"] is False and found.facts["first_find.AMATU"] is False
    assert "chance" not in _who(found)


def test_last_year_is_remembered_and_this_year_is_not_made_up(tmp_path):
    found = _read(tmp_path, palmer(), palmer(at=lonlat(30, 0)), as_of=NEXT_YEAR)
    assert found.facts["looked_this_season"] is False and found.facts["seen_before"] is True
    assert found.facts["reported_only"] is False and found.facts["named_plants"] == 0
    assert "Nobody has looked here yet this year" in _who(found) and "Palmer amaranth" in _who(found)
    assert found.stand.total is None


def test_a_clean_walk_the_year_after_a_find_is_read(tmp_path):
    walk = said("walk", WALK | {"found": 0}, on="2027-06-08")
    found = _read(tmp_path, palmer(), walk, as_of=NEXT_YEAR)
    assert found.facts["none_seen"] is True and found.facts["leading"] is None


def test_a_walk_that_does_not_say_what_it_found_did_not_find_nothing(tmp_path):
    found = _read(tmp_path, said("walk", WALK))
    assert found.facts["none_seen"] is False
    assert "None were seen" not in _who(found)


def test_never_fewer_hunted_plants_than_were_surely_seen(tmp_path):
    plants = [palmer(at=lonlat(4 * i, 3)) for i in range(7)]
    found = _read(tmp_path, *plants, said("walk", WALK | {"found": 7}))
    assert np.quantile(found.draws["total"], 0.05) >= 7
    assert (found.draws["total"] <= np.round(found.draws["total_all"])).all()


def test_chances_and_numbers_of_a_taxon_agree(tmp_path):
    found = _read(tmp_path, *(palmer(at=lonlat(4 * i, 3)) for i in range(5)), stop(3), stop(2, 50, 0))
    for code in ("AMAPA", "AMATU"):
        there = float((found.draws[f"share.{code}"] > 0).mean())
        assert there == pytest.approx(found.taxa[code].p_any, abs=0.04)


def test_what_was_pulled_is_taken_off(tmp_path):
    plants = [palmer(at=lonlat(4 * i, 3)) for i in range(7)]
    walk = said("walk", WALK | {"found": 7})
    before = _read(tmp_path / "a", *plants, walk)
    pulled = said("done", {"what": "pulled", "share": 1.0, "tallest_cm": 40.0}, on="2026-07-01")
    after = _read(tmp_path / "b", *plants, walk, pulled)
    assert after.stand.after_work
    # Published: 90 to 99 % of small plants pulled with their root die.
    left = after.draws["total_all"].mean() / before.draws["total_all"].mean()
    assert 0.005 < left < 0.15


def test_a_revisit_after_pulling_starts_the_count_anew(tmp_path):
    pulled = said("done", {"what": "pulled", "share": 1.0}, on="2026-06-20")
    tall = stop(40, on="2026-06-18")
    found = _read(tmp_path, said("stop", tall.body.model_dump(), on="2026-06-18"), pulled, stop(0), stop(0, 50, 50))
    assert found.facts["none_seen"] is True
    assert found.facts["tallest_seen_cm"] is None


def test_the_laboratory_had_this_very_plant(tmp_path):
    plant = palmer()
    result = {"step": "result", "test": "species", "taxon": "AMATU", "of": plant.id}
    found = _read(tmp_path, plant, said("sample", result))
    assert found.taxa["AMATU"].proved
    assert found.taxa["AMAPA"].p_seen < 0.2


def test_an_unsure_laboratory_proves_nothing_nor_does_a_test_for_resistance(tmp_path):
    unsure = {"step": "result", "test": "species", "taxon": "AMAPA", "sure": 0.3}
    resistance = {"step": "result", "test": "resistance", "taxon": "AMAPA", "resistant": {"9": "resistant"}}
    found = _read(tmp_path, palmer(), said("sample", unsure), said("sample", resistance))
    assert found.facts["proved.AMAPA"] is False
    assert found.facts["resistant_groups"] == "9"


def test_a_name_beside_a_count_is_one_opinion_however_often_it_is_written(tmp_path):
    def named(i):
        counts = [{"taxon": "AMAPA", "count": 50}]
        return said("stop", {"at": lonlat(20 * i, 0), "area_m2": 4.0, "counts": counts})

    one = _read(tmp_path / "a", named(0))
    ten = _read(tmp_path / "b", *(named(i) for i in range(10)))
    assert ten.taxa["AMAPA"].p_seen == pytest.approx(one.taxa["AMAPA"].p_seen, abs=0.03)
    assert "Called Palmer amaranth" in _who(ten)
    assert ten.facts["first_find.AMAPA"] is False


def test_look_alikes_are_no_pigweeds(tmp_path):
    other = said("stop", {"at": lonlat(0, 0), "area_m2": 4.0, "counts": [{"taxon": "CHEAL", "count": 50}]})
    found = _read(tmp_path, other)
    assert found.facts["seen_any"] is False


def test_a_track_in_another_field_does_not_stop_the_reading(tmp_path):
    astray = {"type": "LineString", "coordinates": [lonlat(5000, 0), lonlat(5400, 0)]}
    found = _read(tmp_path, palmer(), said("walk", WALK | {"track": astray, "found": 1}))
    assert any("left out" in warning for warning in found.warnings)
    assert found.facts["leading"] == "AMAPA"


def test_leave_that_is_given_later_is_no_leave_today(tmp_path):
    later = said(
        "party",
        {"name": "The owner", "roles": ["owner"], "consent_to_enter": True, "consent_on": "2026-08-01"},
        on="2026-06-01",
    )
    assert _read(tmp_path, later).facts["consent"] is None


def test_a_first_find_is_one_of_its_own_county(tmp_path):
    elsewhere = said(
        "site", {"name": "East", "ground": "field", "region": "CB", "county": "Otherton"}, site="east", on="2026-04-01"
    )
    proof = said("sample", {"step": "result", "test": "species", "taxon": "AMAPA"}, site="east")
    assert _read(tmp_path, elsewhere, palmer(), proof).facts["first_find.AMAPA"] is True


def test_what_arrives_later_leaves_an_earlier_answer_as_it_was(tmp_path):
    import json

    from _books import weather
    from tepal.ledger import WeatherBatch

    with book(tmp_path, site(), palmer(), stop(3)) as ledger:
        known = ledger.last_seq

        def told():
            return json.dumps(readings.to_json(readings.read(ledger, "west", as_of=AS_OF, known_to=known)))

        before = told()
        ledger.add([said("note", {"words": "later"})])
        ledger.add([], weather=[WeatherBatch("Nearer", weather().days, lon=-45.0, lat=41.5)])
        assert told() == before
        # A place beyond the end is the end.
        end = readings.read(ledger, "west", as_of=AS_OF, known_to=ledger.last_seq)
        beyond = readings.read(ledger, "west", as_of=AS_OF, known_to=ledger.last_seq + 900)
        assert readings.to_json(end) == readings.to_json(beyond)


def test_words_about_people_at_work_stay_in_the_ledger(tmp_path):
    import json

    done = {"what": "pulled", "plants": 3, "people": 2, "words": "Joe Secret was there"}
    found = _read(tmp_path, palmer(), said("done", done))
    assert "Secret" not in json.dumps(readings.to_json(found))


def test_plants_that_nobody_named_are_counted_as_pigweeds_of_all_kinds(tmp_path):
    found = _read(tmp_path, stop(4), stop(2, 50, 0))
    assert "pigweeds of all kinds" in readings.how_many(found, Words())
    assert "the kind we hunt" not in readings.how_many(found, Words())


def test_counts_made_in_a_patch_only_are_not_the_whole_field(tmp_path):
    # Five stops of 4 m2 within 40 m, 8 plants each: 2 plants/m2. The field has 16 ha, which would make 320,000.
    near = [stop(8, 10.0 * i, 12.0 * (i % 2)) for i in range(5)]
    found = _read(tmp_path / "a", *near)
    part = found.stand.of_hectares
    assert part is not None and 0.03 < part < 0.3
    assert found.stand.all_total["q50"] == pytest.approx(2e4 * part, rel=0.4)
    assert "the rest was not counted" in readings.how_many(found, Words())
    # One stop without plants, or stops all over the field, and the number is of the field.
    for more, folder in ((stop(0, 150, 150), "b"), (stop(8, -180, -180), "c")):
        whole = _read(tmp_path / folder, *near, more, *([stop(8, 180, 180)] if folder == "c" else []))
        assert whole.stand.of_hectares is None
        assert "the rest" not in readings.how_many(whole, Words())


def test_ground_that_was_worked_starts_the_clock_anew_and_a_cultivator_between_rows_does_not(tmp_path):
    worked = said("done", {"what": "cultivated"}, on="2026-06-20")
    fallow = _read(tmp_path / "a", stop(3, on="2026-06-10"), worked, as_of=date(2026, 6, 24))
    before = _read(tmp_path / "b", stop(3, on="2026-06-10"), as_of=date(2026, 6, 24))
    assert np.median(fallow.draws["tallest_cm"]) < 0.5 * np.median(before.draws["tallest_cm"])
    corn = said("crop", {"year": 2026, "crop": "corn", "planted": "2026-05-01"}, on="2026-05-01")
    rows = _read(tmp_path / "c", corn, stop(3, on="2026-06-10"), worked, as_of=date(2026, 6, 24))
    assert np.median(rows.draws["tallest_cm"]) > 0.5 * np.median(before.draws["tallest_cm"])


def test_once_frost_has_ended_the_season_nothing_is_still_to_close(tmp_path):
    late = date(2026, 12, 20)
    found = _read(tmp_path, stop(6), palmer(), as_of=late)
    told = "\n".join(readings.in_words(found, Words()))
    assert found.facts["season_over"] is True
    assert "frost has more likely than not killed" in told and "What closes when" not in told
    assert "summer" not in told
    june = "\n".join(readings.in_words(_read(tmp_path / "june", stop(6), palmer()), Words()))
    assert "frost" not in june and "What closes when" in june


CUT = {"what": "cut", "cut_height_cm": 15.0, "share": 1.0}


def _stop_on(on: str, east: float):
    counts = [{"taxon": "pigweed", "size": "30_100_cm", "count": 4, "tallest_cm": 80.0}]
    return said("stop", {"at": lonlat(east, 0), "area_m2": 4.0, "counts": counts}, on=on)


def _seen(on: str, height: float, count: int = 1, **more):
    body = {"stage": "vegetative", "looks": {"stem_hair_upper": "none"}, "height_cm": height, "at": lonlat(10, 10)}
    return said("plant", body | {"flowering": False, "count": count} | more, on=on)


def test_a_plant_measured_after_a_cut_tells_how_tall_they_stand_now(tmp_path):
    done = said("done", CUT, on="2026-06-20")
    before = _read(tmp_path / "a", _seen("2026-06-19", 80.0, 20), done)
    after = _read(tmp_path / "b", _seen("2026-06-19", 80.0, 20), done, _seen("2026-06-30", 18.0, 6))
    assert before.facts["tallest_seen_cm"] == 80.0
    assert after.facts["tallest_seen_cm"] == 18.0 and after.facts["tallest_cm"] < 40
    # Nobody counted: what is met now is what there is, and what was cut is not met a second time.
    assert after.stand.counted_plants == 6


def test_a_plant_measured_after_a_cut_does_not_undo_the_count(tmp_path):
    stops = [_stop_on("2026-06-19", 50.0 * i) for i in range(3)]
    done = said("done", CUT | {"cut_height_cm": 0.0}, on="2026-06-20")
    found = [
        _read(tmp_path / name, *stops, *more)
        for name, more in (("a", ()), ("b", (done,)), ("c", (done, _seen("2026-06-30", 18.0))))
    ]
    whole, cut, looked = (one.stand.total["q50"] for one in found)
    assert cut < whole / 2 and looked < whole / 2


def test_cut_plants_that_flower_before_the_others_set_the_dates(tmp_path):
    seen = _seen("2026-06-29", 12.0)
    plain = _read(tmp_path / "a", seen)
    cut = _read(tmp_path / "b", said("done", CUT, on="2026-06-28"), seen)
    by_name = {window.name: window for window in cut.windows}
    assert by_name["regrowth"].closes == "return"
    for name, key in (("flowers", "flower_day"), ("viable_seed", "viable_seed_day")):
        assert by_name[name].q10 <= {window.name: window for window in plain.windows}[name].q10
        # Never later than the plants that were not cut, in any draw.
        assert np.nanquantile(cut.draws[key], 0.1) <= np.nanquantile(plain.draws[key], 0.1) + 1
    assert by_name["flowers"].q10 <= by_name["regrowth"].q10


def test_spraying_closes_by_the_tallest_and_not_by_a_tenth(tmp_path):
    found = _read(tmp_path, _seen("2026-06-30", 12.0))
    window = next(window for window in found.windows if window.name == "height_10_cm")
    assert window.closes == "spray" and window.share_past > 0.8
    assert float(np.mean(found.draws["height_10_cm_day"] <= 181)) == pytest.approx(window.share_past)
    assert "The tallest" in readings.window_in_words(window, found, Words())


@pytest.mark.parametrize(("sexes", "only"), [(("male_only",), True), (("male_only", "female_only"), False), ((), None)])
def test_males_alone_are_told_apart(tmp_path, sexes, only):
    plants = [palmer(looks={"plant_sex": sex, "stem_hair_upper": "none"}) for sex in sexes] or [_seen("2026-06-30", 50)]
    assert _read(tmp_path, *plants).facts["only_males_seen"] is only


def test_how_tall_they_stood_when_they_were_sprayed_is_known(tmp_path):
    spray = {"what": "sprayed", "tallest_cm": 15.0, "survivors": True}
    assert _read(tmp_path / "a", said("done", spray, on="2026-06-20")).facts["survivors_were_cm"] == 15.0
    dead = said("done", spray | {"survivors": False}, on="2026-06-20")
    assert _read(tmp_path / "b", dead).facts["survivors_were_cm"] is None


def test_what_is_drawn_beside_the_plants_is_known_by_name(tmp_path):
    drawn = [
        {"kind": "other", "name": "bee hives", "geometry": {"type": "Point", "coordinates": lonlat(90, 90)}},
        {"kind": "gate", "name": "north gate", "geometry": {"type": "Point", "coordinates": lonlat(0, 200)}},
    ]
    with book(tmp_path, site(features=drawn), stop(4)) as ledger:
        assert readings.read(ledger, "west", as_of=AS_OF).facts["beside"] == "bee hives"


def test_stops_across_a_field_are_a_sample_of_it(tmp_path):
    spread = [stop(4 if i % 2 else 0, east=-150 + 60.0 * i, north=-150 + 60.0 * i) for i in range(6)]
    found = _read(tmp_path, *spread)
    assert found.facts["where_hectares"] == pytest.approx(found.facts["hectares"] / 2)
