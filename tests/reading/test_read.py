"""A reading is a pure function of the entries that stand, the tables and the date."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from _books import AS_OF, book, lonlat, palmer, said, site, stop
from tepal import reading as readings
from tepal.flora import load
from tepal.ledger import Ledger, give, take
from tepal.reading import fact_types, why
from tepal.tables import Refused
from tepal.words import Words

WALK = {
    "track": {"type": "LineString", "coordinates": [lonlat(-190, 0), lonlat(190, 0)]},
    "sigma_m": 5.0,
    "found": 0,
    "looked_for": ["AMAPA", "AMATU"],
}


def _text(ledger, where="west", as_of=AS_OF, known_to=None):
    return json.dumps(readings.to_json(readings.read(ledger, where, as_of=as_of, known_to=known_to)))


def test_the_same_entries_give_the_same_bytes_also_after_a_round_trip_through_files(tmp_path):
    with book(tmp_path, site(), palmer(), stop(3), stop(0, 90, 90)) as ledger:
        first = _text(ledger)
        assert first == _text(ledger)
        give(ledger, tmp_path / "out")
    take([tmp_path / "out"], tmp_path / "again.ledger")
    with Ledger.open(tmp_path / "again.ledger") as again:
        assert _text(again) == first


def test_where_nothing_new_is_known_no_number_moves_from_one_day_to_the_next(tmp_path):
    with book(tmp_path, site(), palmer(), stop(3), stop(0, 90, 90)) as ledger:
        first = readings.read(ledger, "west", as_of=AS_OF)
        ledger.add([said("note", {"words": "The gate is open again."}, on="2026-07-02")])
        for days in (1, 5):
            later = readings.read(ledger, "west", as_of=AS_OF + timedelta(days=days))
            assert later.stand == first.stand
            assert later.taxa == first.taxa


def test_every_declared_fact_is_filled_and_no_other(tmp_path):
    with book(tmp_path, site(), palmer()) as ledger:
        assert list(readings.read(ledger, "west", as_of=AS_OF).facts) == list(fact_types(load().hunted()))


def test_what_happened_after_the_date_does_not_count(tmp_path):
    late = said(
        "stop", {"at": lonlat(5, 5), "area_m2": 4.0, "counts": [{"taxon": "pigweed", "count": 900}]}, on="2026-07-09"
    )
    with book(tmp_path, site(), stop(3)) as ledger:
        before = _text(ledger)
        position = ledger.last_seq
        ledger.add([late])
        assert _text(ledger, known_to=position) == before
        # The later event is known and still lies ahead: only the position may differ.
        assert readings.read(ledger, "west", as_of=AS_OF).stand.counted_plants == 3
        assert readings.read(ledger, "west", as_of=date(2026, 7, 9)).stand.counted_plants == 903


def test_an_amendment_replaces_and_two_of_them_are_a_question(tmp_path):
    first = stop(900)
    fixes = [
        said(
            "stop", {"at": lonlat(0, 0), "area_m2": 4.0, "counts": [{"taxon": "pigweed", "count": n}]}, amends=first.id
        )
        for n in (9, 11)
    ]
    with book(tmp_path, site(), first) as ledger:
        ledger.add(fixes[:1])
        once = readings.read(ledger, "west", as_of=AS_OF)
        assert once.stand.counted_plants == 9
        assert "disputed" not in [item.what for item in once.unknowns]
        ledger.add(fixes[1:])
        twice = readings.read(ledger, "west", as_of=AS_OF)
    assert twice.unknowns[0].what == "disputed"


def test_hunted_plants_are_a_part_of_all_and_whole(tmp_path):
    with book(tmp_path, site(), palmer(), stop(7), stop(2, 100, 50), stop(0, -120, 10)) as ledger:
        draws = readings.read(ledger, "west", as_of=AS_OF).draws
    assert (draws["total"] <= np.round(draws["total_all"])).all()
    assert (draws["total"] == np.round(draws["total"])).all()
    assert {column.shape for column in draws.values()} == {(readings.DRAWS,)}


def test_palmer_told_by_its_bracts_leads_and_would_be_a_first_find(tmp_path):
    with book(tmp_path, site(), palmer(), palmer(at=lonlat(30, 0))) as ledger:
        found = readings.read(ledger, "west", as_of=AS_OF)
    assert found.facts["leading"] == "AMAPA"
    assert found.taxa["AMAPA"].p_seen > 0.95
    assert found.facts["first_find.AMAPA"] is True
    assert found.facts["p_viable_seed"] > 0


def test_a_laboratory_result_proves_here_and_ends_first_finds_elsewhere(tmp_path):
    result = {"step": "result", "what": "leaf", "test": "species", "taxon": "AMAPA"}
    elsewhere = said("site", {"name": "East", "ground": "field", "region": "CB"}, site="east", on="2026-04-01")
    with book(tmp_path, site(), elsewhere, palmer(), said("plant", palmer().body.model_dump(), site="east")) as ledger:
        assert readings.read(ledger, "east", as_of=AS_OF).facts["first_find.AMAPA"] is True
        ledger.add([said("sample", result)])
        here = readings.read(ledger, "west", as_of=AS_OF)
        there = readings.read(ledger, "east", as_of=AS_OF)
    assert here.taxa["AMAPA"].proved and here.facts["proved.AMAPA"] is True
    assert here.facts["first_find.AMAPA"] is False
    assert there.facts["proved.AMAPA"] is False and there.facts["first_find.AMAPA"] is False


def test_looks_and_a_laboratory_that_name_two_kinds_are_both_told_and_no_chance_is_made_of_the_proof(tmp_path):
    """Palmer by its bracts, waterhemp by a laboratory: nobody wrote what the sample was taken from."""
    result = said("sample", {"step": "result", "what": "leaf", "taxon": "AMATU", "sure": 0.99})
    with book(tmp_path, site(), palmer(), result) as ledger:
        told = "\n".join(readings.in_words(readings.read(ledger, "west", as_of=AS_OF), Words()))
    assert "Waterhemp was proved here by a laboratory: ask whether its sample was of these plants." in told
    assert "Waterhemp may be among" not in told


def test_a_walk_with_nothing_found_says_what_was_seen_and_no_more(tmp_path):
    with book(tmp_path, site(), said("walk", WALK)) as ledger:
        found = readings.read(ledger, "west", as_of=AS_OF)
    # One line through the middle of a 400 m square: the mean of exp(-d²/2S²) is S sqrt(2 pi) / side, less the ends.
    expected = 5 * np.sqrt(2 * np.pi) / 400 * 380 / 400
    assert found.stand.seen_share == pytest.approx(expected, rel=0.05)
    assert found.facts["none_seen"] is True
    assert found.stand.total is None and found.taxa == {}
    assert [item.name for item in found.windows if item.closes == "flush"]


def test_stops_of_zero_alone_are_none_seen_too(tmp_path):
    with book(tmp_path, site(), stop(0), stop(0, 50, 50)) as ledger:
        found = readings.read(ledger, "west", as_of=AS_OF)
    assert found.facts["none_seen"] is True


def test_a_report_alone_has_no_numbers_and_asks_for_a_walk(tmp_path):
    call = said("report", {"how": "call", "words": "Pigweeds in the low corner"})
    photo = said(
        "plant",
        {"stage": "seedling_2-4_leaf", "looks": {"leaf_outline": "ovate"}, "seen_by": "photo", "height_cm": 90.0},
    )
    with book(tmp_path, site(), call, photo) as ledger:
        found = readings.read(ledger, "west", as_of=AS_OF)
    assert found.facts["reported_only"] is True
    assert found.stand.total is None
    assert "walk" in [item.what for item in found.unknowns]
    # A height cannot be taken from a photo, so the 90 cm must not pull the clock; the stage seen on it does.
    assert found.draws["tallest_cm"].mean() < 45


def test_a_site_known_by_words_only_is_read_without_dates(tmp_path):
    bare = site(boundary=None, words="the ditch along the county road")
    with book(tmp_path, bare, said("report", {"how": "text", "words": "tall pigweeds"})) as ledger:
        found = readings.read(ledger, "west", as_of=AS_OF)
    assert found.windows == ()
    assert {"boundary", "walk"} <= {item.what for item in found.unknowns}


def test_without_weather_dates_are_wide_and_the_reading_says_so(tmp_path):
    # No height: what was measured in the field would say more than either climate.
    seen = stop(3, counts=[{"taxon": "pigweed", "size": "unknown", "count": 3}])
    with book(tmp_path, site(), seen) as with_station:
        narrow = readings.read(with_station, "west", as_of=AS_OF)
    with book(tmp_path / "b", site(), seen, with_weather=False) as without:
        wide = readings.read(without, "west", as_of=AS_OF)
    assert "weather" in [item.what for item in wide.unknowns]
    spread = {name: np.nanstd(found.draws["viable_seed_day"]) for name, found in (("narrow", narrow), ("wide", wide))}
    assert spread["wide"] > spread["narrow"]


def test_an_open_re_entry_time_is_known_to_the_hour(tmp_path):
    spray = {"what": "sprayed", "ingredients": [{"name": "glyphosate"}], "re_entry_until": "2026-07-01T20:00:00Z"}
    with book(tmp_path, site(), said("done", spray)) as ledger:
        assert readings.read(ledger, "west", as_of=AS_OF).facts["re_entry_open"] is True
        found = readings.read(ledger, "west", as_of=date(2026, 7, 2))
    assert found.facts["re_entry_open"] is False
    assert found.facts["sprayed_groups"] == "9"
    assert found.facts["sprayed_days"] == 2


def test_every_pointer_leads_to_entries_and_to_sources_that_are_cited(tmp_path):
    entries = [site(), palmer(), stop(3)]
    with book(tmp_path, *entries) as ledger:
        found = readings.read(ledger, "west", as_of=AS_OF)
        ids = {entry.id for entry in ledger.entries()} | set(ledger.weather().batches)
    flora = load()
    for pointer in ("", "/taxa", "/taxa/AMAPA/p_any", "/stand/total/q50", "/windows", "/windows/0/q10", "/facts/crop"):
        stands_on = why(pointer, found.why)
        assert stands_on.entries and set(stands_on.entries) <= ids, pointer
        assert set(stands_on.sources) <= set(flora.sources), pointer
    assert entries[1].id in why("/taxa/AMAPA", found.why).entries
    with pytest.raises(Refused, match="nothing at"):
        why("/nothing", found.why)


def test_an_unknown_site_is_refused_with_the_known_ones(tmp_path):
    with book(tmp_path, site()) as ledger, pytest.raises(Refused, match="West"):
        readings.read(ledger, "nowhere", as_of=AS_OF)


def test_before_flowering_the_three_that_nobody_can_tell_apart_are_named_together(tmp_path):
    looks = {"stem_hair_upper": "dense", "leaf_hair_lower": "dense", "taproot_colour": "red_pink"}
    plants = [said("plant", {"stage": "vegetative", "looks": looks, "at": lonlat(5 * i, 0)}) for i in range(3)]
    with book(tmp_path, site(), *plants) as ledger:
        found = readings.read(ledger, "west", as_of=AS_OF)
        assert set(found.alike) == {"AMARE", "AMACH", "AMAPO"} and found.alike_chance > 0.8
        told = readings.who(found, Words())
        assert all(name in told for name in ("edroot", "smooth", "Powell"))
        # A laboratory's result parts them.
        ledger.add([said("sample", {"step": "result", "test": "species", "taxon": "AMARE"})])
        assert readings.read(ledger, "west", as_of=AS_OF).alike == ()


def test_the_hunted_taxa_come_from_the_tables_and_so_do_their_facts(tmp_path):
    flora = load()
    others = {code: replace(taxon, hunted=code == "AMAPO") for code, taxon in flora.taxa.items()}
    with book(tmp_path, site(), palmer(), stop(3)) as ledger:
        facts = readings.read(ledger, "west", as_of=AS_OF, flora=replace(flora, taxa=others)).facts
    assert facts["p_any.AMAPO"] is not None
    assert not {"p_any.AMAPA", "proved.AMATU", "first_find.AMAPA"} & set(facts)


def _photo_of(**looks):
    return said("plant", {"stage": "vegetative", "looks": looks, "seen_by": "photo"})


def test_of_a_report_alone_no_name_and_no_date_is_made_up(tmp_path):
    call = said("report", {"how": "call", "words": "pigweeds all over", "photos": ["a" * 64]})
    with book(tmp_path, site(), call) as ledger:
        found = readings.read(ledger, "west", as_of=AS_OF)
    assert found.facts["reported_only"] is True and found.facts["photos"] == 1
    told = readings.who(found, Words())
    assert "there are photos" in told and "nobody of the office has been there" in told
    assert "Nobody has looked" not in told
    dates = [readings.window_in_words(item, found, Words()) for item in found.windows]
    assert dates and all(text.startswith("If it is ") for text in dates)


def test_named_by_photos_the_reading_says_that_nobody_was_there_and_the_dates_are_its_own(tmp_path):
    call = said("report", {"how": "text", "words": "what is this?"})
    looks = {"stem_hair_upper": "none", "petiole_blade_ratio_lower": 0.4, "leaf_outline": "lanceolate"}
    with book(tmp_path, site(), call, _photo_of(**looks)) as ledger:
        found = readings.read(ledger, "west", as_of=AS_OF)
    assert "by the photos" in readings.who(found, Words())
    assert not any(readings.window_in_words(item, found, Words()).startswith("If") for item in found.windows)


def test_what_is_as_good_as_named_is_not_called_open(tmp_path):
    # Waterhemp without a question, beside plants that may be Palmer amaranth.
    sure = {"stem_hair_upper": "none", "petiole_blade_ratio_lower": 0.4, "leaf_outline": "lanceolate"}
    plants = [said("plant", {"stage": "vegetative", "looks": sure, "at": lonlat(5 * i, 0)}) for i in range(4)]
    odd = said("plant", {"stage": "vegetative", "looks": {"petiole_blade_ratio_lower": 1.0}, "at": lonlat(50, 0)})
    with book(tmp_path, site(), *plants, odd) as ledger:
        found = readings.read(ledger, "west", as_of=AS_OF)
    assert found.taxa["AMATU"].p_seen > 0.95 and 0.05 < found.taxa["AMAPA"].p_seen < 0.95
    (item,) = [item for item in found.unknowns if item.what == "taxon"]
    told = readings.unknown_in_words(item, Words())
    assert told.startswith("Whether Palmer amaranth is among them stays open") and "Which pigweed" not in told


def test_names_in_sentences_are_turned_too_and_a_cross_names_both_parents():
    cross = readings.TaxonReading("AMAPAxAMATU", "a cross of Palmer amaranth and waterhemp", 0.5, 0.5, None,
                                  parents=("Palmer amaranth", "waterhemp"))  # fmt: skip
    spanish = Words(language="es")
    assert readings.called(cross, Words()) == "a cross of Palmer amaranth and waterhemp"
    single = readings.TaxonReading("AMAPA", "Palmer amaranth", 0.5, 0.5, None)
    assert readings.called(single, spanish) == spanish.t("Palmer amaranth")
    assert spanish.t("Palmer amaranth") in readings.called(cross, spanish)


def test_what_lay_on_the_soil_at_planting_was_lived_through_by_nothing(tmp_path):
    crop = said("crop", {"year": 2026, "crop": "grain sorghum", "planted": "2026-05-29"}, on="2026-05-29")
    spray = {"what": "sprayed", "ingredients": [{"name": "atrazine", "group": "5"}], "survivors": True}
    with book(tmp_path / "a", site(), crop, said("done", spray, on="2026-05-30"), stop(3)) as ledger:
        soil = readings.read(ledger, "west", as_of=AS_OF).facts
    with book(tmp_path / "b", site(), crop, said("done", spray, on="2026-06-20"), stop(3)) as ledger:
        plants = readings.read(ledger, "west", as_of=AS_OF).facts
    assert soil["survivors"] is None and soil["sprayed_groups"] is None
    assert plants["survivors"] is True and plants["sprayed_groups"] == "5"


def test_a_look_after_harvest_and_after_work_is_known(tmp_path):
    wheat = said("crop", {"year": 2026, "crop": "winter wheat", "planted": "2025-09-28"}, on="2026-03-01")
    off = said("done", {"what": "harvested"}, on="2026-06-20")
    mowed = said("done", {"what": "mowed"}, on="2026-06-25")
    with book(tmp_path / "a", site(), wheat, off, mowed) as ledger:
        before = readings.read(ledger, "west", as_of=AS_OF).facts
    with book(tmp_path / "b", site(), wheat, off, mowed, stop(3)) as ledger:
        after = readings.read(ledger, "west", as_of=AS_OF).facts
    assert (before["looked_since_harvest"], before["looked_since_work"]) == (False, False)
    assert (after["looked_since_harvest"], after["looked_since_work"]) == (True, True)


def test_the_crop_s_limits_are_windows_too_but_nothing_that_a_county_waits_for(tmp_path):
    """Crop days from crops.csv: soybean can be cultivated 45 days, crossed 60 and is ripe 135 days after planting."""
    planted = date(2026, 5, 20)
    crop = said("crop", {"year": 2026, "crop": "soybean", "planted": str(planted), "row_cm": 76.0}, on=str(planted))
    small = stop(3, counts=[{"taxon": "pigweed", "size": "seedling", "count": 3, "tallest_cm": 2.0}], at=lonlat(0, 0))
    as_of = date(2026, 6, 30)
    with book(tmp_path, site(), crop, small) as ledger:
        found = readings.read(ledger, "west", as_of=as_of)
    by_name = {window.name: window for window in found.windows}
    assert by_name["cross_rows"].q50 == planted + timedelta(days=60)
    assert by_name["harvest"].q50 == planted + timedelta(days=135)
    assert by_name["cultivate"].q90 <= planted + timedelta(days=45)
    told = " ".join(readings.in_words(found, Words()))
    assert "The soybean can be crossed on foot until about July 19." in told
    assert "outgrow a cultivator (3 in), or the crop does" in told
    closing = readings.closes_next(found)
    assert closing is not None and closing[0].name not in ("cross_rows", "harvest")
    narrow = said("crop", crop.body.model_dump(mode="json") | {"row_cm": 38.0}, on=str(planted))
    with book(tmp_path / "b", site(), narrow, small) as ledger:
        assert "cultivate" not in {w.name for w in readings.read(ledger, "west", as_of=as_of).windows}
