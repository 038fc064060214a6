"""Opening a store: SQLite in a file, or PostgreSQL; at the version of this program, or refused."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Engine, create_engine, event, inspect, text
from sqlalchemy.exc import DatabaseError, OperationalError, SQLAlchemyError

from tepal.ledger._schema import metadata
from tepal.tables import Refused

if TYPE_CHECKING:
    from alembic.config import Config

HEAD = "0006"  # the newest migration; a test compares it with the folder
# Written into SQLite's header, so that another program's database is not taken for a ledger: "Tepa".
APPLICATION_ID = 0x54657061
LOCK_SECONDS = 60
_WHOLE = "A ledger is a whole file."
_ALL_OR_NOTHING = "What is taken goes in as one whole; nothing was added."
# What SQLite and PostgreSQL say (a part of it, in small letters), what it means, and what to do.
_WHY_NOT = (
    ("disk is full", "the disk is full", "Make room on it, then try again."),
    ("no space left", "the disk is full", "Make room on it, then try again."),
    ("readonly", "the ledger may only be read here", "Check the rights of the file and of its folder."),
    ("read-only", "the ledger may only be read here", "Check the rights of the file and of its folder."),
    ("locked", "another program has been writing to it for a minute", "Wait until it is done, then try again."),
    ("disk i/o", "the disk could not be written", "Check its room and its health, then try again."),
)
_MAGIC = b"SQLite format 3\x00"


class NotWritten(Refused):
    """The store itself could not be written: not a fault of what was to go in."""


def is_url(where: str | Path) -> bool:
    return isinstance(where, str) and where.startswith(("postgresql://", "postgresql+psycopg://", "postgres://"))


def open_engine(where: str | Path, *, create: bool) -> Engine:
    """An engine on a store that has every table of this version.

    Raises
    ------
    Refused
        If there is none, it is something else, or a newer program made it.
    """
    engine = _postgresql(str(where)) if is_url(where) else _sqlite(Path(where), create=create)
    shown = _shown(where)
    try:
        with engine.connect() as connection:
            version = _version(connection)
            if version == HEAD:
                return engine
        _migrate(engine, shown, create=create)
    except OperationalError as problem:
        engine.dispose()
        raise _not_opened(problem, shown) from None
    except DatabaseError as problem:
        engine.dispose()
        raise Refused(f"no ledger: {_reason(problem)}", where=shown, rule=_WHOLE, step="Check the name.") from None
    except Refused:
        engine.dispose()
        raise
    return engine


def open_as_it_is(where: str | Path) -> tuple[Engine, str]:
    """An engine on a store that is not brought to this version, and the version that it has: to copy it, to check it.

    Raises
    ------
    Refused
        If there is no ledger, or a newer program made it.
    """
    shown = _shown(where)
    engine = _postgresql(str(where)) if is_url(where) else _sqlite(Path(where), create=False)
    try:
        with engine.connect() as connection:
            version = _version(connection)
            if version is None:
                _check_empty(connection, shown, create=False)
    except DatabaseError as problem:
        engine.dispose()
        raise _not_opened(problem, shown) from None
    except Refused:
        engine.dispose()
        raise
    _check_known(version, shown)
    return engine, str(version)


def open_empty(where: str | Path) -> Engine:
    """An engine on a store that has no ledger yet; what goes into it is the caller's.

    Raises
    ------
    Refused
        If it has one, or something that could be taken for one.
    """
    if not is_url(where):
        path = Path(where)
        if path.exists() and path.stat().st_size:
            raise Refused("a file is there", where=str(path), rule="Nothing is overwritten.", step="Name another.")
        return _sqlite(path, create=True)
    engine = _postgresql(str(where))
    try:
        with engine.connect() as connection:
            check_empty(connection, _shown(where))
    except DatabaseError as problem:
        engine.dispose()
        raise _not_opened(problem, _shown(where)) from None
    except Refused:
        engine.dispose()
        raise
    return engine


def check_empty(connection: Connection, shown: str) -> None:
    """Refuse a store that has a ledger, or a table that a ledger would have."""
    there = {"alembic_version", *metadata.tables} & set(inspect(connection).get_table_names())
    if there:
        raise Refused(
            f"a table named {sorted(there)[0]} is there",
            where=shown,
            rule="Nothing is overwritten.",
            step="Use an empty database.",
        )


def migrate(connection: Connection, revision: str = "head") -> None:
    """Bring the tables to a version, within the connection's transaction.

    Raises
    ------
    Refused
        If this program does not know the version.
    """
    from alembic import command

    if revision != "head":
        _check_known(revision, "ledger")
    config = _migrations()
    config.attributes["connection"] = connection
    command.upgrade(config, revision)


def mark_as_ours(connection: Connection) -> None:
    """Write into SQLite's header that the file is a ledger."""
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql(f"PRAGMA application_id={APPLICATION_ID}")


