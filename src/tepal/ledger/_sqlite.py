"""SQLite as a ledger's store: one file of ours, with its log, whole and synced."""

from __future__ import annotations

import os
import sqlite3
import time
from contextlib import closing
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event

from tepal.tables import Refused

# Written into SQLite's header, so that another program's database is not taken for a ledger: "Tepa".
APPLICATION_ID = 0x54657061
LOCK_SECONDS = 60
WHOLE = "A ledger is a whole file."
_MAGIC = b"SQLite format 3\x00"


def sqlite_engine(path: Path, *, create: bool) -> Engine:
    """An engine on a file.

    Raises
    ------
    Refused
        If it is no ledger's, or is not there and is not to be made.
    """
    if path.is_dir():
        raise Refused("a folder", where=str(path), rule="A ledger is one file.", step="Name a file in it.")
    if not path.exists():
        if not create:
            raise Refused(
                "no ledger there",
                where=str(path),
                rule="The file must exist.",
                step="Check the name; `take` makes one.",
            )
        if not path.parent.is_dir():
            raise Refused("no such folder", where=str(path.parent), rule="It must exist.", step="Make it first.")
    elif not _is_sqlite(path):
        raise Refused("no ledger", where=str(path), rule="A ledger is a SQLite file.", step="Check the name.")
    else:
        _check_ours(path)
    kept = _only_to_be_read(path)
    url = f"sqlite:///{path.absolute().as_uri()}?immutable=1&uri=true" if kept else f"sqlite:///{path}"
    engine = create_engine(url, connect_args={"timeout": LOCK_SECONDS})

    def connected(raw: sqlite3.Connection, _record: Any) -> None:
        # The driver must not begin transactions by itself: `begun` says which kind each one is.
        raw.isolation_level = None
        if kept:
            return
        _log_ahead(raw)
        raw.execute("PRAGMA synchronous=FULL")
        raw.execute("PRAGMA foreign_keys=ON")

    def begun(connection: Connection) -> None:
        # IMMEDIATE: a writer that read first could otherwise fail halfway with "database is locked".
        immediate = connection.get_execution_options().get("tepal_writes")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if immediate else "BEGIN")

    event.listen(engine, "connect", connected)
    event.listen(engine, "begin", begun)
    return engine


def mark_as_ours(connection: Connection) -> None:
    """Write into SQLite's header that the file is a ledger."""
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql(f"PRAGMA application_id={APPLICATION_ID}")


def put_log_away(engine: Engine) -> None:
    """Bring what SQLite still has in its write-ahead log into the file itself."""
    if engine.dialect.name == "sqlite":
        with closing(engine.raw_connection()) as raw:
            raw.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")


def _log_ahead(raw: sqlite3.Connection) -> None:
    """Turn on the write-ahead log, waiting for it as for a lock.

    SQLite itself does not wait here while another connection is about to write, as when two make a ledger at once.
    """
    until = time.monotonic() + LOCK_SECONDS
    while True:
        try:
            raw.execute("PRAGMA journal_mode=WAL")
            return
        except sqlite3.OperationalError as problem:
            if problem.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > until:
                raise
            time.sleep(0.01)


def _only_to_be_read(path: Path) -> bool:
    """A whole ledger in a folder where nothing can be written: a backup, a snapshot. SQLite reads it if told so."""
    log = path.with_name(f"{path.name}-wal")
    whole = not log.exists() or log.stat().st_size == 0
    return path.exists() and whole and not os.access(path.parent, os.W_OK)


def _check_ours(path: Path) -> None:
    """Refuse another program's database before anything is set in it (turning on the write-ahead log would be)."""
    connection = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, timeout=LOCK_SECONDS)
    try:
        ours = connection.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
        tables = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    except sqlite3.OperationalError:
        return  # it cannot be opened for reading alone: the opening proper says why
    except sqlite3.DatabaseError as problem:
        raise Refused(f"no ledger: {problem}", where=str(path), rule=WHOLE, step="Check the name.") from None
    finally:
        connection.close()
    if tables and not ours:
        raise Refused(
            "another program's database", where=str(path), rule="A ledger is its own.", step="Check the name."
        )


def _is_sqlite(path: Path) -> bool:
    with path.open("rb") as file:
        # An empty file is what a database is before its first table.
        return file.read(len(_MAGIC)) in {b"", _MAGIC}
