"""The clock's sentences go through the catalogue: in Spanish nothing of them is left in English."""

from __future__ import annotations

import pickle
import re
from datetime import date

import numpy as np
import pytest

from clock.conftest import Station
from clock.test_forecast import ask
from tepal.cli._clock_words import cut_plants, sentences
from tepal.clock import Note, Sighting, Weather, windows
from tepal.flora import load
from tepal.words import Words

ENGLISH = re.compile(r"\b(the|of|and|is|are|was|be|near|since|plants|seed|year|it|may|they|with)\b", re.IGNORECASE)


@pytest.mark.parametrize("as_of", [date(2005, 5, 1), date(2005, 6, 20), date(2005, 8, 20), date(2005, 11, 30)])
def test_in_spanish_no_english_is_left(station: Station, as_of: date) -> None:
    crop, words = load().crop("soybean"), Words(language="es")
    odd = Sighting(date(2005, 5, 1), height_cm=60)
    whole = station(2003, 2005)
    holed = np.ones(whole.days.size, dtype=bool)
    holed[[800, 801, 860]] = False
    rain = whole.prcp_mm
    assert rain is not None
    weather = Weather(whole.days[holed], whole.tmin_c[holed], whole.tmax_c[holed], rain[holed])
    for found in (ask(weather, as_of, odd, n=300), ask(None, as_of, n=300)):
        again = found.regrowth(date(2005, 7, 10), 15.0)
        closing = windows(found, crop=crop, planted=date(2005, 5, 10), regrowth=again)
        lines = sentences(found, closing, words, name="quelite de agua", crop=crop)
        lines += cut_plants(found, again, words, on=date(2005, 7, 10), height_cm=15.0)
        left = [line for line in lines if ENGLISH.search(line) or "{" in line]
        assert not left
        assert {str(note) for note in found.notes}.isdisjoint(lines)


def test_a_note_is_its_english_sentence_and_can_be_turned() -> None:
    found = ask(None, date(2005, 5, 1), n=50)
    (note,) = found.notes
    assert note.startswith("No weather was given") and note.text(Words()) == note
    assert note.text(Words(language="es")).startswith("No se dio clima")


def test_a_note_goes_to_another_process_whole() -> None:
    note = Note("The record holds no day of {day}; {name} was asked.", day=date(2026, 6, 1), name="{nobody}")
    there = pickle.loads(pickle.dumps(note))
    assert there == note == "The record holds no day of 2026-06-01; {nobody} was asked."
    assert there.text(Words()) == "The record holds no day of Monday, June 1, 2026; {nobody} was asked."
