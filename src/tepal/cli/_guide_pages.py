"""The pages of the guided session as lines of text: a question with its drawings, figures, and the end.

Pure: what is shown follows from the session, the size of the window and the words. A line that begins with `*` is
strong.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from textwrap import wrap

from tepal.cli._guide_ink import dotted
from tepal.cli._guide_session import STAGE, Question, Session
from tepal.flora import STAGE_WORDS
from tepal.plant import figures, look_again, look_in_words, sentence, what_settles_it, why_in_words
from tepal.words import Words, message

# The SVG of a character's state, None where there is no drawing of it.
Draw = Callable[[str, str | None], str | None]

_WIDEST = 76
_MARGIN = "  "
# As many drawings stand side by side; more would be too small to tell apart, and one is shown at a time.
_ABREAST = 4
_WIDE_DRAWING, _HIGH_DRAWING = 30, 13
_LOWEST_DRAWING = 5
# Below this many columns there is room for words only.
_NARROW = 60
_MOST_FOR, _MOST_AGAINST = 3, 2
# A look that moves the odds by less says nothing worth a line.
_SPEAKS = 1.5


@dataclass(frozen=True, slots=True)
class View:
    """The window to write for: its words, its size in signs, and where drawings come from."""

    words: Words
    columns: int
    rows: int
    draw: Draw


def question_page(session: Session, view: View, *, pointed: int = 0, typed: str = "") -> list[str]:
    """The question that is being asked. `pointed`: the answer whose drawing is shown; `typed`: a number being typed,
    or why the last one was refused."""
    question, words = session.question, view.words
    assert question is not None
    columns = min(view.columns, _WIDEST + 4)
    top = _head(session, words, columns)
    top += ["*" + _MARGIN + line for line in wrap(_asked(question, session, words), columns - 6)]
    tool = _TOOLS.get(session.tool())
    if tool is not None:
        top += [_MARGIN + line for line in wrap(words.t(tool), columns - 6)]
    top.append("")
    bottom = ["", *_keys(session, question, words, columns)]
    room = replace(view, columns=columns, rows=view.rows - len(top) - len(bottom))
    if question.states:
        told = [_state_words(question.character, state, session, words) for state in question.states]
        middle = _answers(question, told, room, pointed)
    else:
        middle = _number(question, room, typed)
    return [*top, *middle, *[""] * (room.rows - len(middle)), *bottom]


_TOOLS = {
    "hand_lens": message("You need a hand lens."),
    "ruler": message("You need a ruler."),
    "pulled_plant": message("You need to pull the plant: wear gloves, and check that nothing was sprayed here lately."),
}


def _head(session: Session, words: Words, columns: int) -> list[str]:
    left = words.t("Which pigweed is it?")
    right = words.t("Question {n}", n=len(session.answers) + (1 if session.stage is None else 2))
    return [_MARGIN + left + right.rjust(columns - 4 - len(left)), ""]


def _asked(question: Question, session: Session, words: Words) -> str:
    if question.character == STAGE:
        return words.t("How far along is the plant?")
    return words.t(session.flora.characters[question.character].question)


def _state_words(character: str, state: str, session: Session, words: Words) -> str:
    if character == STAGE:
        text = words.t(STAGE_WORDS[state])
        return text[0].lower() + text[1:]
    return words.t(session.flora.characters[character].state_words[state])


def _keys(session: Session, question: Question, words: Words, columns: int) -> list[str]:
    keys = [] if question.states == () else [words.t("0  I cannot tell")]
    if session.tool() in ("hand_lens", "ruler"):
        keys.append(words.t("n  I have none"))
    if session.before is not None:
        keys.append(words.t("b  back"))
    keys += [words.t("f  figures"), words.t("q  stop here")]
    return wrap_items(keys, columns)


def wrap_items(items: Sequence[str], columns: int) -> list[str]:
    """Short items on as few lines as hold them, none broken."""
    lines: list[str] = []
    for item in items:
        if lines and len(lines[-1]) + 4 + len(item) <= columns - 2:
            lines[-1] += f"    {item}"
        else:
            lines.append(_MARGIN + item)
    return lines


def _answers(question: Question, told: Sequence[str], view: View, pointed: int) -> list[str]:
    columns = view.columns
    drawings = [view.draw(question.character, state) for state in question.states]
    if all(svg is not None for svg in drawings) and len(told) <= _ABREAST:
        abreast = _side_by_side([svg or "" for svg in drawings], told, columns, view.rows)
        if abreast is not None:
            return abreast
    one = drawings[pointed] if pointed < len(drawings) else None
    beside = columns - _WIDE_DRAWING if columns >= _NARROW else columns
    with_art = _listed(told, beside, pointed)
    if one is None or columns < _NARROW or len(with_art) > view.rows:
        return [_MARGIN + line for line in _listed(told, columns, None)]
    high = max(min(view.rows - 2, _HIGH_DRAWING), _LOWEST_DRAWING)
    art = dotted((one,), _WIDE_DRAWING, high)[0]
    across = columns - _WIDE_DRAWING - 4
    lines = [_MARGIN + a.ljust(across) + b for a, b in zip_longest(with_art, art, fillvalue="")]
    hint = _MARGIN + view.words.t("Drawn here: answer {n}. Arrow keys show the others.", n=pointed + 1)
    if len(lines) + 2 <= view.rows and len(hint) <= columns:
        lines += ["", hint]
    return [line.rstrip() for line in lines]


def _listed(told: Sequence[str], columns: int, pointed: int | None) -> list[str]:
    """Answers under one another, each behind its key."""
    found: list[str] = []
    for at, text in enumerate(told):
        lines = wrap(text, columns - 10)
        found += [f"{'›' if at == pointed else ' '} {at + 1}  {lines[0]}", *(f"     {line}" for line in lines[1:])]
    return found


def _side_by_side(drawings: Sequence[str], told: Sequence[str], columns: int, room: int) -> list[str] | None:
    """Drawings in a row, each over its key and words; None where the window is too small for that."""
    n = len(told)
    across = (columns - 2) // n
    wide = min(across - 3, _WIDE_DRAWING)
    if wide < 2 * _LOWEST_DRAWING:
        return None
    captions = [wrap(f"{at}  {text}", across - 3, subsequent_indent="   ") for at, text in enumerate(told, 1)]
    under = max(len(caption) for caption in captions)
    high = min(room - under - 1, _HIGH_DRAWING)
    if high < _LOWEST_DRAWING:
        return None
    arts = dotted(tuple(drawings), wide, high)
    tall = len(arts[0])
    lines = []
    for i in range(tall):
        lines.append(_MARGIN + "".join(art[i].ljust(across) for art in arts))
    lines.append("")
    for i in range(under):
        cells = (caption[i] if i < len(caption) else "" for caption in captions)
        lines.append(_MARGIN + "".join(cell.ljust(across) for cell in cells))
    return [line.rstrip() for line in lines]


def _number(question: Question, view: View, typed: str) -> list[str]:
    words, columns = view.words, view.columns
    svg = view.draw(question.character, None)
    high = min(view.rows - 4, _HIGH_DRAWING)
    is_drawn = svg is not None and columns >= _NARROW and high >= _LOWEST_DRAWING
    art = dotted((svg,), _WIDE_DRAWING, high)[0] if svg is not None and is_drawn else ()
    if question.unit == "ratio":
        hint = words.t("Type the number, or one length over the other (7.5/3), then Enter. Enter alone: I cannot tell.")
    else:
        hint = words.t("Type the number in {unit}, then Enter. Enter alone: I cannot tell.", unit=question.unit)
    lines = [_MARGIN + line.rstrip() for line in art] + ([""] if art else [])
    return [*lines, *(_MARGIN + line for line in wrap(hint, columns - 6)), "*" + _MARGIN + "> " + typed]


def figures_page(session: Session, words: Words, columns: int) -> list[str]:
    """Names with their chances, and each look's push: what stands behind, on request."""
    wide = min(columns, _WIDEST + 4) - 6
    lines = ["*" + _MARGIN + words.t("Figures so far"), ""]
    lines += [_MARGIN + line for line in figures(session.call, session.flora, words)]
    if session.call.evidence:
        lines.append("")
        for line in why_in_words(session.call, session.flora, words):
            lines += [_MARGIN + part for part in wrap(line, wide, subsequent_indent="    ", drop_whitespace=True)]
    return lines


