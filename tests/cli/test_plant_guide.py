"""The guided session: its questions, its pages at 80 by 24, and the whole of it on a real pseudo-terminal."""

from __future__ import annotations

import codecs
import os
import re
import select
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from tepal.cli._guide_ink import dotted
from tepal.cli._guide_pages import View, end_pages, end_parts, figures_page, paged, question_page
from tepal.cli._guide_session import STAGE, Question, Session, number_from
from tepal.cli._guide_today import today
from tepal.flora import STAGES, load
from tepal.plant import CANNOT_TELL, identify
from tepal.plates import draw
from tepal.tables import Refused
from tepal.words import Words

pty = pytest.importorskip("pty")
import termios  # noqa: E402 - where there is no pty there is no termios either

FLORA = load()
WORDS = Words()
PALMER = {
    "fold_test_lower_leaf": "longer", "stem_hair_upper": "none", "nodal_spines": "absent", "leaf_outline": "rhombic",
    "watermark": "present", "petiole_blade_ratio_lower": 1.4, "leaf_hair_lower": "none", "leaf_gloss": "dull",
}  # fmt: skip


def drawn(character: str, state: str | None) -> str | None:
    try:
        return draw(FLORA, character, state).svg
    except Refused:
        return None


def finished(session: Session, answers: dict[str, str | float]) -> Session:
    for _ in range(40):
        question = session.question
        if question is None:
            return session
        session = session.answered(answers.get(question.character, CANNOT_TELL))
    raise AssertionError("it never ends")


# --------------------------------------------------------------------------------------------------- the session


def test_the_stage_is_asked_first_and_not_at_all_where_it_was_given() -> None:
    assert Session(FLORA).question == Question(STAGE, STAGES)
    assert Session(FLORA, stage="vegetative").question != Question(STAGE, STAGES)


@pytest.mark.parametrize("stage", STAGES)
def test_nothing_is_asked_twice_and_it_ends_even_where_nothing_can_be_told(stage: str) -> None:
    end = finished(Session(FLORA, region="CB", stage=stage), {})
    asked = [name for name, _ in end.answers]
    assert len(set(asked)) == len(asked)
    # "Cannot tell" is no evidence: what was thought before is thought still.
    assert np.allclose(end.call.posterior, identify({}, stage=stage, region="CB").posterior, atol=1e-12)


def test_it_ends_with_what_the_same_looks_say_on_the_command_line() -> None:
    end = finished(Session(FLORA, region="SE", stage="vegetative"), PALMER)
    assert end.call.best == "AMAPA"
    again = identify(dict(end.answers), stage="vegetative", region="SE")
    assert np.array_equal(end.call.posterior, again.posterior)


def test_going_back_gives_exactly_what_was_before() -> None:
    first = Session(FLORA, stage="vegetative")
    second = first.answered("none")
    assert second.back() is first
    assert first.back() is first
    assert second.without("ruler").back() is second
    assert second.stopped().back() is second


def test_without_a_tool_nothing_is_asked_that_needs_it() -> None:
    session = Session(FLORA, stage="vegetative").without("ruler").without("hand_lens")
    while session.question is not None:
        assert FLORA.characters[session.question.character].tool in ("none", "pulled_plant")
        session = session.answered(CANNOT_TELL)


@pytest.mark.parametrize("stage", ["seedling_2-4_leaf", "vegetative", "reproductive"])
def test_most_questions_are_answered_by_one_key(stage: str) -> None:
    session, keys = Session(FLORA, stage=stage, region="CB"), []
    while session.question is not None and len(keys) < 4:
        keys.append(bool(session.question.states))
        session = session.answered(CANNOT_TELL)
    assert sum(keys) >= 3


def test_a_push_is_the_change_of_odds_that_the_look_makes() -> None:
    end = finished(Session(FLORA, region="SE", stage="vegetative"), PALMER)
    name, _, times = end.pushes[0]
    with_it = end.call.probability("AMAPA")
    rest = identify({k: v for k, v in end.answers if k != name}, stage="vegetative", region="SE")
    without = rest.probability("AMAPA")
    assert times == pytest.approx(with_it / (1 - with_it) / (without / (1 - without)), rel=1e-9)


