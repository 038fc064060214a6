"""Programmes side by side on paper: what the files say and nothing else, the same bytes, readable by a machine."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest
from defusedxml import ElementTree

from tepal.flora import load
from tepal.letter import outlook, save_outlook
from tepal.letter._outlook_charts import NARROW, WIDE, money_plate, seed_plate, sites_plate
from tepal.letter._outlook_strips import strips
from tepal.letter._svg import text_width
from tepal.programme import read_programme, read_programme_text
from tepal.tables import Refused
from tepal.words import Words
from tepal.years import project

DOCS = Path(__file__).parent.parent.parent / "docs" / "rooms" / "years"
DAY = date(2026, 11, 25)


@pytest.fixture(scope="module")
def flora():
    return load()


@pytest.fixture(scope="module")
def two(flora):
    read = [read_programme(DOCS / name) for name in ("one-site.toml", "every-way.toml")]
    return project(read, flora=flora, years=5, replicates=60)


def plain(text, name="p.toml"):
    return read_programme_text(text, name=name)


def test_a_season_is_a_written_strip(two):
    us = strips(two[1].programme, 5, Words())
    assert [s.years for s in us] == ["Years 1, 3 and 5", "Years 2 and 4"]
    assert us[0].crop == "Soybean"
    for said in ("Planted May 10, rows of 15 in.", "A cover crop before it.",
                 "Residual of groups 15 and 14 at planting.",
                 "On plants of 2 in to 3.5 in, 28 days after planting: groups 10 and 4.",
                 "Pulled by hand before seed: 85 to 97 of 100 plants.", "Harvested last."):  # fmt: skip
        assert said in us[0].text
    # 70 + 35 + 75 + 25 a hectare, and 2.75 hours of 22.
    assert us[0].cost == "$110 an acre"
    metric = strips(two[1].programme, 5, Words(units="metric"))
    assert "rows of 38 cm" in metric[0].text
    assert metric[0].cost == "$270 a hectare"


def test_every_tactic_has_words():
    text = (
        'taxon = "AMAPA"\n[start]\nseedbank_m2 = 1\n[[season]]\ncrop = "cotton"\ninversion = true\n'
        "[[season.cut]]\nheight_cm = 0\n[[season.cultivate]]\ndays_after_planting = 1\n[[season.pull]]\nshare = 1\n"
        'when = "after seed"\n[season.harvest]\nseed_control = "chaff line"\norder = "after infested"\n'
        '[[season]]\ncrop = "fallow"\n'
    )
    first, second = strips(plain(text), 2, Words())
    for said in ("Ploughed deep", "Cut at the ground, at flowering.", "Cultivated 1 day after planting.",
                 "Pulled by hand after seed has fallen: 100 of 100 plants.", "Chaff is laid in a line at harvest.",
                 "a machine that was not cleaned"):  # fmt: skip
        assert said in first.text
    assert second.text == "Nothing else is done against them."
    assert second.cost == ""


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_plates_are_drawings_with_words(two, width):
    for plate in (seed_plate(two, Words(), width), sites_plate(two, Words(), width),
                  money_plate(two, Words(), 0.0, width)):  # fmt: skip
        root = ElementTree.fromstring(plate.svg.encode())
        _, _, wide, high = map(float, root.get("viewBox").split())
        assert wide == width
        assert len(plate.alt) > 40
        for text in root.iter("{http://www.w3.org/2000/svg}text"):
            size = text_width(text.text, float(text.get("font-size")))
            left = float(text.get("x")) - {"end": size, "middle": size / 2}.get(text.get("text-anchor"), 0)
            assert left >= -0.5, text.text
            assert 0 <= float(text.get("x")) <= wide
            assert 0 <= float(text.get("y")) <= high
        assert not re.search("[nN]a[nN]|inf", plate.svg)


def test_many_programmes_stand_in_rows(flora, two):
    many = [two[0], *two, *two, *two]
    root = ElementTree.fromstring(seed_plate(many, Words()).svg.encode())
    assert float(root.get("height")) > 450
    assert outlook(many, flora=flora, words=Words(), day=DAY).pdf.startswith(b"%PDF")


def test_the_same_question_gives_the_same_bytes(flora, two):
    ask = {"flora": flora, "words": Words(), "day": DAY}
    assert outlook(two, **ask) == outlook(two, **ask)


def test_the_page_asks_nothing_of_others_and_escapes_names(flora):
    text = (
        'name = "<script>x</script> & #panic()"\ntaxon = "AMATU"\n[start]\nseedbank_m2 = 0\n[[season]]\ncrop = "oat"\n'
    )
    done = project([plain(text)], flora=flora, years=1, replicates=5)
    made = outlook(done, flora=flora, words=Words(units="metric"), day=DAY)
    assert "<script" not in made.html
    assert "&lt;script&gt;" in made.html
    assert not re.search(r"""(src|href)=["'](?!data:)""", made.html)
    assert "https://" not in re.sub(r'xmlns="[^"]*"', "", made.html).replace("https://doi.org", "")
    assert "square metre" in made.html and "acre" not in made.html


def test_label_and_care_stand_beside_it(flora, two):
    made = outlook(two, flora=flora, words=Words(), day=DAY)
    for said in ("The label is the law", "re-entry", "not a forecast of one field", "judgement"):
        assert said in made.html
    for site in ("Larkmoor", "county"):
        assert site not in made.html


def test_files_are_whole_or_refused(tmp_path, flora, two):
    made = outlook(two, flora=flora, words=Words(), day=DAY)
    pdf, page = save_outlook(made, tmp_path / "new")
    assert pdf.read_bytes() == made.pdf
    assert page.read_text() == made.html
    assert sorted(p.name for p in (tmp_path / "new").iterdir()) == ["outlook.html", "outlook.pdf"]
    (tmp_path / "file").write_text("")
    with pytest.raises(Refused, match="cannot be written"):
        save_outlook(made, tmp_path / "file")
