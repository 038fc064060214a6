"""Reports as they come in, from the command line: the place, the photos, what goes back."""

from __future__ import annotations

import json
import shlex

import pytest
from PIL import Image

from _books import book, palmer, site, stop
from ledger.pictures import picture
from tepal.ledger import Ledger


@pytest.fixture
def where(tmp_path):
    return tmp_path / "county.ledger"


def _report(run, where, *more):
    code, out, err = run("report", "--ledger", where, "--how", "call", "--words", "pigweeds", *more, "--json")
    assert (code, err) == (0, "")
    return json.loads(out)


def test_a_call_makes_a_site_and_says_what_to_send_back(run, where):
    told = _report(run, where, "--who", "a neighbor", "--place", "NW¼ 12-34N-15W", "--on", "2026-06-26")
    assert told["new_site"] and told["added"] == 2
    assert told["place"]["legal"]["acres_nominal"] == 160
    assert told["place"]["point"] is None
    # June 26, 2026 is a Friday; the next working day is the Monday after.
    assert (told["answer_due"], told["promised"]) == ("2026-06-29", False)
    for part in ("whole plant", "upper stem", "lower leaf", "petiole", "folded"):
        assert part in told["send_back"]
    code, out, _ = run("reading", told["site"], "--ledger", where, "--as-of", "2026-06-30", "--json")
    assert code == 0 and json.loads(out)["facts"]["reported_only"]
    assert "neighbor" not in out


def test_the_same_ground_named_otherwise_is_the_same_site(run, where):
    first = _report(run, where, "--place", "NW¼ 12-34N-15W")
    second = _report(run, where, "--place", "the northwest quarter of Section 12, Township 34 North, Range 15 West")
    assert (second["site"], second["new_site"]) == (first["site"], False)
    assert _report(run, where, "--place", "NE¼ 12-34N-15W")["new_site"]


def test_a_point_in_a_boundary_is_that_site(run, tmp_path):
    with book(tmp_path, site(), with_weather=False) as made:
        where = made.where
    assert _report(run, where, "--place", "41.5000 N 45.0000 W")["site"] == "west"
    assert _report(run, where, "--place", "https://maps.example/?q=41.60001,-45.00001")["new_site"]


def test_photos_come_with_the_report_and_are_kept_once(run, where, tmp_path):
    photo = tmp_path / "leaf.png"
    Image.new("RGB", (4, 3), "green").save(photo)
    told = _report(run, where, "--site", "West", "--photo", photo, "--answer-by", "2090-07-02")
    assert told["added"] == 3 and len(told["photos"]) == 1
    assert "July 2" in told["send_back"]
    again = _report(run, where, "--site", "West", "--photo", photo)
    assert again["added"] == 1 and again["photos_known"] == told["photos"]
    with Ledger.open(where) as ledger:
        assert len(list(ledger.photos.iterdir())) == 1


def test_a_broken_photo_leaves_nothing_behind(run, where, tmp_path):
    photo = tmp_path / "leaf.jpg"
    photo.write_bytes(b"")
    _report(run, where, "--site", "West")
    code, out, err = run("report", "--ledger", where, "--how", "text", "--words", "x", "--photo", photo)
    assert (code, out, err.count("\n")) == (2, "", 1) and "leaf.jpg" in err
    with Ledger.open(where) as ledger:
        assert ledger.last_seq == 2


def test_the_answer_is_a_text_once_a_plant_is_named(run, tmp_path):
    with book(tmp_path, site(), palmer(), stop(3)) as made:
        where = made.where
    code, out, _ = run("report", "--reply", "west", "--ledger", where, "--as-of", "2026-07-01", "--json")
    told = json.loads(out)
    assert code == 0 and told["signs"] == len(told["text"]) <= 480
    assert "Palmer amaranth" in told["text"]
    # One text, not two: the letter's own.
    _, letter, _ = run(
        "letter", "west", "--ledger", where, "--as-of", "2026-07-01", "--out", tmp_path / "out", "--json"
    )
    assert json.loads(letter)["text"] == told["text"]


def test_refusals_are_one_line(run, where):
    _report(run, where, "--site", "West")
    for arguments, named in (
        (["report", "--ledger", where], "--how"),
        (["report", "--ledger", where, "--reply", "West", "--as-of", "2030-01-01"], "no plant"),
        (["report", "--ledger", where, "--how", "call", "--words", "x", "--on", "06/01/2026"], "YYYY-MM-DD"),
        (["report", "--ledger", where, "--how", "call", "--words", "x", "--ground", "moon"], "ground"),
        (["report", "--ledger", where, "--how", "call", "--words", "x", "--state", "Iowaa"], "Iowaa"),
        (["report", "--ledger", where, "--how", "call", "--words", "x", "--on", "2199-01-01"], "2199-01-01"),
        (
            [
                "report",
                "--ledger",
                where,
                "--how",
                "call",
                "--words",
                "x",
                "--on",
                "2026-06-02",
                "--answer-by",
                "2026-06-01",
            ],
            "2026-06-01",
        ),
        (["party", "--ledger", where, "--site", "West", "A tenant"], "role"),
        (["party", "--ledger", where, "--site", "Nowhere"], "Nowhere"),
        (["history", "Nowhere", "--ledger", where], "Nowhere"),
        (["trace", "Nowhere", "--ledger", where], "Nowhere"),
        (["trace", "West", "--ledger", where, "--from", "2026-07-01", "--to", "2026-06-01"], "first"),
        (["amend", "no-id", "--ledger", where, "--set", "a=1"], "no-id"),
        (["withdraw", "no-id", "--ledger", where], "no-id"),
        (["forget", "Nobody Here", "--ledger", where, "--yes"], "Nobody Here"),
    ):
        code, out, err = run(*arguments)
        assert (code, out, err.count("\n")) == (2, "", 1), arguments
        assert named in err, err


