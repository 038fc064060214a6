"""The photos and voice notes that entries name, read from the rows as they lie there."""

from __future__ import annotations

import json
from collections.abc import Iterator

from sqlalchemy import Connection, column, select, table

ORIGINALS = ("photo", "sound")
"""Kinds of entries that stand for one original."""
KINDS = (*ORIGINALS, "plant", "report")
"""Kinds of entries that name originals."""


def originals_named(kind: str, body: str) -> tuple[str, ...]:
    """Content hashes that the body of an entry names, none where it cannot be read."""
    if kind not in KINDS:
        return ()
    try:
        plain = json.loads(body)
        found = [plain.get("sha256")] if kind in ORIGINALS else list(plain.get("photos") or ())
    except (ValueError, TypeError, AttributeError):
        return ()
    return tuple(one for one in found if isinstance(one, str))


def all_named(connection: Connection) -> Iterator[str]:
    """Content hashes that the entries of a store name."""
    entry = table("entry", column("seq"), column("kind"), column("body"))
    query = select(entry.c.kind, entry.c.body).where(entry.c.kind.in_(KINDS)).order_by(entry.c.seq)
    for kind, body in connection.execute(query, execution_options={"yield_per": 500}):
        yield from originals_named(kind, body)
