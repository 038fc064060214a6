"""What one person may see of the record: a condition on entries, and a form that leaves out what is not theirs."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, and_, func, or_, select, true

from tepal.ledger import Entry, Ledger, Sample, standing
from tepal.ledger._ids import canonical
from tepal.ledger._rows import entry_of, of_kinds
from tepal.ledger._schema import entries as table
from tepal.serve._own import handed_in_by, own_ids
from tepal.serve._roles import Who

# What a laboratory is told of a sample: its label is the id, and nothing names the place or a person.
OF_A_SAMPLE = ("on", "step", "what", "laboratory", "test", "taxon", "sure", "resistant")

OF_THE_OFFICE = ("party", "report")
"""Kinds that tell of people: a scout sees those they wrote down, and the reports that were handed to them."""


@dataclass(frozen=True, slots=True)
class Sight:
    """What `who` may see: `condition` on rows of the entry table. `view` changes when that shrinks or grows."""

    who: Who
    view: str
    condition: ColumnElement[bool]
    own: frozenset[str] = frozenset()
    """Of a laboratory: what it handed in itself."""

    def entries(self, ledger: Ledger, *, after: int, limit: int) -> tuple[list[Entry], int, bool]:
        """Entries after a place in the log, the place to ask from next, and whether there are more."""
        with ledger.connected() as connection:
            # First the end, then what stands before it: what comes in meanwhile is for the next time.
            last = connection.execute(select(func.max(table.c.seq))).scalar() or 0
            query = (
                select(table)
                .where(table.c.seq > after, table.c.seq <= last, self.condition)
                .order_by(table.c.seq)
                .limit(limit + 1)
            )
            found = [entry_of(row) for row in connection.execute(query)]
        more = len(found) > limit
        if more:
            return found[:limit], found[limit - 1].seq or 0, True
        return found, max(after, last), False

    def get(self, ledger: Ledger, id: str) -> Entry | None:
        """The entry with this id, where this person may see it."""
        with ledger.connected() as connection:
            row = connection.execute(select(table).where(table.c.id == id, self.condition)).first()
            return None if row is None else entry_of(row)

    def plain(self, entry: Entry) -> dict[str, Any]:
        """The entry as this person is shown it, with its place in the log."""
        out = entry.plain() | {"seq": entry.seq, "got_at": None if entry.got_at is None else entry.got_at.isoformat()}
        if self.who.role == "laboratory":
            out["body"] = {key: value for key, value in out["body"].items() if key in OF_A_SAMPLE}
            out.pop("site", None)
            if entry.id not in self.own:
                out.pop("by")
        return out


def sight(ledger: Ledger, who: Who) -> Sight:
    """What this person may see now."""
    sees: list[Any] = [who.id, who.role, _last_forgotten(ledger)]
    if who.sees_all:
        return Sight(who, _named(sees), true())
    if who.role == "laboratory":
        samples = samples_of(ledger, who.laboratory)
        sent = table.c.id.in_(sorted(samples.seen))
        return Sight(who, _named([*sees, who.laboratory, samples.gone]), sent, own_ids(ledger, who, samples.seen))
    sites = sorted(who.sites)
    if who.role == "grower":
        letters = and_(table.c.kind == "letter", table.c.site.in_(sites))
        told_of = select(table.c.id).where(letters)
        taken_back = and_(table.c.kind == "withdraw", table.c.site.in_(sites), table.c.amends.in_(told_of))
        return Sight(who, _named([*sees, sites]), or_(letters, taken_back))
    calls = sorted(who.calls)
    theirs = handed_in_by(who.id)
    theirs_alone = and_(table.c.site.is_(None), theirs)
    handed = [table.c.id.in_(calls), table.c.amends.in_(calls)]
    beside = table.c.kind.in_(("photo", "sound"))
    shown = [and_(beside, table.c.body.contains(f'"of":"{id}"', autoescape=True)) for id in calls]
    # Who farms and owns it and who called is the office's to know; what a scout wrote down is theirs as well.
    told = or_(table.c.kind.not_in(OF_THE_OFFICE), theirs)
    own = and_(table.c.site.in_(sites), told)
    return Sight(who, _named([*sees, sites, calls]), or_(own, theirs_alone, *handed, *shown))


def mark_of(ledger: Ledger, place: int) -> str:
    """By what a place in the log is known again: a record that was restored has others there before long.

    It tells nothing of the entry that stands there, which may be somebody else's.
    """
    with ledger.connected() as connection:
        query = select(table.c.id, table.c.got_at).where(table.c.seq <= place).order_by(table.c.seq.desc()).limit(1)
        row = connection.execute(query).first()
    return _named(["place", *(row or ())])


def _named(sees: list[Any]) -> str:
    return hashlib.sha256(canonical(sees).encode()).hexdigest()[:32]


def _last_forgotten(ledger: Ledger) -> str | None:
    # What was forgotten here is forgotten on the devices too: they drop what they held and ask again.
    with ledger.connected() as connection:
        query = select(func.max(table.c.forgotten)).where(table.c.forgotten.is_not(None))
        found = connection.execute(query).scalar()
    return None if found is None else str(found)


@dataclass(frozen=True, slots=True)
class SamplesOf:
    """Samples of one laboratory: `standing` by label (the id of the entry it began with), `seen`: ids of entries that
    may be shown, each with its label; `gone`: labels that were theirs and are no longer."""

    standing: dict[str, Entry]
    seen: dict[str, str]
    gone: tuple[str, ...]


def samples_of(ledger: Ledger, laboratory: str | None) -> SamplesOf:
    """What was sent to a laboratory, as the record stands."""
    with ledger.connected() as connection:
        log = [entry_of(row) for row in connection.execute(of_kinds(("sample",)))]
    above = {entry.id: entry.amends for entry in log}

    def label(id: str) -> str:
        while (upper := above.get(id)) is not None:
            id = upper
        return id

    now = standing(log)
    theirs = {now.root[e.id]: e for e in now.entries if _names(e, laboratory)}
    ever = {e.id: label(e.id) for e in log if _names(e, laboratory)}
    seen = {id: root for id, root in ever.items() if root in theirs}
    return SamplesOf(theirs, seen, tuple(sorted(set(ever.values()) - set(theirs))))


def _names(entry: Entry, laboratory: str | None) -> bool:
    if laboratory is None:
        return False
    return isinstance(entry.body, Sample) and (entry.body.laboratory or "").casefold() == laboratory.casefold()
