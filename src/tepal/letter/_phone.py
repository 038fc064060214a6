"""The letter as a few lines to send by phone: who, how sure, by when, what first, what not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tepal.letter._data import LetterData
from tepal.letter._runs import capital, clip, sentences
from tepal.letter._sheet import by_words
from tepal.letter._when import by_when
from tepal.letter._who import title
from tepal.words import Words

# Three text messages of 160 signs.
MOST = 480
# A text with one sign beyond the telephone's own alphabet holds less than half (3GPP TS 23.038).
_PLAIN = str.maketrans({"“": '"', "”": '"', "‘": "'", "’": "'", "–": "-", "−": "-", "…": "..."})


def phone(data: LetterData, words: Words) -> str:
    """At most `MOST` signs in whole sentences. What to do and what not to do are never left out; dates go first."""
    who = _Part([title(data, words), *_missed(data, words)])
    when, task, dont = _Part(_when(data, words)), _Part(_task(data, words)), _Part(_dont(data, words))
    for part in (who, task, dont):
        part.shown = min(1, len(part.sentences))
    label = [words.t("The label is the law.")]
    with_care = _Part([" ".join([*_care(data, words), *label])], 1)
    lines = (who, when, task, dont, with_care)
    plain, who.sentences[0] = who.sentences[0], title(data, words, chance=True)
    if len(_text(lines)) > MOST:
        who.sentences[0] = plain
    # The window that closes next, then the rest of what to do, as long as there is room.
    for part in (who, when, task, task, when, task):
        if part.shown < len(part.sentences):
            part.shown += 1
            if len(_text(lines)) > MOST:
                part.shown -= 1
    text = _text(lines)
    if len(text) > MOST:
        with_care.sentences = label
        text = _text(lines)
    if len(text) > MOST:
        # One sentence alone is longer than the text may be: the others keep their place.
        room = MOST - (len(text) - len(task.text))
        task.sentences = [clip(task.text, max(room, 40))]
        text = _text(lines)
    return text if len(text) <= MOST else clip(text, MOST)


@dataclass(slots=True)
class _Part:
    """A line of the text: its sentences, of which the first `shown` stand in it."""

    sentences: list[str]
    shown: int = 0

    @property
    def text(self) -> str:
        return " ".join(_closed(sentence) for sentence in self.sentences[: self.shown])


def _text(lines: Sequence[_Part]) -> str:
    return "\n".join(line.text for line in lines if line.text).translate(_PLAIN)


def _missed(data: LetterData, words: Words) -> list[str]:
    if data.looks.seen == "none" and data.looks.p_missed is not None:
        return [words.t("Some may still be there: {chance}.", chance=words.chance(data.looks.p_missed))]
    return []


def _when(data: LetterData, words: Words) -> list[str]:
    return [run.text for run in by_when(data, words) if run.text.strip()]


def _task(data: LetterData, words: Words) -> list[str]:
    if not data.tasks:
        return []
    task = data.tasks[0]
    first, *rest = sentences(capital((task.brief or task.text)(words)))
    return [" ".join(part for part in (by_words(task, data, words), first) if part), *rest]


def _care(data: LetterData, words: Words) -> list[str]:
    care = data.tasks[0].care if data.tasks else None
    return [care(words)] if care is not None else []


def _dont(data: LetterData, words: Words) -> list[str]:
    return sentences(capital(data.do_nots[0].text(words)))[:1] if data.do_nots else []


def _closed(text: str) -> str:
    return text if text.endswith((".", "…", "!", "?", ")")) else text + "."