def put_log_away(engine: Engine) -> None:
    """Bring what SQLite still has in its write-ahead log into the file itself."""
    if engine.dialect.name == "sqlite":
        with closing(engine.raw_connection()) as raw:
            raw.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")


def writing(engine: Engine) -> Connection:
    """A connection whose transaction will hold the one write lock from its first statement."""
    return engine.connect().execution_options(tepal_writes=True)


def take_lock(connection: Connection) -> None:
    """Hold the one lock until commit; readers go on. On SQLite, BEGIN IMMEDIATE has already taken it."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": APPLICATION_ID})


def not_written(problem: SQLAlchemyError, shown: str) -> NotWritten:
    """Why a transaction could not be written, and what to do; nothing of it is in the ledger."""
    reason = _reason(problem)
    known = _known_reason(reason)
    if known is not None:
        return NotWritten(known[0], where=shown, rule=_ALL_OR_NOTHING, step=known[1])
    return NotWritten(
        f"the ledger could not be written: {reason}",
        where=shown,
        rule=_ALL_OR_NOTHING,
        step="Check the disk, the rights and the server; then take the files again.",
    )


def _not_opened(problem: SQLAlchemyError, shown: str) -> Refused:
    reason = _reason(problem)
    known = _known_reason(reason)
    return Refused(
        known[0] if known else f"the ledger cannot be opened: {reason}",
        where=shown,
        rule="A ledger must be there, on a disk with room, in a folder that may be written.",
        step=known[1] if known else "Check the name, the rights and whether the server runs.",
    )


def _known_reason(reason: str) -> tuple[str, str] | None:
    return next(((what, step) for sign, what, step in _WHY_NOT if sign in reason.casefold()), None)


def _sqlite(path: Path, *, create: bool) -> Engine:
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
        raw.execute("PRAGMA journal_mode=WAL")
        raw.execute("PRAGMA synchronous=FULL")
        raw.execute("PRAGMA foreign_keys=ON")

    def begun(connection: Connection) -> None:
        # IMMEDIATE: a writer that read first could otherwise fail halfway with "database is locked".
        immediate = connection.get_execution_options().get("tepal_writes")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if immediate else "BEGIN")

    event.listen(engine, "connect", connected)
    event.listen(engine, "begin", begun)
    return engine


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
        raise Refused(f"no ledger: {problem}", where=str(path), rule=_WHOLE, step="Check the name.") from None
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


def _postgresql(url: str) -> Engine:
    try:
        import psycopg  # noqa: F401 - only to say plainly that it is missing
    except ImportError:
        raise Refused(
            "PostgreSQL needs psycopg",
            where=_shown(url),
            rule="It is not installed with the core.",
            step="Install tepal[postgresql].",
        ) from None
    return create_engine("postgresql+psycopg://" + url.split("://", 1)[1], pool_pre_ping=True)


def _version(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return None if found is None else str(found)


def _migrate(engine: Engine, shown: str, *, create: bool) -> None:
    with writing(engine) as connection, connection.begin():
        take_lock(connection)
        # Asked again under the lock: another process may have been first.
        version = _version(connection)
        if version is None:
            _check_empty(connection, shown, create=create)
        else:
            _check_known(version, shown)
        migrate(connection)
        if version is None:
            mark_as_ours(connection)
    # Before anything else is written: if the disk then fills up, the log can be thrown away.
    put_log_away(engine)


def _migrations() -> Config:
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    return config


def _check_known(version: str | None, shown: str) -> None:
    from alembic.script import ScriptDirectory

    known = {script.revision for script in ScriptDirectory.from_config(_migrations()).walk_revisions()}
    if version not in known:
        raise Refused(
            f"the ledger has version {version}",
            where=shown,
            rule=f"This program knows versions up to {HEAD}.",
            step="Use the newer Tepal that made it; nothing was changed.",
        )


def _check_empty(connection: Connection, shown: str, *, create: bool) -> None:
    if {"entry", "weather_batch"} & set(inspect(connection).get_table_names()):
        raise Refused(
            "tables named entry or weather_batch", where=shown, rule="They are another's.", step="Use another database."
        )
    if not create:
        raise Refused("no ledger in it yet", where=shown, rule="It has no tables.", step="`take` makes them.")


def _shown(where: str | Path) -> str:
    # A URL may hold a password; a refusal is read aloud and logged.
    text_ = str(where)
    if "://" in text_ and "@" in text_:
        scheme, rest = text_.split("://", 1)
        return f"{scheme}://…@{rest.rsplit('@', 1)[1]}"
    return text_


def _reason(problem: SQLAlchemyError) -> str:
    inner = getattr(problem, "orig", None) or problem
    return str(inner).strip().splitlines()[0][:200]
