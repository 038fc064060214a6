"""The letter as a few lines to send by phone: who, how sure, by when, what first, what not."""

from __future__ import annotations

from tepal.letter._data import LetterData
from tepal.letter._runs import Line, capital, clip
from tepal.letter._sheet import by_words
from tepal.letter._when import by_when
from tepal.letter._who import leading, title
from tepal.words import Words

# Three text messages of 160 signs.
MOST = 480
_WHO = 150


def phone(data: LetterData, words: Words) -> str:
    """At most `MOST` signs. What to do and what not to do are never left out; numbers go first when room is short."""
    answer = clip(title(data, words), _WHO)
    if data.looks.seen == "plants" and leading(data) is not None and not leading(data).proved:  # type: ignore[union-attr]
        chance = words.chance(leading(data).p_any)  # type: ignore[union-attr]
        answer = f"{answer} ({capital(chance)}.)"
    if data.looks.seen == "none" and data.looks.p_missed is not None:
        answer += " " + words.t("Some may still be there: {chance}.", chance=words.chance(data.looks.p_missed))
    first = _task(data, words, 150)
    dont = clip(capital(data.do_nots[0].text(words)), 110) if data.do_nots else ""
    law = words.t("The label is the law.")
    parts = [answer, _whole(by_when(data, words), 140), first, dont, law]
    # Left out in this order when the whole is too long.
    for drop in ((), (1,), (1, 4)):
        kept = [_closed(p) for i, p in enumerate(parts) if p and i not in drop]
        text = "\n".join(kept)
        if len(text) <= MOST:
            return text
    return clip(text, MOST)


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
    return clip(" ".join(p for p in (by_words(task, data, words), task.text(words)) if p), most)


def _closed(text: str) -> str:
    return text if text.endswith((".", "…", "!", "?", ")")) else text + "."
