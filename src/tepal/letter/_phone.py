"""The letter as a few lines to send by phone: who, how sure, by when, what first, what not."""

from __future__ import annotations

from tepal.letter._data import LetterData
from tepal.letter._runs import Line, capital, clip, whole
from tepal.letter._sheet import by_words
from tepal.letter._when import by_when
from tepal.letter._who import leading, title
from tepal.words import Words

# Three text messages of 160 signs.
MOST = 480
_WHO = 150


def phone(data: LetterData, words: Words) -> str:
    """At most `MOST` signs. What to do and what not to do are never left out; numbers go first when room is short."""
    answer, top = clip(title(data, words), _WHO), leading(data, words)
    if data.looks.seen == "plants" and top is not None and not top.proved:
        chance = words.chance(top.p_any)
        answer = f"{answer} ({capital(chance)}.)"
    if data.looks.seen == "none" and data.looks.p_missed is not None:
        answer += " " + words.t("Some may still be there: {chance}.", chance=words.chance(data.looks.p_missed))
    dont = whole(capital(data.do_nots[0].text(words)), 110) if data.do_nots else ""
    law = words.t("The label is the law.")
    when = by_when(data, words)
    text = ""
    # The windows lose room before the first thing to do does.
    for room, most in ((220, 140), (220, 80), (160, 80), (120, 0)):
        parts = (answer, _whole(when, most) if most else "", _task(data, words, room), dont, law)
        text = "\n".join(_closed(part) for part in parts if part)
        if len(text) <= MOST:
            break
    return text if len(text) <= MOST else text[: MOST - 1] + "…"


def _whole(runs: Line, most: int) -> str:
    """As many whole sentences as there is room for, at least one."""
    told = ""
    for run in runs:
        if told and len(told) + len(run.text) > most:
            break
        told += run.text
    return clip(told, most)


def _task(data: LetterData, words: Words, most: int) -> str:
    if not data.tasks:
        return ""
    task = data.tasks[0]
    return " ".join(p for p in (by_words(task, data, words), whole(task.text(words), most)) if p)


def _closed(text: str) -> str:
    return text if text.endswith((".", "…", "!", "?", ")")) else text + "."
