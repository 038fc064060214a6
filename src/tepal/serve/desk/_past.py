"""What the record says, entry by entry, as lines that a person reads."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any, cast

from tepal.ledger import ALWAYS, Entry, Party, Photo, Plant, Report, Sound, Stop, Told, event_date, says
from tepal.ledger._said import small_area
from tepal.serve import Who
from tepal.serve.desk._links import Links
from tepal.serve.desk._told import wording
from tepal.words import Words


@dataclass(frozen=True, slots=True)
class Past:
    """A line of the history. `href`: the page of a plant; `sound`: a voice note to be played; `fate`: corrected or
    taken back."""

    day: str
    text: str
    by: str = ""
    fate: str = ""
    href: str = ""
    sound: str = ""


def may_read(entry: Entry, who: Who) -> bool:
    """Who farms, owns and calls is the office's to know; a scout knows of the calls handed to them."""
    if who.sees_all:
        return True
    return not isinstance(entry.body, Party) and (not isinstance(entry.body, Report) or entry.id in who.calls)


def lines_of(
    log: Sequence[Told], page: dict[str, Any] | None, *, mine: Collection[str], who: Who, words: Words, links: Links
) -> list[Past]:
    """Entries in words, in the order given; counting stops of one visit, which follow each other, as one line.

    `mine`: ids of those that who asks handed in; of others they are not told who did.
    """

    def by(entry: Entry) -> str:
        return entry.by if who.sees_all or entry.id in mine else ""

    found: list[Past] = []
    for _, visit in groupby(log, key=_visit_of):
        told = list(visit)
        line = _past(told[0], page, words, links) if len(told) == 1 else _visit(told, words)
        found.append(replace(line, by=by(told[0].entry)))
    return found


def _visit_of(told: Told) -> object:
    entry = told.entry
    is_stop = told.status == "stands" and isinstance(entry.body, Stop)
    return (event_date(entry), entry.by) if is_stop else entry.id


def _visit(told: Sequence[Told], words: Words) -> Past:
    stops = [cast(Stop, one.entry.body) for one in told]
    counts = [sum(tally.count for tally in stop.counts) for stop in stops]
    areas = [stop.looked_at_m2 for stop in stops]
    parts = [words.plural("{count} counting stop", "{count} counting stops", len(stops))]
    if all(area is not None for area in areas):
        parts.append(words.t("{area} looked at", area=small_area(sum(area or 0.0 for area in areas), words)))
    some = sum(1 for count in counts if count)
    parts.append(
        words.t(
            "{plants} at {some} of them",
            plants=words.plural("{count} pigweed", "{count} pigweeds", sum(counts)),
            some=words.number(some),
        )
        if some
        else words.t("no pigweed seen")
    )
    return Past(_day(told[0].entry, words), ", ".join(parts) + ".")


def _day(entry: Entry, words: Words) -> str:
    on = event_date(entry)
    if on == ALWAYS:
        return words.t("for every date")
    day = words.day_month(on)
    if words.units == "us":
        return words.t("{day}, {year}", day=day, year=on.year)
    return words.t("{day} {year}", day=day, year=on.year)


def _past(told: Told, page: dict[str, Any] | None, words: Words, links: Links) -> Past:
    entry = told.entry
    names = {} if page is None else page["names"][wording(words)]
    text, href, sound = says(entry, words, taxa=names), "", ""
    if isinstance(entry.body, Plant):
        text, href = _named(entry.id, entry.body, page, words), links.plant(entry.id)
    elif isinstance(entry.body, Photo):
        href = links.photo(entry.body.sha256, 1600)
    elif isinstance(entry.body, Sound):
        sound = links.sound(entry.body.sha256)
    fate = {"stands": "", "amended": words.t("corrected later"), "withdrawn": words.t("taken back")}[told.status]
    return Past(_day(entry, words), text, fate=fate, href=href, sound=sound)


def _named(id: str, body: Plant, page: dict[str, Any] | None, words: Words) -> str:
    """A plant that was looked at, by its likeliest name."""
    named = None if page is None else page["plants"].get(id)
    name = None if page is None or named is None else page["names"][wording(words)].get(named["best"])
    if name is None or named is None:
        looks = words.plural("{count} look", "{count} looks", len(body.looks))
        return words.t("A plant, not named: {looks}.", looks=looks)
    return words.t("A plant: {name}, {sureness}.", name=name, sureness=words.sureness(named["p"]))
