"""Where seed may have gone from a site, or come from to it: paths of movements that go forward in time."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from tepal.ledger._bodies import Move
from tepal.ledger._entry import Entry, event_date
from tepal.ledger._sites import SiteBook
from tepal.ledger._store import Ledger
from tepal.tables import Refused

# What goes from place to place and is not used up: where it was last is where it comes from.
_MACHINE = re.compile(
    r"machine|combine|harvest|header|cutter|swath|windrow|mower|baler|rake|planter|drill|seeder|till|disk|disc|plow|cultivat"
    r"|sprayer|tractor|truck|trailer|wagon|cart|auger|spreader",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Hop:
    """One movement: what, on which day, from where to where (ids of sites, or words for a place that is none).

    `start_reckoned`: nobody wrote where it came from; it is the machine of that tag, and there it was last.
    """

    entry: str
    what: str
    on: date
    start: str
    end: str
    end_is_site: bool = True
    tag: str | None = None
    start_reckoned: bool = False


@dataclass(frozen=True, slots=True)
class Reached:
    """A place on a path: the first day on which seed can have come there (or, traced back, the last on which it can
    have left), and the movements of such a path in order of time."""

    place: str
    is_site: bool
    on: date
    path: tuple[Hop, ...]


@dataclass(frozen=True, slots=True)
class Trace:
    """All movements that can have carried seed, in order of time, and the places that they join to the site."""

    site: str
    back: bool
    hops: tuple[Hop, ...]
    reached: tuple[Reached, ...]


def trace(
    ledger: Ledger,
    site: str,
    *,
    back: bool = False,
    first: date | None = None,
    last: date | None = None,
    known_to: int | None = None,
) -> Trace:
    """Movements that can have carried seed from a site (`back`: to it), one after the other.

    A movement counts if seed can have been where it began: a path may wait, and may not go back in time. Two of one
    day count in either order, for nobody wrote the hour. `first` and `last` bound the days of all movements: the day
    from which seed can have been at the site, and the day on which it was found.

    Raises
    ------
    Refused
        If there is no such site, or `last` lies before `first`.
    """
    if first is not None and last is not None and last < first:
        raise Refused(
            f"from {first} to {last}",
            where="command line",
            rule="The last day is not before the first.",
            step="Swap them.",
        )
    book = SiteBook(ledger.sites())
    known = ledger.find_site(site).id
    stands = ledger.standing(None, known_to=known_to).of("move")
    hops = [
        hop for hop in hops_of(stands, book) if (first is None or hop.on >= first) and (last is None or hop.on <= last)
    ]
    return follow(hops, known, back=back)


def hops_of(entries: Iterable[Entry], book: SiteBook) -> list[Hop]:
    """The movements that have a beginning and an end, in order of time; names of sites brought to their ids."""
    moves = sorted(
        ((event_date(entry), entry.seq or 0, entry, entry.body) for entry in entries if isinstance(entry.body, Move)),
        key=lambda item: item[:2],
    )
    hops = []
    was: dict[str, str] = {}
    for on, _, entry, body in moves:
        end, is_site = _end(entry, body, book)
        start = _site(book, body.from_site)[0] if body.from_site else None
        if start is None and entry.site is not None and entry.site != end:
            start = entry.site
        machine = body.tag.casefold() if body.tag and _MACHINE.search(body.what) else None
        reckoned = start is None and machine is not None and machine in was
        if start is None and machine is not None:
            start = was.get(machine)
        if machine is not None and end is not None:
            was[machine] = end
        if start is not None and end is not None and start != end:
            hops.append(Hop(entry.id, body.what, on, start, end, is_site, body.tag, reckoned))
    return hops


def _end(entry: Entry, body: Move, book: SiteBook) -> tuple[str | None, bool]:
    if body.to_site:
        return _site(book, body.to_site)[0], True
    if body.to_words:
        return _site(book, " ".join(body.to_words.split()))
    start = _site(book, body.from_site)[0] if body.from_site else None
    # Brought from elsewhere, entered where it came to.
    return (entry.site, True) if start is not None and entry.site not in (None, start) else (None, False)


def _site(book: SiteBook, text: str) -> tuple[str, bool]:
    """The id of the site that is meant, and True; a place that is no site on record as it is named, and False."""
    try:
        return book.find(text, where="movement").id, True
    except Refused:
        return text, False


def follow(hops: Sequence[Hop], site: str, *, back: bool = False) -> Trace:
    """The movements of `hops` that lie on a path from `site` (`back`: to it) whose days do not go back."""
    # Backwards is forwards with time turned round.
    ordered = sorted(hops, key=lambda hop: (hop.on, hop.entry), reverse=back)
    paths: dict[str, tuple[Hop, ...]] = {site: ()}
    when: dict[str, date] = {}
    used: list[Hop] = []
    for on, group in groupby(ordered, key=lambda hop: hop.on):
        waiting = list(group)
        # Rounds: each round knows the places of the round before, so that a path found first is one of the fewest.
        while True:
            ready = [hop for hop in waiting if (hop.end if back else hop.start) in paths]
            if not ready:
                break
            used += ready
            gone = {hop.entry for hop in ready}
            waiting = [hop for hop in waiting if hop.entry not in gone]
            new: dict[str, tuple[Hop, ...]] = {}
            for hop in ready:
                here, there = (hop.end, hop.start) if back else (hop.start, hop.end)
                path = (hop, *paths[here]) if back else (*paths[here], hop)
                if there not in paths and (there not in new or len(path) < len(new[there])):
                    new[there] = path
            for place, path in new.items():
                paths[place], when[place] = path, on
    is_site = {hop.end: hop.end_is_site for hop in hops} | {hop.start: True for hop in hops}
    reached = [Reached(place, is_site[place], when[place], path) for place, path in paths.items() if place != site]
    reached.sort(key=lambda one: (one.on, one.place), reverse=back)
    return Trace(site, back, tuple(sorted(used, key=lambda hop: (hop.on, hop.entry))), tuple(reached))