def test_numbers_as_people_type_them() -> None:
    session = Session(FLORA, stage="vegetative")
    while session.question is not None and session.question.unit != "ratio":
        session = session.answered(CANNOT_TELL)
    assert number_from("7.5/3", session) == 2.5
    assert number_from("2,5", session) == 2.5
    for wrong in ("", "x", "1/0", "1/2/3", "1e999", "-3", "nan"):
        with pytest.raises(Refused):
            number_from(wrong, session)


def test_what_to_do_today_stands_beside_its_cautions() -> None:
    palmer = identify(PALMER, stage="vegetative", region="SE")
    found = today(palmer, FLORA, WORDS)
    assert any("Pull" in step for step in found.steps)
    assert any("re-entry" in caution for caution in found.cautions)
    assert any("Heat" in caution for caution in found.cautions)
    ripe = today(identify(PALMER, stage="mature_seed", region="SE"), FLORA, WORDS)
    assert any("sack" in step for step in ripe.steps)
    redroot = identify({"stem_hair_upper": "dense", "leaf_hair_lower": "dense"}, stage="vegetative", region="NE")
    assert "still control it" in " ".join(today(redroot, FLORA, WORDS).steps)


# ------------------------------------------------------------------------------------------------------ the pages


def every_question(stage: str) -> list[Session]:
    found, session = [], Session(FLORA, stage=stage)
    while session.question is not None and len(found) < 30:
        found.append(session)
        session = session.answered(CANNOT_TELL)
    return found


@pytest.mark.parametrize("size", [(80, 24), (100, 40), (60, 24), (40, 24)])
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("stage", STAGES)
def test_every_question_fits_the_window(stage: str, language: str, size: tuple[int, int]) -> None:
    for session in every_question(stage):
        lines = question_page(session, View(Words(language), *size, drawn))
        assert len(lines) <= size[1], session.question
        assert max(len(line.removeprefix("*")) for line in lines) <= size[0], session.question
        question = session.question
        assert question is not None
        text = "\n".join(lines)
        for at in range(1, len(question.states) + 1):
            assert re.search(rf"(^|\s){at}  \S", text), (question, at)


def test_a_page_has_one_question_and_no_name_of_a_plant() -> None:
    for session in every_question("vegetative"):
        text = "\n".join(question_page(session, View(WORDS, 80, 24, drawn)))
        assert text.replace("Which pigweed is it?", "").count("?") <= 1
        assert not re.search(r"Palmer|waterhemp|redroot|\d %|0\.\d", text)


@pytest.mark.parametrize("columns", [40, 80])
@pytest.mark.parametrize("language", ["en", "es"])
def test_the_end_and_the_figures_fit_the_window(columns: int, language: str) -> None:
    words = Words(language)
    end = finished(Session(FLORA, region="SE", stage="vegetative"), PALMER)
    said, doing = end_parts(end, words, columns)
    for whole, pages in (
        ([*said, *doing], end_pages(end, words, columns, 20)),
        (lines := figures_page(end, words, columns), paged(lines, 20)),
    ):
        assert max(len(line.removeprefix("*")) for line in whole) <= columns
        assert all(len(page) <= 20 for page in pages)
        assert [line for page in pages for line in page if line] == [line for line in whole if line]


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("stage", STAGES)
def test_at_80_by_24_cautions_stand_on_the_page_of_what_to_do(stage: str, language: str) -> None:
    words = Words(language)
    end = finished(Session(FLORA, region="SE", stage=stage), PALMER)
    pages = end_pages(end, words, 80, 20)
    todo, care = (f"*  {words.t(title)}" for title in ("What to do today", "Take care"))
    (at,) = (n for n, page in enumerate(pages) if todo in page)
    if not end.call.evidence:  # nothing could be told of it at this stage: no work, and no caution of one
        assert all(care not in page for page in pages)
        return
    # Where steps and cautions are longer than a page together, the cautions are what is seen next, from their title on.
    both = sum(len(page) for page in pages[at:]) + 1
    assert care in pages[at] or (both > 20 and pages[at + 1][0] == care)