def test_people_are_recorded_corrected_and_listed(run, where):
    _report(run, where, "--site", "West")
    add = ["party", "A tenant", "--ledger", where, "--site", "West"]
    assert run(*add, "--role", "farms", "--role", "decides")[0] == 0
    code, out, _ = run(*add, "--consent", "no", "--consent-on", "2026-06-01", "--json")
    assert code == 0 and json.loads(out)["amends"]
    _, out, _ = run("party", "--ledger", where, "--site", "West", "--json")
    (person,) = json.loads(out)["parties"]
    assert person["roles"] == ["farms", "decides"] and person["consent_to_enter"] is False


def test_trace_and_history_speak_json(run, where):
    first = _report(run, where, "--site", "West")
    _, out, _ = run("history", "West", "--ledger", where, "--json")
    assert [one["kind"] for one in json.loads(out)["entries"]] == ["site", "report"]
    _, out, _ = run("amend", first["report"], "--ledger", where, "--set", "words=other pigweeds", "--json")
    assert json.loads(out)["changed"] == ["words"]
    _, out, _ = run("trace", "West", "--ledger", where, "--json")
    assert json.loads(out)["moves"] == []


def test_a_misspelled_site_is_asked_about_and_can_be_insisted_on(run, where):
    _report(run, where, "--site", "Creek Bottom")
    report = ["report", "--ledger", where, "--how", "call", "--words", "x", "--site", "Creek Botom"]
    code, out, err = run(*report)
    assert (code, out) == (2, "") and "Did you mean 'Creek Bottom'?" in err
    code, out, _ = run(*report, "--insist", "--json")
    assert code == 0 and json.loads(out)["new_site"]


def test_the_same_corner_in_words_is_the_same_site(run, where):
    first = _report(run, where, "--place", "Corner of Elm Road and County 12")
    again = _report(run, where, "--place", "corner of elm road and county 12")
    assert (again["site"], again["new_site"]) == (first["site"], False)
    assert _report(run, where, "--place", "Corner of Elm Road and County 14")["new_site"]


def test_what_is_doubtful_about_a_place_is_said(run, where, tmp_path):
    first = _report(run, where, "--place", "41.51, -93.21", "--state", "Iowa")
    with Ledger.open(where) as ledger:
        assert ledger.entries(kinds=("site",))[0].body.state == "IA"
    assert first["notes"] == []
    assert "no coordinates" in _report(run, where, "--place", "https://maps.example/xyz")["notes"][0]
    # 93.2 W for 98.2 W is some 417 km.
    assert "260 miles away" in _report(run, where, "--place", "41.51, -98.21")["notes"][0]
    photo = tmp_path / "a.jpg"
    photo.write_bytes(picture(lonlat=(-93.5, 41.51)))
    told = _report(run, where, "--place", "41.51, -93.21", "--photo", photo)
    # cos(41.51°) · 0.29° · 111.32 km
    assert "a.jpg was taken 15 miles from that place" in " ".join(told["notes"])


def test_what_is_to_be_typed_next_can_be_typed(run, tmp_path):
    where = tmp_path / "the county.ledger"
    sheet = tmp_path / "a.csv"
    sheet.write_text("site,date,count\nBack Forty,2026-06-10,3\n")
    assert run("take", sheet, "--ledger", where)[0] == 0
    out = run("report", "--ledger", where, "--how", "call", "--words", "tall", "--site", "Back Forty")[1]
    line = out[out.index("tepal report --reply") :].strip()
    code, _, err = run(*shlex.split(line)[1:], "--as-of", "2026-06-12")
    assert code == 2 and "has been looked at" in err  # understood, and no plant was named yet


def test_a_promise_that_cannot_be_kept_is_not_sent(run, where):
    line = ("report", "--ledger", where, "--how", "call", "--words", "tall", "--site", "Back Forty", "--answer-by")
    code, out, _ = run(*line, "2020-07-01")
    assert code == 0 and "has passed" in out and "You will hear" not in out
    assert "You will hear from us by" in run(*line, "2090-07-01")[1]


def test_coordinates_that_begin_with_a_sign_are_helped(run, where):
    line = ("report", "--ledger", where, "--how", "call", "--words", "tall")
    code, _, err = run(*line, "--place", "-98.1, 40.4")
    assert code == 2 and "--place='-98.1, 40.4'" in err
    assert run(*line, "--place=-98.1, 40.4")[0] == 0


@pytest.mark.parametrize("command", ["reading", "history", "trace", "letter"])
def test_what_is_missing_is_called_as_in_the_help(run, command):
    assert run(command, "--ledger", "x")[2].startswith("SITE is missing.")
    assert "--ledger is missing" in run(command, "x")[2]


def test_distances_are_in_the_units_of_the_reader(run, where, tmp_path):
    photo = tmp_path / "far.jpg"
    photo.write_bytes(picture(lonlat=(-98.1, 40.4)))
    line = ("report", "--ledger", where, "--how", "call", "--words", "x", "--place=-60.1, 40.4", "--photo", photo)
    assert "miles from that place" in run(*line)[1]
    assert "km from that place" in run(*line, "--units", "metric")[1]
