"""The page and the text for the phone: harmless, self-contained, legible, short."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from typing import TYPE_CHECKING

import pytest

from tepal.letter import LetterData, render
from tepal.letter._ink import INK, MADDER, NIGHT, PAPER, SOFT, WASH, WHITE, contrast
from tepal.words import Words

if TYPE_CHECKING:
    from playwright.sync_api import Page

Cases = dict[str, Callable[[], LetterData]]
HOSTILE = "<script>window.hit=1</script>{{7*7}}{% x %}\"'><img src=x onerror=window.hit=1>"


class Tags(HTMLParser):
    """All tags with their attributes."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


def test_nothing_in_the_page_points_to_another_address(case: LetterData, us: Words) -> None:
    page = render(case, us).html
    for tag, attributes in Tags(page).found:
        assert tag not in ("script", "link", "iframe", "object", "img", "base")
        assert not {"src", "href", "action", "xlink:href"} & set(attributes)
    for target in re.findall(r"url\(([^)]{0,40})", page):
        assert target.startswith(("data:font/woff;base64,", "#"))


def test_a_hostile_name_does_nothing_in_the_page(cases: Cases, us: Words) -> None:
    data = cases["first_find"]()
    feature = replace(data.map.features[0], name=HOSTILE)
    page = render(replace(data, site=HOSTILE, to=HOSTILE, map=replace(data.map, features=(feature,))), us).html
    tags = {tag for tag, _ in Tags(page).found}
    assert not tags & {"script", "img"}
    assert "{{7*7}}" in page
    assert "&lt;script&gt;" in page


def test_a_browser_asks_no_address_and_runs_nothing(cases: Cases, us: Words, chromium_page: Page) -> None:
    asked: list[str] = []
    chromium_page.on("request", lambda request: asked.append(request.url))
    chromium_page.set_viewport_size({"width": 390, "height": 844})
    chromium_page.set_content(render(replace(cases["first_find"](), site=HOSTILE[:60], to=HOSTILE), us).html)
    assert [url for url in asked if not url.startswith(("data:", "about:"))] == []
    assert chromium_page.evaluate("window.hit") is None
    assert chromium_page.evaluate("document.documentElement.scrollWidth") <= 390
    assert (
        chromium_page.evaluate("document.fonts.ready.then(() => [...document.fonts].map(f => f.status))")
        == ["loaded"] * 4
    )


@pytest.mark.parametrize("paper", [WHITE, PAPER, WASH])
def test_text_stands_out_seven_to_one(paper: str) -> None:
    for colour in (INK, SOFT, *((MADDER,) if paper != WASH else ())):
        assert contrast(colour, paper) >= 7


def test_text_stands_out_seven_to_one_by_night() -> None:
    for name in ("ink", "soft", "accent"):
        assert contrast(NIGHT[name], NIGHT["paper"]) >= 7


def test_contrast_is_that_of_the_standard() -> None:
    # Black on white is 21 by definition; #777777 on white is the well-known 4.48 that just fails 4.5.
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


def test_the_phone_text_is_short_and_says_what_first_and_what_not(case: LetterData, us: Words) -> None:
    text = render(case, us).text
    assert len(text) <= 480
    assert case.site in text
    assert case.tasks[0].text(us).split(".")[0] in text
    assert case.do_nots[0].text(us).split(".")[0] in text
    assert "The label is the law." in text


def test_the_phone_text_stays_short_with_the_longest_names(cases: Cases, us: Words) -> None:
    data = cases["first_find"]()
    endless = replace(data.tasks[0], text=lambda words: "Pull them and bag them and carry them. " * 40)
    text = render(replace(data, site="Very Long Farm Name " * 20, tasks=(endless,)), us).text
    assert len(text) <= 480
    assert "Do not mow" in text


def test_how_sure_is_told_as_a_chance(cases: Cases, us: Words) -> None:
    assert "98 chances in 100" in render(cases["first_find"](), us).text
    assert "1 chance in 5" in render(cases["nothing_seen"](), us).text
    assert "We have not looked yet" in render(cases["phone_report"](), us).text


def test_without_a_chance_of_having_missed_some_none_is_invented(cases: Cases, us: Words) -> None:
    data = cases["nothing_seen"]()
    letter = render(replace(data, looks=replace(data.looks, p_missed=None), closings=()), us)
    assert "chance in" not in letter.text
    assert "chance in" not in re.sub(r"<style>.*?</style>", "", letter.html, flags=re.S)


def test_units_follow_the_words(cases: Cases, us: Words, metric: Words) -> None:
    data = cases["heavy_patch"]()
    assert "59 acres" in render(data, us).html
    assert "24 ha" in render(data, metric).html
    assert "feet" not in render(data, metric).html
    assert "inches" not in render(data, metric).text


def test_it_reads_at_the_eighth_grade_or_below(case: LetterData, us: Words) -> None:
    from tepal.letter._runs import plain
    from tepal.letter._sheet import sheet

    lines = sheet(case, us)
    told = " ".join(
        [*map(plain, lines.opening), *(step.lead for step in (*lines.todo, *lines.dont))]
        + [plain(p) for p in (*lines.care.lines, *lines.decides.lines, *lines.visit.lines)]
    )
    assert grade(told) <= 8


def grade(text: str) -> float:
    """Flesch-Kincaid grade (Kincaid and others 1975), syllables as groups of vowels, a last silent e left out."""
    sentences = [s for s in re.split(r"[.!?:;]+\s", text) if s.strip()]
    words = re.findall(r"[A-Za-z]+", text)
    syllables = sum(max(1, len(re.findall(r"[aeiouy]+", re.sub(r"e$", "", w.lower())))) for w in words)
    return 0.39 * len(words) / len(sentences) + 11.8 * syllables / len(words) - 15.59