def test_one_more_look_may_be_asked_for_though_it_is_enough() -> None:
    end = finished(Session(FLORA, region="SE", stage="vegetative"), PALMER)
    assert end.call.enough
    assert end.can_go_on
    more = end.further()
    assert more.question is not None
    assert more.answered(CANNOT_TELL).question is None
    assert more.back() is end
    assert end.back().stopped().further().question == end.back().question


SQUARE = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100" stroke="#1d1a16" fill="none">'
    '<path fill="#e6e0cf" stroke="none" d="M0 0H100V100H0Z"/>{}</svg>'
)


def dots(lines: tuple[str, ...]) -> np.ndarray:
    """The dots of braille lines, by Unicode's own numbering."""
    order = [(0, 0), (1, 0), (2, 0), (0, 1), (1, 1), (2, 1), (3, 0), (3, 1)]
    found = np.zeros((4 * len(lines), 2 * len(lines[0])), dtype=bool)
    for y, line in enumerate(lines):
        for x, sign in enumerate(line):
            for bit, (dy, dx) in enumerate(order):
                found[4 * y + dy, 2 * x + dx] = sign != " " and ord(sign) - 0x2800 >> bit & 1
    return found


def test_a_drawing_keeps_its_place_and_proportions_and_drops_the_wash() -> None:
    path = '<path stroke-width="2" d="M20 10H80V90H20Z"/>'
    (lines,) = dotted((SQUARE.format(path),), 20, 10)
    found = dots(lines)
    rows, columns = np.flatnonzero(found.any(axis=1)), np.flatnonzero(found.any(axis=0))
    assert rows[0] == columns[0] == 0  # blank edges are cut off
    assert np.ptp(rows) / np.ptp(columns) == pytest.approx(80 / 60, rel=0.1)
    assert not found[3:-6, 3 : columns[-1] - 2].any()  # nothing inside the frame, and no wash


def test_drawings_of_one_question_share_their_scale() -> None:
    large, small = ('<path stroke-width="2" d="M{0} {0}H{1}V{1}H{0}Z"/>'.format(*box) for box in ((10, 90), (40, 60)))
    one, two = dotted((SQUARE.format(large), SQUARE.format(small)), 20, 10)
    wide = [np.ptp(np.flatnonzero(dots(lines).any(axis=0))) for lines in (one, two)]
    assert wide[0] / wide[1] == pytest.approx(4, rel=0.2)


# ------------------------------------------------------------------------------------------------- a real terminal

CLEAR, WHOLE = "\x1b[H\x1b[2J", "\x1b[?2026l"


