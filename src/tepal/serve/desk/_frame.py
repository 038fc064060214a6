"""What stands around every page: the office, the ways to the other pages, who is asking, in which words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from fastapi import Request
from fastapi.responses import HTMLResponse, Response

from tepal.serve import Problem, Settings, Who, address
from tepal.serve._wording import words_of
from tepal.serve.desk._links import Links
from tepal.serve.desk._render import render
from tepal.words import Words

# No record is older, and nothing is reckoned for days far ahead.
_FIRST = date(1990, 1, 1)


@dataclass(frozen=True, slots=True)
class Frame:
    """The frame of one page for one person."""

    office: str
    style: str
    script: str
    pages: tuple[tuple[str, str, bool], ...] = ()
    person: str = ""
    device: str = ""
    form_token: str = ""
    here: str = "/"
    on: str = ""
    day: str = ""
    back_to: str = ""
    looks_back: bool = False
    county: str = "/"
    calls: str = "/calls"


def frame(
    request: Request, settings: Settings, who: Who | None, words: Words, *, on: date | None = None, dated: bool = False
) -> Frame:
    """The frame. `on`: the day looked back at; `dated`: whether the page can be looked back at."""
    links = Links(on)
    path = request.url.path
    asked = [(name, value) for name, value in request.query_params.multi_items() if name != "on"]
    bare = path + (f"?{urlencode(asked)}" if asked else "")
    here = path + (f"?{request.url.query}" if request.url.query else "")
    return Frame(
        office=settings.office,
        style=address("desk/desk.css"),
        script=address("desk/desk.js"),
        pages=_pages(path, who, words, links),
        person="" if who is None else who.name,
        device="" if who is None else who.device_name,
        form_token="" if who is None else who.form_token,
        here=here,
        on="" if on is None else on.isoformat(),
        day="" if on is None else words.day(on, year=True),
        back_to="" if on is None else bare,
        looks_back=dated,
        county=links.county(),
        calls=links.calls(),
    )


def _pages(path: str, who: Who | None, words: Words, links: Links) -> tuple[tuple[str, str, bool], ...]:
    if who is None:
        return ()
    if who.role == "grower":
        return ((words.t("Letters"), "/letters", path == "/letters"),)
    if who.role == "laboratory":
        return ((words.t("Samples"), "/samples", path == "/samples"),)
    pages = [
        (words.t("County"), links.county(), path == "/"),
        (words.t("Calls"), links.calls(), path == "/calls"),
    ]
    if who.sees_all:
        pages.append((words.t("People"), "/people", path == "/people"))
    pages.append((words.t("App for the field"), "/phone/", False))
    return tuple(pages)


def page(template: str, words: Words, around: Frame, *, title: str, status: int = 200, **values: Any) -> Response:
    """A page as an answer."""
    return HTMLResponse(render(template, words, {"frame": around, "title": title, **values}), status)


def the_day(on: date | None, settings: Settings) -> date:
    """The day that a page is for.

    Raises
    ------
    Problem
        If it lies where nothing is reckoned.
    """
    today = settings.today()
    if on is not None and not _FIRST <= on <= date(today.year + 1, 12, 31):
        raise Problem(
            422,
            where="on",
            rule=f"A day from {_FIRST.year} to the end of next year.",
            step="Choose another day.",
        )
    return today if on is None else on


def day_of(text: str, where: str) -> date | None:
    """A day as a form sends it; None where the field was left empty.

    Raises
    ------
    Problem
        If it is none.
    """
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Problem(422, where=where, rule="It is a day, as 2026-06-18.", step="Correct it.") from None


def problem_page(request: Request, problem: Problem) -> Response:
    """What went wrong, as a page for a person."""
    settings: Settings = request.app.state.settings
    words = words_of(request, settings)
    who: Who | None = getattr(request.state, "who", None)
    told = {"title": words.t(problem.title), **{key: words.t(v) if v else "" for key, v in problem.said.items()}}
    around = frame(request, settings, who, words)
    return page("problem.html.j2", words, around, title=told["title"], status=problem.status_code, p=told)
