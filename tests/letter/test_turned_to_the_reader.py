"""What a letter says to the one who gets it: no chore of the office, no promise nobody made, sentences that end."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date

import pytest
from pypdf import PdfReader

from _books import AS_OF, book, lonlat, palmer, said, site, stop
from tepal import advice as advising
from tepal import letter as letters
from tepal import reading as readings
from tepal.flora import load
from tepal.letter import render
from tepal.letter._from_reading import letter_data
from tepal.letter._sheet import _in_hundred, sheet
from tepal.words import Words

FLORA = load()


def _letter(ledger, reader="tenant"):
    found = readings.read(ledger, "west", as_of=AS_OF, flora=FLORA)
    advice = advising.advise(found, flora=FLORA)
    entries = ledger.standing("west", AS_OF, found.known_to).entries
    data = letter_data(found, advice, entries=entries, flora=FLORA, reader=reader)
    return data, letters.write(found, advice, entries=entries, flora=FLORA, words=Words(), reader=reader)


def _call(**more):
    place = {"words": "by the pond", "point": lonlat(-60, 40), "error_m": 50.0}
    return said("report", {"how": "call", "words": "pigweeds all over", "place": place, **more})


def _on_a_photo(**looks):
    looks = {"stem_hair_upper": "none", "petiole_blade_ratio_lower": 0.4, "leaf_outline": "lanceolate", **looks}
    return said("plant", {"stage": "vegetative", "looks": looks, "seen_by": "photo"})


def _says(text):
    return lambda words: text


def test_who_called_is_asked_for_photos_and_not_told_to_ask_the_caller(tmp_path):
    with book(tmp_path, site(), _call()) as ledger:
        _, letter = _letter(ledger)
    assert "Send this office three photos" in letter.text
    assert "person who called" not in letter.html


def test_photos_that_came_are_not_asked_for_again(tmp_path):
    with book(tmp_path, site(), _call(), _on_a_photo()) as ledger:
        _, letter = _letter(ledger)
    assert "three photo" not in letter.html
    assert "Tell this office whether and when someone may come and look" in letter.html


@pytest.mark.parametrize("boundary", [True, False])
def test_the_place_as_told_stands_on_the_map_with_its_doubt(tmp_path, boundary):
    where = site() if boundary else site(boundary=None, point=lonlat(0, 0))
    with book(tmp_path, where, _call()) as ledger:
        data, letter = _letter(ledger)
    told = data.map.point
    assert told is not None and data.map.point_error_m == 50
    # 60 m west and 40 m north of the middle of the site, whichever frame the map has.
    assert told == pytest.approx((-60, 40), abs=0.5)
    assert "give or take 160 ft" in letter.html


def test_once_somebody_has_been_there_the_map_shows_what_was_seen(tmp_path):
    with book(tmp_path, site(), _call(), stop(3, 10, 10)) as ledger:
        data, _ = _letter(ledger)
    assert data.map.point is None and data.map.stops


def test_a_day_to_look_again_is_no_promise_that_we_come(cases):
    data = cases["first_find"]()
    lines = sheet(replace(data, visit=letters.Visit(date(2026, 8, 27))), Words())
    text = " ".join(run.text for line in lines.visit.lines for run in line)
    assert "Someone should look here again by Thursday, August 27." in text
    assert "We come" not in render(data, Words()).html and "come back" not in lines.visit.head


def test_two_plants_with_dates_have_their_names_in_the_table(cases):
    data = cases["phone_report"]()
    other = replace(data.closings[0], english="Palmer amaranth")
    closings = (replace(data.closings[0], english="waterhemp"), other)
    rows = sheet(replace(data, closings=closings), Words()).grids[-1].rows
    assert {row[0] for row in rows} == {"Waterhemp: Plants pass 4 in", "Palmer amaranth: Plants pass 4 in"}


def test_every_caution_stands_in_the_letter(cases):
    data = cases["first_find"]()
    many = tuple(_says(f"Caution number {n} says to take care.") for n in range(15))
    letter = render(replace(data, cautions=many), Words())
    pages = PdfReader(io.BytesIO(letter.pdf)).pages
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert len(pages) <= 2
    for n in range(15):
        assert f"Caution number {n} says" in text and f"Caution number {n} says" in letter.html


def test_what_not_to_do_is_never_cut_to_make_room(cases):
    data = cases["first_find"]()
    nots = tuple(replace(data.do_nots[0], text=_says(f"Do not do thing {n}.")) for n in range(9))
    letter = render(replace(data, do_nots=nots), Words())
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(letter.pdf)).pages)
    for n in range(9):
        assert f"Do not do thing {n}." in " ".join(text.split()) and f"Do not do thing {n}." in letter.html


@pytest.mark.parametrize("long", [1, 3, 12])
def test_the_phone_text_ends_at_a_sentence(cases, long):
    data = cases["first_find"]()
    sentence = "Pull every plant, root and all, and put it in a heavy sack on the spot before it rains again. "
    task = replace(data.tasks[0], text=lambda words: sentence * long)
    text = render(replace(data, tasks=(task,)), Words()).text
    assert len(text) <= 480
    assert all(line.endswith((".", ")", "!")) for line in text.splitlines())
    assert "…" not in text and text.isascii()


def test_a_text_that_sends_people_to_pull_says_how_not_to_be_hurt(tmp_path):
    with book(tmp_path, site(), palmer()) as ledger:
        _, letter = _letter(ledger)
    assert len(letter.text) <= 480 and letter.text.isascii()
    # A first find: shown, told, pulled and bagged, all in one text, and the cautions of that work.
    for words in ("Photograph it", "call your state authority", "bag it", "never alone", "Ask before sacks leave"):
        assert words in letter.text, words


def test_a_text_for_a_roadside_calls_its_keeper_first_and_tells_of_the_traffic(tmp_path):
    with book(tmp_path, site(ground="roadside"), palmer()) as ledger:
        _, letter = _letter(ledger)
    assert len(letter.text) <= 480 and letter.text.isascii()
    told = letter.text
    assert told.index("whoever keeps this ground") < told.index("pull it and bag it")
    assert "Bright vest, car off the road." in told


def test_no_chance_short_of_proof_is_told_as_a_hundred_in_a_hundred():
    told = [_in_hundred(p, Words()) for p in (0.0, 0.0049, 0.005, 0.98, 0.9949, 0.995, 0.999, 1.0)]
    assert told == ["under 1 in 100"] * 3 + ["98 in 100", "99 in 100"] + ["over 99 in 100"] * 3


def test_a_letter_on_a_report_gives_dates_only_as_a_supposition(tmp_path):
    with book(tmp_path, site(), _call()) as ledger:
        _, letter = _letter(ledger)
    assert "No plant has a name yet; what follows holds if it is waterhemp." in letter.html
    assert "If it is waterhemp: First flowers" in letter.html
