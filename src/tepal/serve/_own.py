"""Which entries a person handed in: by who held the device, never by a name, which two people may have."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from sqlalchemy import ColumnElement, Connection, insert, select

from tepal.ledger import Entry, Ledger, Writer
from tepal.ledger._schema import entries as table
from tepal.ledger._schema import handed_in
from tepal.serve._office import still_let_in
from tepal.serve._problems import Problem
from tepal.serve._roles import Who

_CHUNK = 400


def handed_in_by(person: str) -> ColumnElement[bool]:
    """Rows of the entry table that this person handed in."""
    return table.c.id.in_(select(handed_in.c.entry).where(handed_in.c.person == person))


def own_of(connection: Connection, person: str, ids: Iterable[str]) -> set[str]:
    """Those of `ids` that this person handed in."""
    return {id for id, one in _people(connection, ids).items() if one == person}


def own_ids(ledger: Ledger, who: Who, ids: Iterable[str]) -> frozenset[str]:
    """Those of `ids` that who asks handed in."""
    with ledger.connected() as connection:
        return frozenset(own_of(connection, who.id, ids))


def keep_whose(connection: Connection, person: str, ids: Collection[str]) -> None:
    """Note that a person handed entries in; what somebody handed in before stays theirs."""
    known = _people(connection, ids)
    rows = [{"entry": id, "person": person} for id in dict.fromkeys(ids) if id not in known]
    for start in range(0, len(rows), _CHUNK):
        connection.execute(insert(handed_in), rows[start : start + _CHUNK])


def add_as(ledger: Ledger, who: Who, entry: Entry) -> None:
    """Add an entry that who asks has made.

    Raises
    ------
    Refused
        If the ledger does not take it.
    Problem
        401 if the device was shown out meanwhile.
    """
    with ledger.connected(write=True) as connection:
        if not still_let_in(connection, who):
            raise Problem(401)
        added = Writer(connection).add([entry])
        if added.refused:
            raise added.refused[0].why
        keep_whose(connection, who.id, [entry.id])


def _people(connection: Connection, ids: Iterable[str]) -> dict[str, str]:
    wanted = list(ids)
    found: dict[str, str] = {}
    for start in range(0, len(wanted), _CHUNK):
        query = select(handed_in).where(handed_in.c.entry.in_(wanted[start : start + _CHUNK]))
        found |= {row.entry: row.person for row in connection.execute(query)}
    return found
