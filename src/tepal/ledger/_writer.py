"""Writing to a ledger, inside one transaction and under its lock."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, func, insert, select

from tepal.ledger._entry import Entry, body_plain
from tepal.ledger._ids import canonical
from tepal.ledger._rows import batch_of
from tepal.ledger._schema import batches as batch_table
from tepal.ledger._schema import entries as entry_table
from tepal.ledger._weather import WeatherBatch, news
from tepal.tables import Refused, Where

_CHUNK = 500


@dataclass(frozen=True, slots=True)
class RefusedEntry:
    """An entry or batch that was not taken, and why."""

    id: str
    why: Refused


@dataclass(frozen=True, slots=True)
class Added:
    """What came of adding: entries and days of weather that are new, those that were known, and what was refused."""

    added: int = 0
    already: int = 0
    refused: tuple[RefusedEntry, ...] = ()

    def __add__(self, other: Added) -> Added:
        return Added(self.added + other.added, self.already + other.already, self.refused + other.refused)


@dataclass(frozen=True, slots=True)
class _Known:
    kind: str
    site: str | None
    hash: str


class Writer:
    """Adds within one transaction; `seq` follows on without a gap, because nobody else can write meanwhile."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        found = [connection.execute(select(func.max(t.c.seq))).scalar() or 0 for t in (entry_table, batch_table)]
        self._seq = int(max(found))
        self._got_at = datetime.now(UTC).isoformat()

    def known(self, ids: Iterable[str]) -> set[str]:
        """Those of `ids` that the ledger has."""
        return set(self._lookup(list(ids)))

    def add(self, entries: Iterable[Entry], *, where: Mapping[str, Where] = {}) -> Added:
        """Add entries in order; `where` names, by id, the place an entry came from, for refusals."""
        wanted = list(entries)
        known = self._lookup([e.id for e in wanted] + [e.amends for e in wanted if e.amends is not None])
        rows: list[dict[str, Any]] = []
        already, refused = 0, []
        for entry in wanted:
            digest = entry.content_hash()
            place = where.get(entry.id, Where(f"entry {entry.id}"))
            old = known.get(entry.id)
            if old is not None:
                if old.hash == digest:
                    already += 1
                else:
                    refused.append(RefusedEntry(entry.id, _conflict(entry, place)))
                continue
            problem = _bad_amendment(entry, known, place)
            if problem is not None:
                refused.append(RefusedEntry(entry.id, problem))
                continue
            known[entry.id] = _Known(entry.kind, entry.site, digest)
            self._seq += 1
            rows.append(self._row(entry, digest))
        for start in range(0, len(rows), _CHUNK):
            self._connection.execute(insert(entry_table), rows[start : start + _CHUNK])
        return Added(len(rows), already, tuple(refused))

    def add_weather(self, batches: Iterable[WeatherBatch], *, file: str | None = None) -> Added:
        """Add batches in order, each without the days that are known already; counts are days."""
        total = Added()
        for batch in batches:
            rows = self._connection.execute(
                select(batch_table).where(batch_table.c.station == batch.station).order_by(batch_table.c.seq)
            ).all()
            if any(row.id == batch.id for row in rows):
                total += Added(already=len(batch.days))
                continue
            old = [batch_of(row) for row in rows]
            fresh, refused = news(batch, old, file=file or batch.station)
            if fresh.days and not any(row.id == fresh.id for row in rows):
                self._seq += 1
                self._connection.execute(insert(batch_table).values(self._batch_row(fresh)))
            known = len(batch.days) - len(fresh.days) - len(refused)
            total += Added(len(fresh.days), known, tuple(RefusedEntry(batch.id, problem) for problem in refused))
        return total

    def _lookup(self, ids: list[str]) -> dict[str, _Known]:
        out: dict[str, _Known] = {}
        columns = (entry_table.c.id, entry_table.c.kind, entry_table.c.site, entry_table.c.hash)
        for start in range(0, len(ids), _CHUNK):
            query = select(*columns).where(entry_table.c.id.in_(ids[start : start + _CHUNK]))
            for row in self._connection.execute(query):
                out[row.id] = _Known(row.kind, row.site, row.hash)
        return out

    def _row(self, entry: Entry, digest: str) -> dict[str, Any]:
        return {
            "seq": self._seq,
            "id": entry.id,
            "kind": entry.kind,
            "site": entry.site,
            "by": entry.by,
            "made_at": entry.made_at.isoformat(),
            "got_at": self._got_at,
            "amends": entry.amends,
            "body": canonical(body_plain(entry.body)),
            "hash": digest,
            "forgotten": None if entry.forgotten is None else self._got_at,
        }

    def _batch_row(self, batch: WeatherBatch) -> dict[str, Any]:
        return {
            "seq": self._seq,
            "id": batch.id,
            "station": batch.station,
            "lon": batch.lon,
            "lat": batch.lat,
            "corrects": batch.corrects,
            "days": len(batch.days),
            "got_at": self._got_at,
            "rows": batch.rows,
        }


def _conflict(entry: Entry, place: Where) -> Refused:
    return Refused(
        f"id {entry.id} is in the ledger with other content",
        where=Where(place.file, place.line, "id"),
        rule="An entry is never changed.",
        step="Make a new entry that amends it.",
    )


def amends_nothing(id: str, place: Where) -> Refused:
    """What is amended is not there."""
    return Refused(
        f"amends names {id}, which the ledger does not have",
        where=Where(place.file, place.line, "amends"),
        rule="What is amended comes first.",
        step="Take that entry in first, or correct the id.",
    )


def _bad_amendment(entry: Entry, known: Mapping[str, _Known], place: Where) -> Refused | None:
    if entry.amends is None:
        return None
    place = Where(place.file, place.line, "amends")
    target = known.get(entry.amends)
    if target is None:
        return amends_nothing(entry.amends, place)
    if target.site != entry.site:
        return Refused(
            f"site is {entry.site!r}, the amended entry's is {target.site!r}",
            where=place,
            rule="An amendment stays with its site.",
            step="Withdraw the entry and make a new one for the other site.",
        )
    if target.kind == "forgotten" and entry.kind not in {"forgotten", "withdraw"}:
        return Refused(
            f"amends names {entry.amends}, which was forgotten",
            where=place,
            rule="What was forgotten is not said again by amending it.",
            step="Leave it out, or make a new entry if the person wants to be on record.",
        )
    if entry.kind not in {target.kind, "withdraw"}:
        return Refused(
            f"kind is {entry.kind}, the amended entry's is {target.kind}",
            where=place,
            rule="An amendment has the kind of what it amends.",
            step="Withdraw the entry and make a new one.",
        )
    return None
