"""From a report to a reply in three steps: read it, name the plant, answer.

The looks that were answered stand in the page's own address, one question after another; nothing is kept until the
last of them is saved as a plant.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from tepal import plant as naming
from tepal.flora import STAGE_WORDS, STAGES, Flora
from tepal.ledger import Plant
from tepal.letter import ask_for_photos
from tepal.plates import draw
from tepal.serve import Who
from tepal.serve.desk._calls import Call
from tepal.serve.desk._links import Links
from tepal.serve.desk._render import drawing
from tepal.serve.desk._told import wording
from tepal.tables import Refused
from tepal.words import Words

STAGE = "stage"


@dataclass(frozen=True, slots=True)
class CallLine:
    """One call in the list of calls."""

    href: str
    site: str
    how: str
    when: str
    said: str
    promised: str
    late: bool
    answered: str = ""


@dataclass(frozen=True, slots=True)
class CallsView:
    """The list: those that wait, the one promised earliest first; and those that were answered, the newest first."""

    waiting: tuple[CallLine, ...]
    answered: tuple[CallLine, ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer to a question: its words, its drawing, the address of the page with it."""

    text: str
    href: str
    picture: Any = None


@dataclass(frozen=True, slots=True)
class Naming:
    """The plant on the photos as far as it was looked at: the next question, or what it is."""

    question: str
    choices: tuple[Choice, ...]
    unit: str
    character: str
    answers: tuple[tuple[str, str], ...]
    so_far: str
    back: str
    again: str
    stage: str
    kept: tuple[tuple[str, str], ...]
    may_save: bool


@dataclass(frozen=True, slots=True)
class CallView:
    """One call on its way to an answer. `step` is the one that the page shows open."""

    title: str
    step: int
    steps: tuple[tuple[str, str, bool], ...]
    how: str
    said: str
    who: str
    place: str
    photos: tuple[tuple[str, str], ...]
    site: str
    site_name: str
    promised: str
    late: bool
    map: Any
    naming: Naming | None
    named: str
    reply: str
    thanks: str
    answered: str
    anew: bool
    entry: str
    may_answer: bool


def calls_view(calls: Sequence[Call], names: dict[str, str], *, as_of: date, words: Words, links: Links) -> CallsView:
    """The list of calls; `calls` are those that the asker may know of."""
    lines = [(call, _line(call, names, as_of, words, links)) for call in calls]
    waiting = sorted(
        (pair for pair in lines if pair[0].answered is None), key=lambda pair: pair[0].report.answer_by or date.max
    )
    return CallsView(
        tuple(line for _, line in waiting), tuple(line for call, line in reversed(lines) if call.answered is not None)
    )


def _line(call: Call, names: dict[str, str], as_of: date, words: Words, links: Links) -> CallLine:
    promised = call.report.answer_by
    return CallLine(
        href=links.call(call.entry.id),
        site=names.get(call.site, call.site),
        how=_how(call, words),
        when=words.day(call.on, year=call.on.year != as_of.year),
        said=" ".join(call.report.words.split()),
        promised="" if promised is None else words.t("Promised by {day}.", day=words.day(promised)),
        late=call.answered is None and promised is not None and promised < as_of,
        answered="" if call.answered is None else words.t("Answered by {who}.", who=call.answered.by),
    )


def call_name(call: Call, words: Words) -> str:
    """A call in one line, as a link to it says."""
    return words.t("{how} of {day} waits for an answer", how=_how(call, words), day=words.day_month(call.on))


def _how(call: Call, words: Words) -> str:
    return {
        "call": words.t("A call"),
        "text": words.t("A text"),
        "visit": words.t("A visit"),
        "letter": words.t("A letter"),
    }[call.report.how]