class Person:
    """Someone at a pseudo-terminal: waits for the screen to show something, types a key."""

    def __init__(self, *arguments: str, **environment: str) -> None:
        self.master, self.slave = pty.openpty()
        termios.tcsetwinsize(self.slave, (24, 80))
        self.before = termios.tcgetattr(self.slave)
        kept = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "LINES", "NO_COLOR")}
        self.child = subprocess.Popen(
            [sys.executable, "-m", "tepal", "plant", *arguments],
            stdin=self.slave, stdout=self.slave, stderr=self.slave, cwd=Path(__file__).parent,
            env=kept | {"TERM": "xterm", "PYTHONIOENCODING": "utf-8"} | environment,
        )  # fmt: skip
        self.written = ""
        self.whole = "" if environment.get("TERM") == "dumb" else WHOLE
        # A read may end within a sign.
        self.decode = codecs.getincrementaldecoder("utf-8")("replace").decode

    def sees(self, text: str, seconds: float = 40.0) -> str:
        """Wait until the page on the screen is whole and holds the text; the page."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            # A page comes in pieces: its first words may be here long before its last.
            if text in self.page and self.whole in self.page:
                return self.page
            if select.select([self.master], [], [], 0.05)[0]:
                try:
                    self.written += self.decode(os.read(self.master, 512))
                except OSError:
                    break
        raise AssertionError(f"{text!r} never came; the screen is:\n{self.page}")

    @property
    def page(self) -> str:
        return self.written.rsplit(CLEAR, 1)[-1]

    def types(self, keys: str) -> None:
        os.write(self.master, keys.encode())

    def ends(self) -> int:
        code = self.child.wait(timeout=30)
        while select.select([self.master], [], [], 0.1)[0]:
            try:
                self.written += self.decode(os.read(self.master, 512))
            except OSError:
                break
        return code

    def __enter__(self) -> Person:
        return self

    def __exit__(self, *_: object) -> None:
        if self.child.poll() is None:
            self.child.kill()
            self.child.wait()
        for handle in (self.master, self.slave):
            os.close(handle)


def test_a_whole_session_on_a_terminal() -> None:
    with Person("--region", "SE") as person:
        page = person.sees("How far along is the plant?")
        assert "3  grown, not yet in flower" in page
        person.types("3")
        page = person.sees("Question 2")
        assert any("\u2801" <= sign <= "\u28ff" for sign in page)  # it is drawn
        first = page.split("\r\n")[2]
        person.types("1")
        person.sees("Question 3")
        person.types("b")  # another answer after all
        assert first in person.sees("Question 2")
        person.types("f")
        person.sees("Figures so far")
        person.types("x")
        person.sees("Question 2")
        person.types("9")  # no such answer: nothing happens
        person.types("q")
        person.sees("Enter  done")
        person.types("m")  # one more look
        person.sees("Question 2")
        person.types("1")
        person.sees("Question 3")
        person.types("q")
        person.sees("Space  what to do today")
        person.types(" ")
        person.sees("Take care")
        person.types("\r")
        assert person.ends() == 0
        # The screen is given back, what was found stays on it, and the terminal is as it was.
        after = person.written.split("\x1b[?1049l")[-1]
        assert "What to do today" in after
        assert "Take care" in after
        assert termios.tcgetattr(person.slave) == person.before


def test_nothing_is_ever_coloured_and_bold_is_all() -> None:
    with Person("--stage", "vegetative", NO_COLOR="1") as person:
        person.sees("Question 2")
        person.types("0")
        person.sees("Question 3")
        person.types("q")
        person.sees("Enter  done")
        person.types("\r")
        assert person.ends() == 0
        assert set(re.findall(r"\x1b\[[0-9;?]*[A-Za-z]", person.written)) <= {
            "\x1b[H", "\x1b[2J", "\x1b[1m", "\x1b[0m", "\x1b[?1049h", "\x1b[?1049l",
            "\x1b[?2026h", WHOLE,
        }  # fmt: skip


def test_a_dumb_terminal_gets_plain_words() -> None:
    with Person("--stage", "vegetative", TERM="dumb") as person:
        person.sees("Question 2")
        person.types("1")
        person.sees("Question 3")
        person.types("q")
        person.sees("Enter  done")
        person.types("\r")
        assert person.ends() == 0
        assert "\x1b" not in person.written
        assert not any("\u2801" <= sign <= "\u28ff" for sign in person.written)


def test_of_a_plant_that_nobody_looked_at_no_work_is_asked_for() -> None:
    flora = load()
    (step,) = today(identify({}, stage="vegetative", region="CB", flora=flora), flora, Words()).steps
    assert step == "Nothing was looked at yet. Look at the plant before you do anything with it."
    unsure = identify({"stem_hair_upper": "cannot_tell"}, stage="vegetative", region="CB", flora=flora)
    assert today(unsure, flora, Words()).steps == (step,)


def test_control_c_gives_the_terminal_back() -> None:
    with Person("--stage", "vegetative") as person:
        person.sees("Question 2")
        # Typed into a controlling terminal it would be a signal; here it is sent as one.
        person.child.send_signal(2)
        assert person.ends() == 130
        assert "\x1b[?1049l" in person.written
        assert termios.tcgetattr(person.slave) == person.before


def test_a_wrong_stage_is_refused_before_the_screen_is_taken() -> None:
    with Person("--stage", "grown") as person:
        assert person.ends() == 2
        assert "\x1b[?1049h" not in person.written


@pytest.mark.parametrize("arguments", [[], ["--language", "es"], ["--why"]])
def test_without_a_terminal_it_is_refused_kindly(arguments: list[str]) -> None:
    run = subprocess.run(
        [sys.executable, "-m", "tepal", "plant", *arguments],
        stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (run.returncode, run.stdout, run.stderr.count("\n")) == (2, "", 1)
    assert "terminal" in run.stderr
    assert "--characters" in run.stderr
