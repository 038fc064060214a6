"""The PDF: opened by another library, tagged, whole, and the same bytes each time."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest
from pypdf import PdfReader

from tepal.letter import LetterData, MapData, Signer, Task, render
from tepal.letter._sheet import sheet
from tepal.words import Words

Cases = dict[str, Callable[[], LetterData]]
HOSTILE = '#import "x": * $x$ <script>alert(1)</script> {{7*7}} {% raw %} *b* _i_ @ref `c` \\ & "q"'


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


def squeezed(text: str) -> str:
    return "".join(text.split())


def test_it_is_tagged_titled_and_in_its_language(case: LetterData, us: Words) -> None:
    reader = PdfReader(io.BytesIO(render(case, us).pdf))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in root
    assert str(root["/Lang"]).startswith("en")
    assert reader.metadata is not None
    assert reader.metadata.title == sheet(case, us).title


def test_it_has_two_pages_at_most_and_the_paper_of_its_units(case: LetterData, us: Words, metric: Words) -> None:
    for words, width in ((us, 612), (metric, 595)):
        pages = PdfReader(io.BytesIO(render(case, words).pdf)).pages
        assert len(pages) <= 2
        assert round(float(pages[0].mediabox.width)) == width


def test_every_thing_to_do_and_not_to_do_stands_on_the_first_page(case: LetterData, us: Words) -> None:
    first = squeezed(PdfReader(io.BytesIO(render(case, us).pdf)).pages[0].extract_text())
    for task in (*case.tasks, *case.do_nots):
        assert squeezed(task.text(us)) in first


def test_every_caution_and_who_decides_are_printed(case: LetterData, us: Words) -> None:
    told = squeezed(text_of(render(case, us).pdf))
    for caution in case.cautions:
        assert squeezed(caution(us)) in told
    assert squeezed("The label is the law.") in told
    assert squeezed("licensed applicator decide") in told


def test_same_data_same_bytes_and_another_day_other_bytes(cases: Cases, us: Words) -> None:
    one, two = (render(cases["first_find"](), us) for _ in range(2))
    assert (one.pdf, one.html, one.text) == (two.pdf, two.html, two.text)
    later = replace(cases["first_find"](), as_of=date(2026, 8, 12))
    assert render(later, us).pdf != one.pdf


def test_only_our_own_typefaces_are_in_it(case: LetterData, us: Words) -> None:
    fonts = set()
    for page in PdfReader(io.BytesIO(render(case, us).pdf)).pages:
        fonts |= {str(font.get_object()["/BaseFont"]) for font in page["/Resources"]["/Font"].values()}
    assert fonts
    assert all("AtkinsonHyperlegible" in font or "SourceSerif4" in font for font in fonts)


def test_a_hostile_name_is_only_text(cases: Cases, us: Words) -> None:
    data = replace(
        cases["first_find"](),
        site=HOSTILE[:40],
        to=HOSTILE,
        office=HOSTILE,
        place=(HOSTILE,),
        signer=Signer(HOSTILE, "#v(9cm)"),
    )
    told = squeezed(text_of(render(data, us).pdf))
    assert squeezed('#import "x": * $x$') in told
    assert "{{7*7}}" in told
    assert "#v(9cm)" in told


def test_five_long_tasks_and_forty_sources_still_make_two_pages(cases: Cases, us: Words) -> None:
    data = cases["first_find"]()
    wordy = "Pull every plant with its root, shake the soil off, bag it where it stood and tie the bag. " * 2
    long = Task(
        lambda words: wordy.strip(), date(2026, 8, 12), lambda words: wordy.strip(), lambda words: wordy.strip()
    )
    sources = tuple(
        f"Author {i} and others 2014. A long title about weeds in many fields. Journal {i}." for i in range(40)
    )
    full = replace(
        data,
        tasks=(long,) * 5,
        do_nots=data.do_nots[:1] * 5,
        cautions=data.cautions * 2,
        record=replace(data.record, sources=sources),
    )
    assert len(PdfReader(io.BytesIO(render(full, us).pdf)).pages) == 2


def test_a_letter_with_nothing_but_a_name_and_a_day_can_be_made(cases: Cases, us: Words) -> None:
    data = cases["phone_report"]()
    bare = LetterData(data.site, data.as_of, replace(data.looks, on=None, how=""), data.record, map=MapData())
    letter = render(bare, us)
    assert "Mill Lane" in text_of(letter.pdf)
    assert "Mill Lane" in letter.html
    assert "Mill Lane" in letter.text


def test_more_than_five_things_to_do_are_refused(cases: Cases) -> None:
    data = cases["first_find"]()
    with pytest.raises(ValueError, match="at most 5"):
        replace(data, tasks=data.tasks * 2)
