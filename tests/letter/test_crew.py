"""The crew card: one page, four drawings, few words in two languages, and never an invitation into a sprayed field."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from pypdf import PdfReader

from _books import book, palmer, said, site, stop
from tepal import advice as advising
from tepal import letter as letters
from tepal import reading as readings
from tepal.cli import main
from tepal.flora import STAGES, load
from tepal.letter._crew import _card
from tepal.letter._crew_looks import signs
from tepal.letter._ink import INK, MADDER, SOFT, contrast
from tepal.tables import Refused
from tepal.words import Words

DAY = date(2026, 8, 1)
FLORA = load()
LONG_NAME = "The " + "Very Long " * 12 + "Field"
SPRAYED = {"what": "sprayed", "ingredients": [{"name": "glyphosate", "rate": 0.9, "unit": "kg/ha"}]}


def read(folder: Path, *entries, day: date = DAY, **about):
    folder.mkdir(exist_ok=True)
    with book(folder, site(**about), *entries) as ledger:
        reading = readings.read(ledger, "west", as_of=day, flora=FLORA)
    return reading, advising.advise(reading, flora=FLORA)


def sprayed(until: str | None):
    return said("done", SPRAYED | ({"re_entry_until": until} if until else {}), on="2026-07-31")


@pytest.fixture(scope="module")
def cases(tmp_path_factory):
    at = tmp_path_factory.mktemp("crew")
    owner = said("party", {"name": "Absent Owner Trust", "roles": ["owner"], "contact": "555 0100"}, on="2026-05-01")
    return {
        "plain": read(at / "plain", palmer(), owner),
        "barred": read(at / "barred", palmer(), owner, sprayed("2026-08-02T09:00:00-05:00")),
        "past": read(at / "past", palmer(), sprayed("2026-07-31T18:00:00-05:00")),
        "unread": read(at / "unread", palmer(), sprayed(None)),
        "long": read(at / "long", palmer(), name=LONG_NAME),
    }


NAMES = ["plain", "barred", "past", "unread", "long"]


def card(case, units="us"):
    return _card(*case, FLORA, [Words("en", units), Words("es", units)])


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("name", NAMES)
def test_it_is_one_tagged_page_with_four_drawings_that_have_a_text(cases, name, units):
    made = letters.crew_card(*cases[name], flora=FLORA, units=units)
    reader = PdfReader(io.BytesIO(made.pdf))
    assert len(reader.pages) == 1
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert str(root["/Lang"]).startswith("en")
    assert round(float(reader.pages[0].mediabox.width)) == (612 if units == "us" else 595)
    assert made.html.count("<svg") == 4
    assert made.html.count('role="img" aria-label="') == 4


@pytest.mark.slow
@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("stage", STAGES)
@pytest.mark.parametrize("hunted", [("AMAPA",), ("AMATU",), ("AMAPA", "AMATU")])
def test_it_is_one_page_at_every_stage_and_for_both_plants(cases, hunted, stage, units, monkeypatch):
    reading, advice = cases["barred"]
    reading = replace(reading, facts={**reading.facts, "stage": stage})
    monkeypatch.setattr("tepal.letter._crew._hunted_here", lambda *_: hunted)
    made = letters.crew_card(reading, advice, flora=FLORA, units=units)
    assert len(PdfReader(io.BytesIO(made.pdf)).pages) == 1
    assert "A. tuberculatus" in made.html if len(hunted) == 2 else "A. " not in made.html.split("<main>")[1]
    for side in _card(reading, advice, FLORA, [Words("en", units), Words("es", units)]).sides:
        assert side.words_beside <= 60
        assert side.title in made.text


@pytest.mark.parametrize("name", NAMES)
def test_at_most_sixty_words_stand_beside_the_drawings_in_either_language(cases, name):
    for side in card(cases[name]).sides:
        assert side.words_beside <= 60


def test_beside_a_road_the_crew_is_told_of_the_traffic(cases):
    for name in NAMES:
        reading, advice = cases[name]
        road = replace(reading, place=replace(reading.place, ground="roadside"))
        for side, vest in zip(card((road, advice)).sides, ("bright vest", "chaleco vistoso"), strict=True):
            assert any(vest in point.text for point in side.points)
            assert side.words_beside <= 60


def test_nothing_is_set_smaller_than_sixteen_points(cases):
    sizes: set[float] = set()

    def note(text, _cm, tm, _font, size):
        if text.strip():
            sizes.add(round(size * abs(tm[3]), 1))

    pdf = letters.crew_card(*cases["barred"], flora=FLORA).pdf
    PdfReader(io.BytesIO(pdf)).pages[0].extract_text(visitor_text=note)
    assert sizes
    assert min(sizes) >= 16


@pytest.mark.parametrize("name", NAMES)
def test_all_three_forms_say_the_same_in_both_languages(cases, name):
    made = letters.crew_card(*cases[name], flora=FLORA)
    told = "".join(text_of(made.pdf).split())
    html = "".join(re.sub(r"<[^>]+>", "", made.html).split())
    for at, side in enumerate(card(cases[name]).sides):
        lines = [side.title, *(f"{point.lead} {point.text}" for point in side.points)]
        lines += [picture.captions[at] for picture in (*card(cases[name]).pull, *card(cases[name]).leave)]
        for line in lines:
            assert "".join(line.split()) in told
            assert "".join(line.split()) in html
            assert line in made.text


def test_a_field_is_barred_until_its_re_entry_time_has_passed(cases):
    def first(name, language=0):
        point = card(cases[name]).sides[language].points[-6]
        return f"{point.lead} {point.text}", point.bars

    told, bars = first("barred")
    assert bars
    assert told.startswith("Sprayed: do not go in before")
    assert "9:00 a.m." in told
    assert "August 2" in told
    assert first("barred", 1)[0].startswith("Rociado: no entre antes de las 9:00")
    assert first("unread")[1]
    assert "label" in first("unread")[0]
    for name in ("plain", "past"):
        told, bars = first(name)
        assert not bars
        assert "sprayed" in told


def test_what_a_crew_must_know_is_there(cases):
    for side, needed in zip(
        card(cases["plain"]).sides,
        (("root", "sack", "water", "shade", "911", "gloves"), ("raíz", "saco", "agua", "sombra", "911", "guantes")),
        strict=True,
    ):
        told = " ".join(point.text for point in side.points)
        assert all(word in told for word in needed)


def test_the_first_find_of_a_county_waits_for_its_specimen(cases):
    first = card(cases["plain"]).sides[0].points[0]
    assert first.bars
    assert "specimen" in first.text


def test_nobody_is_named_and_nothing_is_fetched(cases):
    made = letters.crew_card(*cases["barred"], flora=FLORA)
    for whole in (text_of(made.pdf), made.html, made.text):
        assert "Absent" not in whole
        assert "555 0100" not in whole
    assert not re.search(r"(?:src|href)=\"?http|url\((?!data:)", made.html)


def test_the_same_reading_gives_the_same_bytes(cases):
    one, two = (letters.crew_card(*cases["plain"], flora=FLORA) for _ in range(2))
    assert one == two


def test_the_other_language_may_stand_first(cases):
    made = letters.crew_card(*cases["plain"], flora=FLORA, languages=("es", "en"))
    assert made.text.startswith("Arranque")
    assert str(PdfReader(io.BytesIO(made.pdf)).trailer["/Root"]["/Lang"]).startswith("es")
    assert '<html lang="es">' in made.html


def test_on_white_paper_every_ink_can_be_read_in_the_sun():
    assert min(contrast(ink, "#ffffff") for ink in (INK, SOFT, MADDER)) >= 7


def test_where_nothing_is_hunted_there_is_no_card(tmp_path):
    redroot = said(
        "plant",
        {
            "stage": "vegetative",
            "looks": {"stem_hair_upper": "dense", "leaf_hair_lower": "dense", "nodal_spines": "absent"},
        },
    )
    for entries in ((redroot,), (stop(0),)):
        case = read(tmp_path / str(len(entries[0].id)) / "x" if False else tmp_path / entries[0].kind, *entries)
        with pytest.raises(Refused, match="crew"):
            letters.crew_card(*case, flora=FLORA)


# ------------------------------------------------------------------------------------- what is drawn to pull and leave


@pytest.mark.parametrize("region", ["SE", "CB", "UM", "SP", "NE", None])
@pytest.mark.parametrize("stage", STAGES)
@pytest.mark.parametrize("hunted", [("AMAPA",), ("AMATU",), ("AMAPA", "AMATU")])
def test_the_signs_tell_the_one_from_the_other(hunted, stage, region):
    pull, leave = signs(FLORA, hunted, stage=stage, region=region)
    assert len(pull) == len(leave) == 2
    shown = {"cotyledon": "seedling_2-4_leaf", "mature_seed": "reproductive"}.get(stage, stage)

    def share(code, sign):
        row = FLORA.look(code, sign.character, shown) or FLORA.look(code, sign.character, "vegetative")
        return row.shares.get(sign.state, 0.0)

    for sign in pull:
        assert all(share(code, sign) >= 0.5 for code in hunted)
    for sign in leave:
        # To leave a hunted plant standing is the dear mistake: hardly one of them may show this, whichever it is.
        assert all(share(code, sign) <= 0.05 for code in FLORA.hunted())
        assert FLORA.characters[sign.character].tool == "none"


def test_the_command_writes_it_and_says_so(tmp_path, capsys):
    with book(tmp_path / "b", site(), palmer()):
        pass
    (ledger,) = (path for path in (tmp_path / "b").iterdir() if path.is_file() and path.suffix != ".lock")
    out = tmp_path / "out"
    code = main(
        [
            "letter",
            "west",
            "--ledger",
            str(ledger),
            "--as-of",
            "2026-08-01",
            "--for",
            "crew",
            "--out",
            str(out),
            "--json",
        ]
    )
    found = json.loads(capsys.readouterr().out)
    assert code == 0
    assert Path(found["pdf"]).name == "west-2026-08-01-crew.pdf"
    assert Path(found["pdf"]).read_bytes().startswith(b"%PDF")
    assert "Arranque" in found["text"]
