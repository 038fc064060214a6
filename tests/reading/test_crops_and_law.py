"""Crop facts and law facts of a reading: what the record and the tables give, and what stays unknown."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from _books import AS_OF, book, palmer, said, site
from tepal import reading as readings
from tepal.flora import load, replace_law
from tepal.words import Words


def crop(name, planted=None, **more):
    body = {"year": 2026, "crop": name} | ({"planted": planted} if planted else {}) | more
    return said("crop", body, on=planted or "2026-01-02")


def facts(tmp_path, *entries, as_of=AS_OF, flora=None):
    with book(tmp_path, *entries) as ledger:
        return readings.read(ledger, "west", as_of=as_of, flora=flora or load())


def test_wheat_cut_and_soybean_after_it_is_a_double_crop_that_stands(tmp_path):
    found = facts(
        tmp_path,
        site(),
        crop("winter wheat", "2025-10-03", harvested="2026-06-18"),
        said("done", {"what": "harvested"}, on="2026-06-18"),
        crop("soybean", "2026-06-20"),
        as_of=date(2026, 7, 10),
    ).facts
    assert (found["crop"], found["crop_kind"], found["double_crop"], found["harvested"]) == (
        "soybean",
        "row",
        True,
        False,
    )
    assert found["rows_crossable"] is True


def test_stubble_counts_its_days_from_the_harvest(tmp_path):
    found = facts(
        tmp_path,
        site(),
        crop("wheat", "2025-10-03"),
        said("done", {"what": "harvested"}, on="2026-06-25"),
        as_of=date(2026, 7, 10),
    ).facts
    assert (found["crop_kind"], found["harvested"], found["harvested_days"]) == ("small_grain", True, 15.0)
    assert found["harvest_near"] is False


def test_a_cut_of_alfalfa_leaves_the_crop_standing(tmp_path):
    entries = (site(), crop("alfalfa", "2025-04-10"), said("done", {"what": "harvested"}, on="2026-06-05"))
    assert facts(tmp_path, *entries).facts["harvested"] is False


def test_a_split_field_is_read_by_the_crop_planted_last_and_says_so(tmp_path):
    found = facts(
        tmp_path,
        site(),
        crop("corn", "2026-04-28", part="east half"),
        crop("soybean", "2026-05-20", part="west half"),
    )
    assert (found.facts["crop"], found.facts["split"]) == ("soybean", True)
    told = [readings.unknown_in_words(item, Words()) for item in found.unknowns]
    assert any("corn (east half)" in text and "soybean (west half)" in text for text in told)


def test_a_replanted_field_says_what_stood_before(tmp_path):
    found = facts(tmp_path, site(), crop("corn", "2026-04-28"), crop("soybean", "2026-06-02"))
    assert found.facts["crop"] == "soybean"
    assert found.facts["split"] is False
    assert any(item.what == "replanted" and item.detail["before"] == "corn" for item in found.unknowns)


def test_no_crop_stands_on_fallow_so_no_trait_is_asked_for(tmp_path):
    found = facts(tmp_path, site(), crop("prevented planting"))
    assert found.facts["crop_kind"] == "none"
    assert "trait" not in [item.what for item in found.unknowns]


def test_a_label_that_forbids_harvest_is_open_until_its_day(tmp_path):
    sprayed = said("done", {"what": "sprayed", "pre_harvest_until": "2026-07-20"}, on="2026-06-20")
    with book(tmp_path, site(), sprayed) as ledger:
        before, on = (readings.read(ledger, "west", as_of=date(2026, 7, day)).facts for day in (19, 20))
    assert (before["pre_harvest_open"], on["pre_harvest_open"]) == (True, False)
    assert before["pre_harvest_until"] == date(2026, 7, 20)


def _law(tmp_path, state, listed, code="AMAPA"):
    path: Path = tmp_path / "law.csv"
    path.write_text(f"state,code,listed,tell,checked\n{state},{code},{listed},the weed board,2026-02-01\n", "utf-8")
    return replace_law(load(), path)


@pytest.mark.parametrize("state", ["PA", None])
def test_the_law_of_a_state_is_told_where_a_row_is_held_and_else_left_open(tmp_path, state):
    found = facts(tmp_path, site(state=state), palmer())
    row = load().law_of(state, "AMAPA")
    assert found.facts["law.listed"] == (row.listed if row else None)
    assert found.facts["law.tell"] == (row.tell if row else None)
    if row:
        assert set(readings.why("/facts/law.listed", found.why).sources) == set(row.sources)


def test_the_offices_own_row_says_that_it_is_the_offices(tmp_path):
    flora = _law(tmp_path, "PA", "no")
    found = facts(tmp_path, site(state="PA"), palmer(), flora=flora).facts
    assert (found["law.status"], found["law.listed"], found["law.tell"]) == ("office", "no", "the weed board")


def test_not_listed_is_said_only_where_it_was_read_for_every_taxon_that_may_be_here(tmp_path):
    # Palmer amaranth is thought to be here; only waterhemp's row says no.
    flora = _law(tmp_path, "ZZ", "no", code="AMATU")
    assert facts(tmp_path, site(state="ZZ"), palmer(), flora=flora).facts["law.listed"] is None
