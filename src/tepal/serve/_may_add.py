"""What a role may add to the record. The ledger decides what is valid; this decides what is theirs to say."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, select

from tepal.ledger import Entry, Sample
from tepal.ledger._rows import entry_of
from tepal.ledger._schema import entries as table
from tepal.ledger._writer import amends_nothing
from tepal.serve._own import own_of
from tepal.serve._roles import Who
from tepal.tables import Refused, Where

# What says nothing of a site that is on record: a scout may say it of nowhere yet.
_OF_NO_SITE = frozenset({"report", "photo", "sound", "plant", "note", "drill", "withdraw"})
# A letter is signed by the office; what is forgotten is forgotten on the machine that holds the record.
_NEVER_A_SCOUTS = frozenset({"letter"})
# What was sent, whence, to whom and for what is not a laboratory's to change.
_THE_OFFICES = ("what", "of", "laboratory", "test")
_CHUNK = 400


@dataclass(slots=True)
class Ground:
    """What the rules need to know of the record: the entries named in `amends` or sent again, and sites there are."""

    entries: dict[str, Entry] = field(default_factory=dict)
    own: set[str] = field(default_factory=set)
    """Ids among these that who asks handed in."""
    sites: set[str] = field(default_factory=set)
    drafts: set[str] = field(default_factory=set)
    earlier: set[str] = field(default_factory=set)
    """Ids that came earlier in the same request: what comes again under one of them drafts nothing."""

    @classmethod
    def of(cls, connection: Connection, entries: Iterable[Entry], who: Who) -> Ground:
        wanted = list(entries)
        ids = sorted({e.id for e in wanted} | {e.amends for e in wanted if e.amends is not None})
        sites = sorted({e.site for e in wanted if e.site is not None})
        out = cls()
        for start in range(0, len(ids), _CHUNK):
            for row in connection.execute(select(table).where(table.c.id.in_(ids[start : start + _CHUNK]))):
                out.entries[row.id] = entry_of(row)
        for start in range(0, len(sites), _CHUNK):
            query = select(table.c.site).where(table.c.site.in_(sites[start : start + _CHUNK])).distinct()
            out.sites |= set(connection.execute(query).scalars())
        out.own = own_of(connection, who.id, ids)
        return out


def may_add(who: Who, entry: Entry, ground: Ground, where: Where) -> Refused | None:
    """Why this person may not say this; None where they may."""
    if entry.kind == "forgotten" or entry.forgotten is not None:
        return Refused(
            "kind is forgotten",
            where=where,
            rule="What is forgotten is forgotten where the record is kept.",
            step="Ask the office: `tepal forget` does it.",
        )
    if who.sees_all:
        return None
    if entry.id in ground.own:
        return None  # sent again: the ledger says whether it is the same
    problem = _scout(who, entry, ground, where) if who.role == "scout" else _not_theirs(entry, where)
    ground.earlier.add(entry.id)
    return problem


def _scout(who: Who, entry: Entry, ground: Ground, where: Where) -> Refused | None:
    if entry.kind in _NEVER_A_SCOUTS or (isinstance(entry.body, Sample) and entry.body.step == "result"):
        what = "a letter" if entry.kind in _NEVER_A_SCOUTS else "a result"
        return Refused(
            f"{what} is not a scout's to enter",
            where=where,
            rule="Letters are the office's, results the laboratory's.",
            step="Put it into a note, or tell the office.",
        )
    if entry.amends is not None:
        old = ground.entries.get(entry.amends)
        # What comes in the same batch is in no record yet, and is their own.
        if old is not None and old.id not in ground.own:
            # Of another's site it is not said that there is such an entry.
            return _not_theirs(entry, where) if who.at(old.site) else amends_nothing(entry.amends, where)
    site = entry.site
    if site is None:
        return None if entry.kind in _OF_NO_SITE else _not_theirs(entry, where)
    if site in who.sites or site in ground.drafts:
        return None
    fresh = entry.id not in ground.entries and entry.id not in ground.earlier
    if entry.kind == "site" and entry.amends is None and site not in ground.sites and fresh:
        ground.drafts.add(site)
        return None
    return _not_theirs(entry, where)


def _not_theirs(entry: Entry, where: Where) -> Refused:
    # The same words for a site that is another's and for one that does not exist.
    place = f"the site {entry.site!r}" if entry.site is not None else "this"
    return Refused(
        f"{place} is not assigned to you",
        where=where,
        rule="What you enter is of your own sites, and corrects what you entered yourself.",
        step="Ask the office to assign it to you; until then the entry stays on your device.",
    )


def result_of_a_sample(data: dict[str, Any], known: Entry | None, where: Where) -> dict[str, Any]:
    """What a laboratory sends, made whole: an amendment of the sample, at its site, with what was known of it.

    `known` is what stands of the sample that is amended, where it is theirs.

    Raises
    ------
    Refused
        If it is no step or result of a sample that was sent to them.
    """
    body = data.get("body")
    if known is None or data.get("kind") != "sample" or not isinstance(body, dict):
        raise Refused(
            "no sample of yours",
            where=where,
            rule="A laboratory enters, for samples that were sent to it, that they came and what was found.",
            step="Name in amends the label of the sample.",
        )
    if body.get("step") not in {"received", "result"}:
        raise Refused(
            f"step is {str(body.get('step'))[:40]!r}", where=where, rule="It is received or result.", step="Correct it."
        )
    before = known.plain()["body"]
    kept = {key: before[key] for key in _THE_OFFICES if key in before}
    said = {key: value for key, value in body.items() if key not in _THE_OFFICES}
    return {**data, "site": known.site, "amends": known.id, "body": {**said, **kept}}
