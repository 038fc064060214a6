"""`tepal reading SITE`: what the record says of one site on one day, and what to do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from tepal.cli import _out

if TYPE_CHECKING:
    from tepal.flora import Flora
    from tepal.ledger import Entry
    from tepal.words import Words


def reading(
    site: str,
    *,
    ledger: Annotated[str, Parameter(help="The ledger: a file, or postgresql://…")],
    as_of: Annotated[
        str | None, Parameter(help="Count what happened up to this date (YYYY-MM-DD); today if not given.")
    ] = None,
    known_to: Annotated[int | None, Parameter(help="Count what had arrived up to this place in the ledger.")] = None,
    why: Annotated[
        str | None, Parameter(help="A JSON pointer into the reading: names the entries and sources behind it.")
    ] = None,
    law: Annotated[
        Path | None, Parameter(help="The office's own table of state law (CSV): its rows stand in place of ours.")
    ] = None,
    units: Annotated[Literal["us", "metric"], Parameter(help="Units of the sentences; JSON is always SI.")] = "us",
    json: Annotated[bool, Parameter(help="Print one JSON object.", negative="")] = False,
) -> int:
    """Read a site: which pigweed and how sure, how many, what closes when, what to do, what is unknown."""
    from tepal import advice as advising
    from tepal import reading as reading_room
    from tepal.flora import load, replace_law
    from tepal.ledger import Ledger
    from tepal.tables import parse_date
    from tepal.words import Words

    day = date.today() if as_of is None else parse_date(as_of, "--as-of")
    flora = load() if law is None else replace_law(load(), law)
    with Ledger.open(ledger) as book:
        found = reading_room.read(book, site, as_of=day, known_to=book.position(known_to), flora=flora)
    advice = advising.advise(found, flora=flora)
    words = Words(units=units)
    if why is not None:
        whole = reading_room.to_json(found) | {"advice": advising.to_json(advice, Words(units=units))}
        stand_on = reading_room.why(why, dict(found.why) | advising.provenance(advice), whole)
        if json:
            _out.emit(
                {"pointer": why, "entries": stand_on.entries, "sources": stand_on.sources, "basis": stand_on.basis}
            )
            return _out.DONE
        with Ledger.open(ledger) as book:
            behind = [(id, book.get(id)) for id in stand_on.entries]
        for line in _behind(why, behind, stand_on.sources, site=found.site, flora=flora, words=words):
            _out.say(line)
        return _out.DONE
    if json:
        _out.emit(reading_room.to_json(found) | {"advice": advising.to_json(advice, words)})
        return _out.DONE
    for line in reading_room.in_words(found, words):
        _out.say(line)
    for line in advising.in_words(advice, words):
        _out.say(line)
    return _out.DONE


def _behind(
    pointer: str,
    entries: Sequence[tuple[str, Entry | None]],
    keys: Sequence[str],
    *,
    site: str,
    flora: Flora,
    words: Words,
) -> Iterator[str]:
    """What a figure stands on, for people: what was seen, by whom and when, and what was published.

    Sentences are passed on to owners and tenants. What laboratories found at other places, and how somebody did in
    practice, is private: of those entries only the ids are told, which say nothing to who does not hold the ledger.
    """
    from tepal.ledger import ALWAYS, event_date, says

    if not entries and not keys:
        yield words.t("{pointer} stands on nothing of its own.", pointer=pointer or "/")
    if entries:
        yield words.t("{pointer} stands on these entries:", pointer=pointer or "/")
    elsewhere = [id for id, entry in entries if entry is not None and entry.site != site]
    for id, entry in entries:
        if entry is not None and entry.site != site:
            continue
        if entry is None:
            yield f"  {id}"
            continue
        on = event_date(entry)
        day = words.t("for every date") if on == ALWAYS else words.day(on, year=True)
        yield "  " + words.t("{day}, by {who}: {said}", day=day, who=entry.by, said=says(entry, words))
        yield f"    {id}"
    if elsewhere:
        yield "  " + words.plural(
            "{count} entry that is not of this place; what it says is not shown:",
            "{count} entries that are not of this place; what they say is not shown:",
            len(elsewhere),
        )
        yield from (f"    {id}" for id in elsewhere)
    if keys:
        yield words.t("and on what was published:") if entries else words.t("It stands on what was published:")
    for key in keys:
        source = flora.sources.get(key)
        yield f"  {key}" + (f": {source.citation}" if source else "")