def end_parts(session: Session, words: Words, columns: int) -> tuple[list[str], list[str]]:
    """How it ends: the call with what speaks for it and against it; what to do today with what can hurt."""
    # What advice stands on takes as long to load as all the rest; it is needed at the end only.
    from tepal.cli._guide_today import today

    wide = min(columns, _WIDEST + 4) - 4
    call, flora = session.call, session.flora
    said = ["*" + _MARGIN + line for line in wrap(sentence(call, flora, words), wide)]
    for doubt in look_again(call, flora, words):
        said += [_MARGIN + line for line in wrap(doubt, wide)]
    said += [_MARGIN + line for line in wrap(what_settles_it(call, flora, words), wide)]
    for head, looks in zip((words.t("For it:"), words.t("Against it:")), _for_and_against(session, words), strict=True):
        if looks:
            said += ["", *(_MARGIN + line for line in wrap(f"{head} {'; '.join(looks)}.", wide))]
    found = today(call, flora, words)
    doing = ["*" + _MARGIN + words.t("What to do today")]
    for at, step in enumerate(found.steps, 1):
        doing += [_MARGIN + line for line in wrap(f"{at}. {step}", wide, subsequent_indent="   ")]
    if found.cautions:
        doing += ["", "*" + _MARGIN + words.t("Take care")]
    for caution in found.cautions:
        doing += [_MARGIN + line for line in wrap(f"– {caution}", wide, subsequent_indent="  ")]
    return said, doing


def end_pages(session: Session, words: Words, columns: int, rows: int) -> list[list[str]]:
    """The end on as few pages as hold it; cautions stay on the page of what they belong to, where it holds both."""
    said, doing = end_parts(session, words, columns)
    whole = [*said, "", *doing]
    return [whole] if len(whole) <= rows else [*paged(said, rows), *paged(doing, rows)]


def _for_and_against(session: Session, words: Words) -> tuple[list[str], list[str]]:
    """Looks that speak for what leads and those that speak against it, strongest first."""
    told = [
        (look_in_words(name, _typed(answer), session.flora, words), times) for name, answer, times in session.pushes
    ]
    speak = [look for look, times in told if times >= _SPEAKS][:_MOST_FOR]
    return speak, [look for look, times in reversed(told) if times <= 1 / _SPEAKS][:_MOST_AGAINST]


def _typed(answer: str | float) -> str:
    return answer if isinstance(answer, str) else f"{answer:g}"


def paged(lines: Sequence[str], rows: int) -> list[list[str]]:
    """Lines cut into pages of at most `rows`, where there is a blank line to cut at."""
    pages: list[list[str]] = []
    rest = list(lines)
    while len(rest) > rows:
        blank = [at for at in range(rows // 2, rows + 1) if rest[at] == ""]
        cut = blank[-1] if blank else rows
        pages.append(rest[:cut])
        rest = rest[cut + 1 :] if blank else rest[cut:]
    return [*pages, rest]
