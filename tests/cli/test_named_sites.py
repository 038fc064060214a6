"""Sites of which a spreadsheet says the name and no more: they can be read, and a misspelling is helped."""

from __future__ import annotations

import json
import shlex

import pytest

from tepal.ledger import Ledger

SHEET = "site,date,area_m2,AMATU count,lat,lon\nBack Forty,2026-06-10,10,3,40.4,-98.1\n"


@pytest.fixture
def where(tmp_path, run):
    sheet = tmp_path / "ok.csv"
    sheet.write_text(SHEET)
    ledger = tmp_path / "the county.ledger"
    code, out, _ = run("take", sheet, "--ledger", ledger)
    assert code == 0 and "1 new" in out
    assert f"--site 'Back Forty' --ledger {shlex.quote(str(ledger))}" in out
    return ledger


def test_a_site_of_a_spreadsheet_is_read_and_the_reading_says_what_is_missing(run, where, tmp_path):
    code, out, err = run("reading", "back forty", "--ledger", where, "--as-of", "2026-06-15", "--json")
    assert (code, err) == (0, "")
    read = json.loads(out)
    assert read["stand"]["counted_plants"] == 3 and read["stand"]["density_per_m2"] is not None
    assert read["windows"]  # the place of the stop is enough for dates
    assert "boundary" in {one["what"] for one in read["unknowns"]}
    code, out, _ = run("letter", "Back Forty", "--ledger", where, "--as-of", "2026-06-15", "--out", tmp_path / "out")
    assert code == 0 and "Back Forty" in out


def test_nothing_was_seen_there_before_the_first_entry(run, where):
    code, _, err = run("reading", "Back Forty", "--ledger", where, "--as-of", "2026-06-01")
    assert code == 2 and "2026-06-01" in err


def test_a_later_boundary_is_the_site_s(run, where, tmp_path):
    ring = [[-98.102, 40.399], [-98.098, 40.399], [-98.098, 40.401], [-98.102, 40.401], [-98.102, 40.399]]
    field = tmp_path / "field.geojson"
    shape = {"type": "Polygon", "coordinates": [ring]}
    field.write_text(json.dumps({"type": "Feature", "properties": {}, "geometry": shape}))
    assert run("take", field, "--site", "Back Forty", "--ledger", where)[0] == 0
    read = json.loads(run("reading", "Back Forty", "--ledger", where, "--as-of", "2026-06-15", "--json")[1])
    assert read["stand"]["total"] is not None
    assert "boundary" not in {one["what"] for one in read["unknowns"]}


def test_a_report_keeps_what_it_says_of_a_site_that_was_only_named(run, where):
    line = ("report", "--ledger", where, "--site", "Back Forty", "--how", "call", "--words", "tall ones")
    assert run(*line, "--ground", "ditch", "--state", "IA")[0] == 0
    assert run(*line)[0] == 0
    with Ledger.open(where) as book:
        (site,) = book.standing("Back Forty").of("site")
    assert (site.body.ground, site.body.state) == ("ditch", "IA")


@pytest.mark.parametrize("command", ["reading", "trace", "history", "letter", "party", "report"])
def test_a_misspelled_site_is_helped_by_name(run, where, command):
    site = {"party": ("--site", "Bakc Forty"), "report": ("--reply", "Bakc Forty")}.get(command, ("Bakc Forty",))
    code, out, err = run(command, *site, "--ledger", where)
    assert (code, out) == (2, "")
    assert "Did you mean 'Back Forty'?" in err
    assert "Did you mean" not in run("history", "Gravel Pit", "--ledger", where)[2]


def test_names_are_listed_rather_than_ids(run, tmp_path):
    line = ("report", "--ledger", tmp_path / "one", "--how", "call", "--words", "tall ones", "--site", "Creek Bottom")
    assert run(*line)[0] == 0
    err = run("history", "Schoolhouse", "--ledger", tmp_path / "one")[2]
    assert "Creek Bottom" in err and "creek-bottom" not in err
    assert "Did you mean 'Creek Bottom'?" in run("history", "creek", "--ledger", tmp_path / "one")[2]


@pytest.mark.parametrize("command", ["reading", "trace", "history", "letter"])
@pytest.mark.parametrize("place", ["-1", "2", "999999"])
def test_a_place_that_the_ledger_does_not_have_is_refused(run, where, command, place):
    code, out, err = run(command, "Back Forty", "--ledger", where, f"--known-to={place}")
    assert (code, out) == (2, "")
    assert "0 to 1" in err
    assert run("history", "Back Forty", "--ledger", where, "--known-to", "1")[0] == 0
