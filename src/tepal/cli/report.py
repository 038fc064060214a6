"""`tepal report`: what came by telephone, text, visit or letter; and what goes back."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from cyclopts import Parameter

from tepal.cli import _out
from tepal.cli._state import named_state

if TYPE_CHECKING:
    from datetime import date

    from tepal.ledger import Filed
    from tepal.words import Words

_LINE = "command line"


def report(
    *,
    ledger: str,
    how: Literal["call", "text", "visit", "letter"] | None = None,
    words: str | None = None,
    who: str | None = None,
    place: str | None = None,
    photo: Annotated[list[Path] | None, Parameter(negative=(), consume_multiple=True)] = None,
    site: str | None = None,
    on: str | None = None,
    answer_by: str | None = None,
    by: str = "office",
    ground: str | None = None,
    county: str | None = None,
    state: str | None = None,
    region: str | None = None,
    photos: Path | None = None,
    insist: Annotated[bool, Parameter(negative=())] = False,
    reply: str | None = None,
    as_of: str | None = None,
    units: Literal["us", "metric"] = "us",
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """Enter a report, and say what to send back: the photos that would help, and by when to answer.

    With --reply SITE: the answer in the length of a text, once a plant of the site has been named.

    Parameters
    ----------
    ledger: str
        The ledger: a file, or postgresql://…; made if it is not there.
    how: str
        How it came in.
    words: str
        What was said, as it was said.
    who: str
        Who reported.
    place: str
        The place as it was claimed: a legal description (NW¼ 12-34N-15W), coordinates, a link shared from a telephone,
        or words.
    photo: list[Path]
        Photos that came with it.
    site: str
        The site, by id or name; a new one if there is none such. Without it, the site is found by the claimed place.
    on: str
        The day it came in (YYYY-MM-DD); today if not given.
    answer_by: str
        The day by which an answer was promised.
    by: str
        Who enters it.
    ground: str
        For a new site: field, ditch, roadside, drainage, conservation, feedlot, pasture, pivot_corner or other.
    county: str
        For a new site: its county.
    state: str
        For a new site: its state in the United States, by its two letters or its name.
    region: str
        For a new site: SE, CB, UM, SP or NE.
    photos: Path
        Folder for the originals of photos; beside the ledger if not given.
    insist: bool
        Make a new site of --site though its name is nearly that of another.
    reply: str
        Write the answer about this site instead of entering a report.
    as_of: str
        With --reply: count what happened up to this date (YYYY-MM-DD); today if not given.
    units: str
        us or metric.
    json_output: bool
        Print one JSON object.
    """
    from tepal.tables import Refused
    from tepal.words import Words

    told = Words(units=units)
    if reply is not None:
        if words is not None or how is not None:
            raise Refused("--reply and a report", where=_LINE, rule="One at a time.", step="Leave one out.")
        return _reply(ledger, reply, as_of, told, json_output=json_output)
    if how is None or words is None:
        raise Refused(
            "no report",
            where=_LINE,
            rule="A report says how it came and what was said.",
            step='Give --how call|text|visit|letter and --words "…", or --reply SITE.',
        )
    from datetime import date

    from tepal.ledger import Ledger, file_report
    from tepal.tables import parse_date

    day = None if on is None else parse_date(on, "--on")
    promised = None if answer_by is None else parse_date(answer_by, "--answer-by")
    with Ledger.open(ledger, create=True, photos=photos) as book:
        filed = file_report(
            book,
            how=how,
            words=words,
            who=who,
            place=place,
            photos=photo or (),
            site=site,
            on=day,
            answer_by=promised,
            by=by,
            site_fields={"ground": ground, "county": county, "state": named_state(state), "region": region},
            insist=insist,
            told=told,
        )
    due = promised or _next_weekday(day)
    from tepal.letter import ask_for_photos

    # What can no longer be kept is not promised once more.
    to_come = promised if promised is not None and promised >= date.today() else None
    back = ask_for_photos(told, answer_by=to_come, some_came=bool(filed.photos))
    if json_output:
        _out.emit(_plain(filed, due, back, promised=promised is not None))
    else:
        _say(filed, due, back, told, ground, ledger=ledger, promised=promised is not None)
    return _out.DONE


def _next_weekday(day: date | None) -> date:
    from datetime import date, timedelta

    due = (day or date.today()) + timedelta(days=1)
    while due.weekday() >= 5:
        due += timedelta(days=1)
    return due


def _plain(filed: Filed, due: date, back: str, *, promised: bool) -> dict[str, Any]:
    return {
        "added": filed.added,
        "report": filed.report.id,
        "site": filed.site.id,
        "name": filed.site.name,
        "new_site": filed.is_new,
        "place": None if filed.place is None else filed.place.plain(),
        "point_from": filed.point_from,
        "photos": filed.photos,
        "photos_known": filed.photos_known,
        "notes": filed.notes,
        "answer_due": due,
        "promised": promised,
        "send_back": back,
    }


def _say(filed: Filed, due: date, back: str, words: Words, ground: str | None, *, ledger: str, promised: bool) -> None:
    if "://" in ledger:
        ledger = "postgresql://…"  # an address may hold a password
    if filed.is_new:
        _out.say(words.t("Entered, with a new site: {name} ({id}).", name=filed.site.name, id=filed.site.id))
        if ground is None:
            _out.say(words.t("It was taken to be a field; --ground says otherwise."))
    else:
        _out.say(words.t("Entered for {name} ({id}).", name=filed.site.name, id=filed.site.id))
    place = filed.place
    if place is not None and place.survey is not None:
        acres = place.survey.acres
        size = "" if acres is None else words.t(", nominally {acres} acres", acres=words.number(acres))
        _out.say(words.t("The legal description: {text}{size}.", text=place.survey.text, size=size))
        if filed.point_from is None:
            _out.say(words.t("It has no coordinates: those are in the plats of the survey, which are not here."))
    if place is not None and place.point is not None:
        _out.say(
            words.t(
                "The place: {text}, within about {error}.",
                text=place.point.text, error=words.length(2 * place.point.error_m),
            )
        )  # fmt: skip
    elif filed.point_from == "photo":
        _out.say(words.t("The place is where the photo was taken."))
    if place is not None and not place.understood:
        _out.say(words.t("The place was kept as it was said."))
    for note in (*filed.notes, *(place.notes if place else ())):
        _out.say(note)
    _out.say(
        words.t("An answer was promised by {day}.", day=words.day(due, year=True))
        if promised
        else words.t("No day was promised; the next weekday is {day}.", day=words.day(due, year=True))
    )
    _out.say()
    _out.say(words.t("To send back:"))
    _out.say(back)
    _out.say()
    _out.say(
        words.t(
            "Once a plant of it has been entered, the answer in a text: tepal report --reply {id} --ledger {ledger}",
            id=shlex.quote(filed.site.id), ledger=shlex.quote(ledger),
        )
    )  # fmt: skip


def _reply(ledger: str, site: str, as_of: str | None, words: Words, *, json_output: bool) -> int:
    from datetime import date

    from tepal import advice as advising
    from tepal import letter as letters
    from tepal import reading as readings
    from tepal.flora import load
    from tepal.ledger import Ledger
    from tepal.tables import Refused, parse_date

    day = date.today() if as_of is None else parse_date(as_of, "--as-of")
    flora = load()
    with Ledger.open(ledger) as book:
        found = readings.read(book, site, as_of=day, flora=flora)
        entries = book.standing(found.site, day, found.known_to).entries
    if not found.facts["named_plants"] and not found.facts["none_seen"]:
        raise Refused(
            f"no plant of {found.name!r} has been looked at by {day}",
            where=_LINE,
            rule="An answer stands on a plant that was named.",
            step=f"Ask for photos, and enter what they show: {letters.ask_for_photos(words)}",
        )
    advice = advising.advise(found, flora=flora)
    text = letters.text_reply(found, advice, entries=entries, flora=flora, words=words)
    if json_output:
        _out.emit(
            {
                "site": found.site,
                "name": found.name,
                "as_of": found.as_of,
                "known_to": found.known_to,
                "text": text,
                "signs": len(text),
            }
        )
    else:
        _out.say(text)
    return _out.DONE
