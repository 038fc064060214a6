"""Taking entries in: each is answered, in the order given; what one breaks changes nothing for the others."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, insert, select

from tepal.ledger import Entry, Ledger, Sample, Writer, entry_from_plain, new_id
from tepal.ledger._schema import assignments
from tepal.ledger._schema import entries as table
from tepal.serve._may_add import Ground, may_add, result_of_a_sample
from tepal.serve._office import still_let_in
from tepal.serve._own import keep_whose, own_ids
from tepal.serve._plausible import check_plausible
from tepal.serve._problems import Problem, of_refusal
from tepal.serve._roles import Who
from tepal.serve._sight import samples_of
from tepal.tables import Refused, Where

MOST_ENTRIES, MOST_BYTES = 500, 64_000
_CHUNK = 400


@dataclass(slots=True)
class _Item:
    """One entry that was sent: what became of it."""

    id: str | None
    where: Where
    entry: Entry | None = None
    outcome: str = "refused"
    seq: int | None = None
    problem: Refused | None = None

    def plain(self) -> dict[str, Any]:
        problem = None if self.problem is None else of_refusal(self.problem).plain()
        return {"id": self.id, "outcome": self.outcome, "seq": self.seq, "problem": problem}


def take_in(ledger: Ledger, who: Who, sent: Sequence[Any], *, now: datetime) -> list[dict[str, Any]]:
    """Add what may be added; one answer for each of `sent`. When it returns, the store has committed.

    Raises
    ------
    Refused
        If the store cannot be written; nothing was added then.
    Problem
        401 if the device was shown out while it sent.
    """
    whole = _Whole(ledger, who) if who.role == "laboratory" else None
    items = [_read(who, data, number, whole) for number, data in enumerate(sent)]
    good = [item.entry for item in items if item.entry is not None]
    if good:
        with ledger.connected(write=True) as connection:
            if not still_let_in(connection, who):
                raise Problem(401)
            ground = Ground.of(connection, good, who)
            for number, item in enumerate(items):
                if item.entry is not None and who.role != "laboratory":
                    item.problem = may_add(who, item.entry, ground, _where(number))
                elif item.entry is not None:
                    item.problem = _changed_meanwhile(item.entry, ground, _where(number))
                if item.problem is not None:
                    item.entry = None
            _add(connection, items)
            keep_whose(connection, who.id, [item.entry.id for item in items if item.entry and item.seq is not None])
            _give_drafts(connection, who, items, ground.drafts, now)
    return [item.plain() for item in items]


class _Whole:
    """Makes whole what a laboratory sends of a sample: the record knows the site, which is never told."""

    def __init__(self, ledger: Ledger, who: Who) -> None:
        self._ledger, self._who = ledger, who
        self._samples = samples_of(ledger, who.laboratory)

    def __call__(self, data: dict[str, Any], where: Where) -> dict[str, Any]:
        id, amends = data.get("id"), data.get("amends")
        sent = self._ledger.get(id.lower()) if isinstance(id, str) else None
        if sent is not None and sent.amends is not None and own_ids(self._ledger, self._who, [sent.id]):
            # Sent again: it amends what it amended then, or the same words would be another entry.
            return result_of_a_sample(data, self._ledger.get(sent.amends), where)
        label = self._samples.seen.get(amends) if isinstance(amends, str) else None
        return result_of_a_sample(data, None if label is None else self._samples.standing.get(label), where)


def _read(who: Who, data: Any, number: int, whole: _Whole | None) -> _Item:
    id = data.get("id") if isinstance(data, dict) else None
    where = _where(number)
    item = _Item(id[:100] if isinstance(id, str) else None, where)
    try:
        if isinstance(data, dict):
            if len(json.dumps(data, ensure_ascii=False).encode("utf-8", "replace")) > MOST_BYTES:
                raise Refused(
                    "the entry is too large", where=where, rule=f"At most {MOST_BYTES:,} bytes.", step="Shorten it."
                )
            # Who says it is who holds the device; when it came and where it stands is the store's to say.
            data = {key: value for key, value in data.items() if key not in {"by", "seq", "got_at"}} | {"by": who.name}
            if whole is not None:
                data = whole(data, where)
        entry = entry_from_plain(data, where=where)
        check_plausible(entry, where)
        item.entry, item.id = entry, entry.id
    except Refused as problem:
        item.problem = problem
    return item


def _add(connection: Connection, items: Sequence[_Item]) -> None:
    """Put them in; the same id twice in one request is asked about twice."""
    writer = Writer(connection)
    left = [item for item in items if item.entry is not None]
    while left:
        batch: dict[str, _Item] = {}
        again = []
        for item in left:
            assert item.entry is not None
            (again.append(item) if item.entry.id in batch else batch.__setitem__(item.entry.id, item))
        known = writer.known(batch)
        places = {id: item.where for id, item in batch.items()}
        done = writer.add([item.entry for item in batch.values() if item.entry is not None], where=places)
        refused = {one.id: one.why for one in done.refused}
        at = _places(connection, list(batch))
        for id, item in batch.items():
            item.problem = refused.get(id)
            if item.problem is None:
                item.outcome, item.seq = "already" if id in known else "added", at[id]
        left = again


def _places(connection: Connection, ids: list[str]) -> dict[str, int]:
    out: dict[str, int] = {}
    for start in range(0, len(ids), _CHUNK):
        query = select(table.c.id, table.c.seq).where(table.c.id.in_(ids[start : start + _CHUNK]))
        out |= {row.id: row.seq for row in connection.execute(query)}
    return out


def _give_drafts(connection: Connection, who: Who, items: Sequence[_Item], drafts: set[str], now: datetime) -> None:
    """Who drafts a site sees it from then on."""
    made = {item.entry.site for item in items if item.entry and item.outcome == "added" and item.entry.kind == "site"}
    for site in sorted(drafts & made):
        connection.execute(
            insert(assignments).values(id=new_id(), person=who.id, site=site, entry=None, made_at=now.isoformat())
        )


def _changed_meanwhile(entry: Entry, ground: Ground, where: Where) -> Refused | None:
    old = ground.entries.get(entry.amends or "")
    if old is None or not isinstance(old.body, Sample):
        return Refused("the sample is gone", where=where, rule="It must be on record.", step="Ask for news first.")
    return None


def _where(number: int) -> Where:
    return Where(f"entries[{number}]")
