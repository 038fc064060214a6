"""The guided session of `tepal plant`: one drawing and one question at a time, answered by one key."""

from __future__ import annotations

import sys
from functools import partial
from typing import TYPE_CHECKING

from tepal.cli import _out
from tepal.cli._guide_pages import Draw, View, end_pages, end_parts, figures_page, paged, question_page, wrap_items
from tepal.cli._guide_session import STAGE, Session, number_from
from tepal.cli._guide_terminal import BACK, DONE, END, MORE, NEXT, PREVIOUS, Terminal
from tepal.plant import CANNOT_TELL
from tepal.tables import Refused

if TYPE_CHECKING:
    from tepal.flora import Flora
    from tepal.words import Words

_NUMBER_SIGNS = "0123456789./,"


def is_possible() -> bool:
    """Whether a person sits at both ends."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def guide(first: Session, words: Words) -> int:
    """Ask until looking more would not change what to do, then say what was found."""
    first.call  # noqa: B018 - a wrong stage or region is refused before the screen is taken
    flora = first.flora
    session: Session | None = first
    with Terminal() as screen:
        draw = partial(_drawing, flora, words, shown=screen.has_signs and not screen.is_dumb)
        last = first
        while session is not None:
            last = session
            session = _asked(session, words, screen, draw) if session.question else _ended(session, words, screen)
    said, doing = end_parts(last, words, screen.size[0])
    for line in (*said, "", *doing):
        _out.say(line.removeprefix("*").removeprefix("  "))
    again = _line_of(last)
    if again:
        _out.say()
        _out.say(words.t("The same looks on one line: {line}", line=again))
    return _out.DONE


def _drawing(flora: Flora, words: Words, character: str, state: str | None, *, shown: bool) -> str | None:
    from tepal.plates import draw

    if not shown or character == STAGE:
        return None
    try:
        return draw(flora, character, state, words=words).svg
    except Refused:
        # A weed group may have tables and no drawings yet: its questions are asked in words.
        return None


def _asked(session: Session, words: Words, screen: Terminal, draw: Draw) -> Session | None:
    """Show one question and wait for its answer; the session that follows."""
    question = session.question
    assert question is not None
    pointed, typed, told = 0, "", ""
    while True:
        screen.show(question_page(session, View(words, *screen.size, draw), pointed=pointed, typed=told or typed))
        key = screen.key()
        told = ""
        if key in (END, "q"):
            return session.stopped()
        if key == "b" or (key == BACK and not typed):
            return session.back()
        if key == "f":
            _read(figures_page(session, words, screen.size[0]), words, screen)
        elif key == "n" and session.tool() in ("ruler", "hand_lens"):
            return session.without(session.tool())
        elif question.states:
            if key == "0":
                return session.answered(CANNOT_TELL)
            if key and key in "123456789" and int(key) <= len(question.states):
                return session.answered(question.states[int(key) - 1])
            pointed = (pointed + {NEXT: 1, MORE: 1, PREVIOUS: -1}.get(key or "", 0)) % len(question.states)
        elif key == DONE:
            try:
                return session.answered(number_from(typed, session) if typed else CANNOT_TELL)
            except Refused as refusal:
                typed, told = "", f"{refusal.what}. {refusal.rule}"
        elif key == BACK:
            typed = typed[:-1]
        elif key and key in _NUMBER_SIGNS:
            typed += key


def _ended(session: Session, words: Words, screen: Terminal) -> Session | None:
    """Show how it ends; None when the person is done, else the session to go on with."""
    at = 0
    while True:
        pages = end_pages(session, words, screen.size[0], screen.size[1] - 4)
        at = min(at, len(pages) - 1)
        keys = [words.t("Enter  done"), words.t("b  back"), words.t("f  figures")]
        if session.can_go_on:
            keys.insert(1, words.t("m  one more look"))
        if len(pages) > 1:
            ahead = words.t("Space  page {n} of {all}", n=(at + 1) % len(pages) + 1, all=len(pages))
            keys.insert(0, words.t("Space  what to do today") if at == 0 else ahead)
        screen.show([*_filled(pages[at], screen.size[1] - 3), *wrap_items(keys, screen.size[0])])
        key = screen.key()
        if key in (DONE, END, "q"):
            return None
        if key in ("b", BACK):
            return session.back()
        if key == "m" and session.can_go_on:
            return session.further()
        if key == "f":
            _read(figures_page(session, words, screen.size[0]), words, screen)
        elif key in (MORE, NEXT):
            at = (at + 1) % len(pages)
        elif key == PREVIOUS:
            at = (at - 1) % len(pages)


def _read(lines: list[str], words: Words, screen: Terminal) -> None:
    """Show lines page by page until the person has read them."""
    pages = paged(lines, screen.size[1] - 3)
    for at, page in enumerate(pages, 1):
        hint = words.t("any key: go on") if at < len(pages) else words.t("any key: back to the question")
        screen.show([*_filled(page, screen.size[1] - 2), f"  {hint}"])
        if screen.key() == END:
            return


def _filled(lines: list[str], rows: int) -> list[str]:
    return [*lines, *[""] * (rows - len(lines))]


def _line_of(session: Session) -> str:
    """What to type to say the same again."""
    if not session.answers:
        return ""
    looks = " ".join(f"{name}={value}" for name, value in session.answers)
    stage = f" --stage {session.stage}" if session.stage else ""
    return f"tepal plant {looks}{stage}" + (f" --region {session.region}" if session.region else "")
