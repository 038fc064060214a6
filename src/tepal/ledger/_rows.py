"""Reading back what is stored: checked before it went in, and nobody can have changed it."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from pydantic import ValidationError
from sqlalchemy import Row, Select, select

from tepal.ledger._bodies import BODIES
from tepal.ledger._entry import Entry, entry_from_plain
from tepal.ledger._schema import batches as batch_table
from tepal.ledger._schema import entries as entry_table
from tepal.ledger._values import STORED
from tepal.ledger._weather import WeatherBatch, WeatherTable, batch_from_rows, laid_over


def entry_of(row: Row[Any]) -> Entry:
    """A row of the entry table as an entry.

    Raises
    ------
    Refused
        If the row holds what this program would not have taken.
    """
    try:
        # The body is read through its model, which makes days and places of text; the rules between fields of the
        # entry itself held when it was taken, and nobody can have changed the row.
        return Entry.model_construct(
            id=row.id,
            kind=row.kind,
            site=row.site,
            by=row.by,
            made_at=datetime.fromisoformat(row.made_at),
            amends=row.amends,
            body=BODIES[row.kind].model_validate(json.loads(row.body), context=STORED),
            got_at=datetime.fromisoformat(row.got_at),
            seq=row.seq,
            forgotten=row.hash if row.forgotten else None,
        )
    except (ValidationError, ValueError, KeyError):
        data = {**row._mapping, "body": json.loads(row.body)}
        data["forgotten"] = data.pop("hash") if row.forgotten else None
        return entry_from_plain(data, where=f"ledger, seq {row.seq}")


def of_kinds(kinds: Iterable[str]) -> Select[Any]:
    """Query: all entries of these kinds, of every site, and whatever withdraws one of them, in order of arrival."""
    chosen = (
        select(entry_table.c.seq, entry_table.c.id)
        .where(entry_table.c.kind.in_(list(kinds)))
        .cte("chosen", recursive=True)
    )
    above = entry_table.alias("above")
    chosen = chosen.union(select(above.c.seq, above.c.id).join(chosen, above.c.amends == chosen.c.id))
    return select(entry_table).where(entry_table.c.seq.in_(select(chosen.c.seq))).order_by(entry_table.c.seq)


def batch_of(row: Row[Any]) -> WeatherBatch:
    """A row of the batch table as a batch."""
    return batch_from_rows(
        row.station, json.loads(row.rows), lon=row.lon, lat=row.lat, corrects=row.corrects, seq=row.seq
    )


def table_of(station: str, rows: Iterable[Row[Any]]) -> WeatherTable:
    """Rows of the batch table laid over each other: years of days, without a record for each."""
    return laid_over(station, [(row.id, row.lon, row.lat, json.loads(row.rows)) for row in rows])


def batches_query(station: str | None, known_to: int | None) -> Select[Any]:
    """Query: batches in order of arrival."""
    query = select(batch_table).order_by(batch_table.c.seq)
    if station is not None:
        query = query.where(batch_table.c.station == station)
    return query if known_to is None else query.where(batch_table.c.seq <= known_to)
