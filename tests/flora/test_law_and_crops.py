"""The law table and the crops table: what was read, what is judged, what an office may replace."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from tepal.flora import load, replace_law
from tepal.tables import Refused

FLORA = load()
DAYS = timedelta(days=42)


def office(tmp_path: Path, *lines: str) -> Path:
    path = tmp_path / "law.csv"
    path.write_text("\n".join(("state,code,listed,class,tell,checked", *lines)) + "\n", encoding="utf-8")
    return path


def test_a_row_that_was_read_names_a_source_that_was_read_and_the_day() -> None:
    assert FLORA.law
    for row in FLORA.law.values():
        assert row.status in ("read", "recalled")
        assert row.status == "recalled" or row.sources
        assert all(FLORA.sources[key].status == "read" and FLORA.sources[key].address for key in row.sources)
        assert row.checked <= date.today()


# As the rules themselves have it: Md. COMAR 15.06.05.03, 3 Pa.C.S. 1519, Iowa 21-58.4, Mo. 2 CSR 70-45.005.
@pytest.mark.parametrize(
    ("state", "palmer", "waterhemp"),
    [("MD", "yes", "yes"), ("PA", "yes", "yes"), ("IA", "yes", "no"), ("MO", "no", "no"), ("ND", "yes", None)],
)
def test_listed_is_what_the_states_own_list_says(state: str, palmer: str, waterhemp: str | None) -> None:
    rows = [FLORA.law_of(state, code) for code in ("AMAPA", "AMATU")]
    assert [row and row.listed for row in rows] == [palmer, waterhemp]


def test_a_state_that_nobody_read_has_no_row() -> None:
    assert FLORA.law_of("KS", "AMAPA") is None
    assert FLORA.law_of(None, "AMAPA") is None


def test_the_office_replaces_a_row_and_the_hash_of_the_tables_follows(tmp_path: Path) -> None:
    mine = replace_law(FLORA, office(tmp_path, "KS,AMAPA,county,watch list,the county weed director,2026-03-02"))
    row = mine.law_of("ks", "AMAPA")
    assert row is not None
    assert (row.status, row.tell, row.checked) == ("office", "the county weed director", date(2026, 3, 2))
    assert mine.law_of("PA", "AMAPA") == FLORA.law_of("PA", "AMAPA")
    assert mine.tables_hash != FLORA.tables_hash
    assert FLORA.law_of("KS", "AMAPA") is None


@pytest.mark.parametrize(
    ("line", "rule"),
    [
        ("Kansas,AMAPA,yes,,,2026-03-02", "two capital letters"),
        ("KS,AMAPX,yes,,,2026-03-02", "named by its code"),
        ("KS,AMAPA,perhaps,,,2026-03-02", "yes, county, seed, no"),
        ("KS,AMAPA,yes,,,soon", "date"),
        ("KS,AMAPA,yes,,,2026-03-02\nKS,AMAPA,no,,,2026-03-02", "One row a state and taxon"),
    ],
)
def test_a_bad_office_row_is_refused_by_its_line(tmp_path: Path, line: str, rule: str) -> None:
    with pytest.raises(Refused) as refused:
        replace_law(FLORA, office(tmp_path, line))
    assert rule in str(refused.value)
    assert "law.csv" in str(refused.value)


# Waukon Standard 2025 (Iowa) and Crescent-News 2021 (Ohio) give these days.
@pytest.mark.parametrize(
    ("state", "first", "last"), [("IA", (5, 15), (8, 1)), ("OH", (3, 1), (7, 15)), ("CO", (3, 15), (7, 15))]
)
def test_the_nesting_season_is_the_states_own(state: str, first: tuple[int, int], last: tuple[int, int]) -> None:
    assert FLORA.nesting[state].days(2026) == (date(2026, *first), date(2026, *last))


@pytest.mark.parametrize(
    "crop",
    ["corn", "soybean", "cotton", "sorghum", "wheat", "sugarbeet", "dry bean", "sunflower", "alfalfa", "fallow",
     "prevented planting"],
)  # fmt: skip
def test_every_crop_of_the_county_is_known_by_its_name_in_any_case(crop: str) -> None:
    row = FLORA.crop(f" {crop.upper()} ")
    assert row is not None
    assert row.crop == crop
    # People are let through rows no longer than the canopy is open, and a cultivator no longer than people.
    assert row.kind != "row" or row.cultivate_days <= row.cross_days


def test_harvest_is_near_by_the_planting_day_and_else_by_the_region() -> None:
    soybean, wheat, fallow = (FLORA.crop(name) for name in ("soybeans", "winter wheat", "fallow"))
    assert soybean
    assert wheat
    assert fallow
    planted = date(2026, 5, 10)
    due = planted + timedelta(days=135) - DAYS
    assert soybean.harvest_near(due, planted=planted, region=None, within=DAYS)
    assert soybean.harvest_near(due - timedelta(days=1), planted=planted, region=None, within=DAYS) is False
    assert wheat.harvest_near(date(2026, 6, 10), planted=None, region="SP", within=DAYS)
    assert wheat.harvest_near(date(2026, 6, 10), planted=date(2025, 10, 1), region=None, within=DAYS)
    assert wheat.harvest_near(date(2026, 8, 10), planted=None, region="SP", within=DAYS) is False
    assert soybean.harvest_near(due, planted=None, region=None, within=DAYS) is None
    assert fallow.harvest_near(due, planted=planted, region="SP", within=DAYS) is None
