"""Up to which place in the ledger something concerns a site: its own entries, its station's weather, what a laboratory
found elsewhere, how the people who looked at its plants did in practice.

A reading knows of nothing else (`tepal.reading.gather`), so one made up to that place is the one made up to the end.
"""

from __future__ import annotations

import json
import threading

from sqlalchemy import ColumnElement, Connection, func, select

from tepal.ledger import Ledger
from tepal.ledger._schema import batches, entries


class Concerns:
    """Follows a ledger: each look reads only what came in since the last one."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._lock = threading.Lock()
        self._seen = 0
        self._own: dict[str, int] = {}
        self._weather: dict[str, int] = {}
        self._new_station = 0
        # A species that a laboratory found somewhere: it is a first find no more, and it may be near any other site.
        self._proofs = 0
        self._sampled: set[str | None] = set()
        # Practice tells how well a reader reads: it concerns the sites where they looked at plants.
        self._readers: dict[str, set[str]] = {}
        self._practised: dict[str, int] = {}
        self._drills: dict[str, str] = {}

    def look(self) -> int:
        """Take note of what came in; gives the place up to which it is known."""
        with self._lock:
            with self._ledger.connected() as connection:
                last = _last(connection)
                if last > self._seen:
                    self._follow(connection, last)
            return self._seen

    def _follow(self, connection: Connection, last: int) -> None:
        new = entries.c.seq.between(self._seen + 1, last)
        own = select(entries.c.site, func.max(entries.c.seq)).where(new, entries.c.site.is_not(None))
        for site, seq in connection.execute(own.group_by(entries.c.site)):
            self._own[site] = seq
        told = select(entries.c.seq, entries.c.site, entries.c.kind, entries.c.body)
        samples = told.where(new, entries.c.kind == "sample").order_by(entries.c.seq)
        for seq, site, _, body in connection.execute(samples):
            if json.loads(body).get("taxon"):
                self._sampled.add(site)
                self._proofs = seq
        # Which county a proof counts for, and whether it was taken back.
        named = entries.c.kind.in_(("site", "withdraw", "sample")) & entries.c.site.in_(list(self._sampled))
        changed = connection.execute(select(func.max(entries.c.seq)).where(new, named)).scalar()
        self._proofs = max(self._proofs, changed or 0)
        self._follow_readers(connection, new)
        fresh = batches.c.seq.between(self._seen + 1, last)
        weather = select(batches.c.station, func.max(batches.c.seq), func.min(batches.c.seq))
        for station, newest, first in connection.execute(weather.where(fresh).group_by(batches.c.station)):
            if station not in self._weather:
                self._new_station = max(self._new_station, first)
            self._weather[station] = newest
        self._seen = last

    def _follow_readers(self, connection: Connection, new: ColumnElement[bool]) -> None:
        looked = select(entries.c.site, entries.c.by).where(new, entries.c.kind == "plant", entries.c.site.is_not(None))
        for site, by in connection.execute(looked.distinct()):
            self._readers.setdefault(site, set()).add(by.casefold())
        columns = (entries.c.seq, entries.c.id, entries.c.kind, entries.c.amends, entries.c.body)
        told = select(*columns).where(new, entries.c.kind.in_(("drill", "withdraw"))).order_by(entries.c.seq)
        for seq, id, kind, amends, body in connection.execute(told):
            reader = self._drills.get(amends)
            if kind == "drill":
                reader = self._drills[id] = str(json.loads(body).get("reader", "")).casefold()
            elif reader is not None:
                self._drills[id] = reader  # what withdraws a withdrawal speaks of the same practice
            for one in {reader, self._drills.get(amends)} - {None}:
                self._practised[str(one)] = seq

    def sites(self) -> list[str]:
        """Every site that an entry names, sorted."""
        with self._lock:
            return sorted(self._own)

    def of(self, site: str, station: str | None) -> int:
        """The place of what concerns a site last. `station`: that of its last reading, None where it has none yet.

        Without a reading every station may be the site's.
        """
        with self._lock:
            weather = self._weather.get(station, 0) if station else max(self._weather.values(), default=0)
            practised = (self._practised.get(reader, 0) for reader in self._readers.get(site, ()))
            return max(self._own.get(site, 0), weather, self._new_station, self._proofs, *practised)


def _last(connection: Connection) -> int:
    found = (connection.execute(select(func.max(table.c.seq))).scalar() or 0 for table in (entries, batches))
    return int(max(found))
