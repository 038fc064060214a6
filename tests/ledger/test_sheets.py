"""Spreadsheets as a county office really has them: taken with what was understood said, or refused with the reason."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from tepal.cli.take import _vocabulary
from tepal.ledger import Defaults, Ledger, Taken, entry, take

TODAY = date(2026, 9, 1)

SCOUTING = """Date Scouted,Scouted By,Farm,Field,Lat/Long,# Palmer,# Waterhemp,Row ft,Row Width (in),Field Notes,,
6/7/2026,intern,Ruiz place,North Eighty,"40.8123, -98.4521",3,0,17.4,30,by the gate,,
6/8/2026,intern,Ruiz place,North Eighty,"40.8130 N, 98.4530 W",0,1,17.4,30,,,
6/9/2026,intern,Ruiz place,North Eighty,"-98.4525, 40.8127",0,0,17.4,30,sprayer skip,,
"""
SPRAY = """Date Sprayed,Field Name,Product,Rate (oz/ac),GPA,Applicator,Wind mph,Temp (F),Acres
06/15/26,Creek Bottom,Brand X 280,32,15 gpa,custom crew,8 SW,78,42
6/29/26,Creek Bottom,Brand X 280 + AMS,32 + 48,20 gpa,custom crew,5,81,42
"""
TANKS = """Application Date,Field,Active Ingredient,Rate,Group,Carrier Volume (gal/ac),REI (hours),Nozzle Type,County
15-Jun-2026,Creek Bottom,glufosinate + S-metolachlor,32 oz/ac + 1.33 pt/ac,10 + 15,15,12,coarse,Larkmoor
"June 29, 2026",Creek Bottom,glufosinate,29 oz/ac,10,20,12,coarse,Larkmoor
"""
PLANTS = """Visit Date,Location,Plant Stage,Leaf tip notch,Stem hair,Petiole blade ratio lower,Height,Initials
2026-06-14,Schoolhouse Quarter,vegetative,deep,smooth,1.3,14 in,R
2026-06-14,Schoolhouse Quarter,vegetative,,,"1.2;1.4",35 cm,R
"""
EUROPEAN = """Date;Field;Weed;Plant Count;Area (m2)
14.06.2026;Gravel Pit Forty;waterhemp;4;1
03.07.2026;Gravel Pit Forty;Palmer amaranth;0;1
"""
HANDS = """Date,Site,What was done,Hours,Crew,Bags,Comments,State
7/4/2026,Gravel Pit Forty,hand pulled,3.5,4,11,heads were black,NE
7/6/2026,Gravel Pit Forty,mow,1,1,,,Nebraska
7/8/2026,Gravel Pit Forty,pulled and bagged,2,3,6,,NE
"""


def _take(folder: Path, name: str, text: str, **more: Any) -> Taken:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return take(
        [path], folder / "county.ledger", defaults=Defaults(today=TODAY, by="office", **more), words=_vocabulary()
    )


def _bodies(folder: Path) -> list[dict[str, Any]]:
    with Ledger.open(folder / "county.ledger") as ledger:
        return [one.plain() for one in ledger.entries()]


def test_a_scouting_sheet(tmp_path: Path) -> None:
    found = _take(tmp_path, "scouting.csv", SCOUTING)
    assert (found.added, found.refused) == (3, ())
    notes = " | ".join(found.understood[0].notes)
    assert "'Date Scouted' read as date" in notes and "'# Palmer' read as count of AMAPA" in notes
    # Nothing but the place says that the month comes first.
    assert "'6/7/2026' read as month/day/year, as in the United States" in notes
    assert "nothing was made of 'Farm': kept as words" in notes
    first, second, third = _bodies(tmp_path)
    assert [one["body"]["on"] for one in (first, second, third)] == ["2026-06-07", "2026-06-08", "2026-06-09"]
    assert first["body"]["at"] == [-98.4521, 40.8123]
    assert second["body"]["at"] == pytest.approx([-98.453, 40.813])
    assert third["body"]["at"] == [-98.4525, 40.8127]
    assert first["body"]["words"] == "by the gate\nFarm: Ruiz place"
    assert (first["by"], first["body"]["row_m"]) == ("intern", pytest.approx(17.4 * 0.3048))
    assert [one["count"] for one in first["body"]["counts"]] == [3, 0]


def test_a_column_that_was_added_to_a_sheet_makes_no_new_rows(tmp_path: Path) -> None:
    _take(tmp_path, "scouting.csv", SCOUTING)
    more = "\n".join(f"{line},{'Checked' if n == 0 else 'yes'}" for n, line in enumerate(SCOUTING.strip().split("\n")))
    again = _take(tmp_path, "scouting2.csv", more.replace(",,,", ","))
    assert (again.added, again.already, again.refused) == (0, 3, ())


def test_a_spray_sheet_with_products_makes_no_ingredient_of_a_brand(tmp_path: Path) -> None:
    found = _take(tmp_path, "spray.csv", SPRAY)
    assert (found.added, found.refused) == (2, ())
    notes = " | ".join(found.understood[0].notes)
    assert "column 'Product' holds names of products: kept as words" in notes and "from the label" in notes
    assert "as '06/15/26' on line 2 can only mean" in notes
    assert "nothing was made of 'Wind mph', 'Temp (F)', 'Acres': kept as words" in notes
    assert "column 'GPA' read as spray volume in gallons an acre" in notes
    first, second = (one["body"] for one in _bodies(tmp_path))
    assert (first["what"], first["on"], second["on"]) == ("sprayed", "2026-06-15", "2026-06-29")
    assert not first["ingredients"]
    assert first["words"].split("\n") == [
        "Product: Brand X 280", "Rate (oz/ac): 32", "Wind mph: 8 SW", "Temp (F): 78", "Acres: 42",
    ]  # fmt: skip
    assert first["volume_l_ha"] == pytest.approx(15 * 3.785411784 / 0.40468564224)
    assert "Rate (oz/ac): 32 + 48" in second["words"]


def test_a_sheet_of_tanks_with_units_in_the_cells(tmp_path: Path) -> None:
    found = _take(tmp_path, "tanks.csv", TANKS)
    assert (found.added, found.refused) == (2, ())
    first, second = (one["body"] for one in _bodies(tmp_path))
    assert [(i["name"], i["rate"], i["unit"], i["group"]) for i in first["ingredients"]] == [
        ("glufosinate", 32, "oz/ac", "10"),
        ("S-metolachlor", 1.33, "pt/ac", "15"),
    ]
    assert (first["on"], second["on"]) == ("2026-06-15", "2026-06-29")
    assert second["ingredients"][0]["rate"] == 29
    assert first["re_entry_until"] == "2026-06-16T12:00:00-10:00"


def test_a_plant_sheet_keeps_what_could_be_two_characters_and_says_so(tmp_path: Path) -> None:
    found = _take(tmp_path, "plants.csv", PLANTS)
    assert (found.added, found.refused) == (2, ())
    notes = " | ".join(found.understood[0].notes)
    assert "column 'Stem hair' may mean stem_hair_upper or stem_hair_main" in notes
    first, second = (one["body"] for one in _bodies(tmp_path))
    assert first["looks"] == {"leaf_tip_notch": "deep", "petiole_blade_ratio_lower": 1.3}
    assert first["words"] == "Stem hair: smooth"
    assert second["looks"]["petiole_blade_ratio_lower"] == [1.2, 1.4]
    assert (first["height_cm"], second["height_cm"]) == (pytest.approx(35.56), 35)


def test_a_sheet_with_the_day_first_is_read_by_its_own_column(tmp_path: Path) -> None:
    found = _take(tmp_path, "counts.csv", EUROPEAN)
    assert (found.added, found.refused) == (2, ())
    assert "day/month/year, as '14.06.2026' on line 2 can only mean" in " ".join(found.understood[0].notes)
    assert [one["body"]["on"] for one in _bodies(tmp_path)] == ["2026-06-14", "2026-07-03"]


def test_a_sheet_of_work_by_hand_finds_its_month_by_the_state(tmp_path: Path) -> None:
    found = _take(tmp_path, "hands.csv", HANDS)
    assert (found.added, found.refused) == (3, ())
    first, second, third = (one["body"] for one in _bodies(tmp_path))
    assert [one["what"] for one in (first, second, third)] == ["pulled", "mowed", "bagged"]
    assert (first["on"], first["people"], first["hours"]) == ("2026-07-04", 4, 3.5)
    assert first["words"] == "heads were black\nBags: 11\nState: NE"


def test_days_that_nothing_decides_are_refused_and_those_that_contradict_name_both_lines(tmp_path: Path) -> None:
    plain = "Date,Field,Count\n6/7/2026,North Eighty,3\n6/8/2026,North Eighty,3\n2026-06-09,North Eighty,1\n"
    found = _take(tmp_path, "a.csv", plain)
    assert (found.added, [one.where.line for one in found.refused]) == (1, [2, 3])
    assert "can be two days" in found.refused[0].what and found.refused[0].where.column == "Date"
    mixed = "Date,Field,Count\n6/14/2026,North Eighty,3\n7/1/2026,North Eighty,3\n14/6/2026,North Eighty,1\n"
    (refused,) = _take(tmp_path, "b.csv", mixed).refused
    assert "'6/14/2026' on line 2" in str(refused) and "'14/6/2026' on line 4" in str(refused)


def test_a_site_of_the_record_decides_too(tmp_path: Path) -> None:
    body = {"name": "North Eighty", "ground": "field", "state": "IA"}
    site = entry("site", body, by="office", site="n", made_at="2026-01-01T00:00:00Z").text()
    assert _take(tmp_path, "s.jsonl", site).added == 1
    found = _take(tmp_path, "a.csv", "Date,Field,Count\n6/7/2026,North Eighty,3\n")
    assert (found.added, found.refused) == (1, ())
    assert _bodies(tmp_path)[1]["body"]["on"] == "2026-06-07"
    assert _bodies(tmp_path)[1]["site"] == "n"
    # Of another place nothing is taken over.
    assert _take(tmp_path, "c.csv", "Date,Field,Lon,Lat,Count\n6/7/2026,Elsewhere,10,50,3\n").refused


@pytest.mark.parametrize(
    ("sheet", "line", "column", "said"),
    [
        ("Larkmoor scouting log,,\nDate,Field,Count\n2026-06-14,a,1\n", 1, None, "title"),
        ("Date,Field,Count,,\n2026-06-14,a,1,see,me\n", 2, None, "2 columns without a name"),
        ("Date,Field,Count\n2026-06-14,a,10+\n", 2, "Count", "'10+'"),
        ("Date,Field,Count\n2026-06-14,a,lots\n", 2, "Count", "'lots'"),
        ("Date,Field,Count\n2026-06-14,a,3\n,,Total 3\n", 3, "Date", "no date"),
        ("Date,Field,Count\nJune the 14th,a,3\n", 2, "Date", "June the 14th"),
        ("Date,Field,Count\n2/30/2026,a,3\n", 2, "Date", "no day"),
        ("Date,Field,Lat/Long,Count\n2026-06-14,a,corner of 3rd and Elm,3\n", 2, "Lat/Long", "not understood"),
        ("Date,Field,Lat/Long,Count\n2026-06-14,a,\"40.81, 98.45\",3\n", 2, "Lat/Long", "not understood"),
        ("Date,Field,Seed lot,Bags\n2026-06-14,a,7,3\n", 1, None, "not understood"),
        ("Date,Field,Product,Price\n2026-06-14,a,Brand X,3\n", 2, "what", "nothing done"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_says_where_and_why(
    tmp_path: Path, sheet: str, line: int, column: str | None, said: str
) -> None:
    found = _take(tmp_path, "sheet.csv", sheet)
    (refused,) = found.refused
    assert (refused.where.line, refused.where.column) == (line, column)
    assert said in str(refused)