def call_view(
    call: Call,
    *,
    step: int | None,
    stage: str | None,
    looks: Sequence[str],
    plants: Sequence[Plant],
    name: str,
    page: dict[str, Any] | None,
    anew: bool,
    region: str | None,
    prior: dict[str, float] | None,
    who: Who,
    flora: Flora,
    words: Words,
    links: Links,
    as_of: date,
) -> CallView:
    """The page of a call. `plants`: those of the site that were looked at this season; `page`: its last reading.

    Raises
    ------
    Refused
        If a look in the address is none.
    """
    report = call.report
    said = None if page is None else page["words"][wording(words)]
    step = step if step in (1, 2, 3) else 1
    heads = (words.t("Read it"), words.t("Name the plant"), words.t("Answer"))
    done = (True, bool(plants), call.answered is not None)
    place = None if report.place is None else report.place
    promised = report.answer_by
    thanks = ask_for_photos(words, answer_by=promised, some_came=bool(report.photos))
    return CallView(
        title=words.t("{how} about {site}", how=_how(call, words), site=name),
        step=step,
        steps=tuple(
            (head, links.call(call.entry.id, step=str(i)), ok)
            for i, (head, ok) in enumerate(zip(heads, done, strict=True), 1)
        ),
        how=words.t("{how}, {day}", how=_how(call, words), day=words.day(call.on, year=True)),
        said=" ".join(report.words.split()),
        who=report.who or "",
        place="" if place is None else place.words or "",
        photos=tuple((links.photo(photo), links.photo(photo, 1600)) for photo in report.photos),
        site=links.site(call.site),
        site_name=name,
        promised="" if promised is None else words.t("An answer was promised by {day}.", day=words.day(promised)),
        late=call.answered is None and promised is not None and promised < as_of,
        map=None if said is None or said["map"] is None else drawing(said["map"]["svg"], said["map"]["alt"]),
        naming=None
        if step != 2
        else _naming(call, stage, looks, region=region, prior=prior, flora=flora, words=words, links=links),
        named="" if said is None else said["who"],
        reply="" if said is None or not plants else said["reply"],
        thanks=thanks,
        answered=""
        if call.answered is None
        else words.t(
            "Answered by {who}: {text}", who=call.answered.by, text=getattr(call.answered.body, "text", "") or ""
        ),
        anew=anew,
        entry=call.entry.id,
        may_answer=who.sees_all,
    )


def looks_of(pairs: Sequence[str], flora: Flora) -> dict[str, str | float]:
    """Looks as they stand in an address: `character:value` each.

    Raises
    ------
    Refused
        If one of them is none of the tables'.
    """
    found: dict[str, str | float] = {}
    for pair in pairs:
        name, _, value = pair.partition(":")
        told = flora.characters.get(name)
        if told is None or not value:
            raise Refused(
                f"look {pair[:60]!r}",
                where="look",
                rule="It is a character of the tables and its state.",
                step="Go back one question.",
            )
        if told.states or value == naming.CANNOT_TELL:
            found[name] = value
        else:
            try:
                found[name] = float(value.replace(",", "."))
            except ValueError:
                raise Refused(
                    f"{value[:20]!r} is no measurement", where=name, rule="It is a number.", step="Type it again."
                ) from None
    return found


def _naming(
    call: Call,
    stage: str | None,
    pairs: Sequence[str],
    *,
    region: str | None,
    prior: dict[str, float] | None,
    flora: Flora,
    words: Words,
    links: Links,
) -> Naming:
    def to(new_stage: str | None, new: Sequence[str]) -> str:
        asked = [("step", "2"), *([("stage", new_stage)] if new_stage else []), *(("look", pair) for pair in new)]
        if links.on is not None:
            asked.append(("on", links.on.isoformat()))
        return f"/calls/{call.entry.id}?{urlencode(asked)}"

    again = to(None, [])
    if stage not in (*STAGES, naming.UNKNOWN):
        choices = [Choice(words.t(STAGE_WORDS[one]), to(one, [])) for one in STAGES]
        choices.append(Choice(words.t("I cannot tell"), to(naming.UNKNOWN, [])))
        return Naming(
            words.t("How far along is the plant?"), tuple(choices), "", STAGE, (), "", "", again, "", (), False
        )
    looks = looks_of(pairs, flora)
    found = naming.identify(looks, stage=stage, region=region, prior=prior, flora=flora)
    answers = tuple(
        (
            words.t(flora.characters[name].label),
            words.t("cannot tell")
            if value == naming.CANNOT_TELL
            else naming.look_in_words(name, str(value), flora, words),
        )
        for name, value in looks.items()
    )
    # On a photo nothing can be measured, felt or pulled.
    following = [look for look in found.next if look.tool == "none" and flora.characters[look.character].states]
    kept = (("stage", stage), *(("look", pair) for pair in pairs))
    told = sum(1 for value in looks.values() if value != naming.CANNOT_TELL)
    so_far = naming.sentence(found, flora, words) if told else ""
    back = to(stage, pairs[:-1]) if pairs else again
    if found.enough or not following:
        settles = naming.what_settles_it(found, flora, words)
        return Naming("", (), "", "", answers, f"{so_far} {settles}".strip(), back, again, stage, kept, told > 0)
    asked = flora.characters[following[0].character]
    choices = [
        Choice(
            _capital(words.t(asked.state_words[state])),
            to(stage, [*pairs, f"{asked.name}:{state}"]),
            _picture(asked.name, state, flora, words),
        )
        for state in asked.states
    ]
    choices.append(Choice(words.t("I cannot tell"), to(stage, [*pairs, f"{asked.name}:{naming.CANNOT_TELL}"])))
    return Naming(
        words.t(asked.question),
        tuple(choices),
        asked.unit,
        asked.name,
        answers,
        so_far,
        back,
        again,
        stage,
        kept,
        told > 0,
    )


def _picture(character: str, state: str, flora: Flora, words: Words) -> Any:
    try:
        return drawing(draw(flora, character, state, words=words).svg)
    except Refused:
        return None


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
