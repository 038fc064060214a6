"""Opening a store: SQLite in a file, or PostgreSQL; at the version of this program, or refused."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection, Engine, create_engine, text
from sqlalchemy.exc import DatabaseError, OperationalError

from tepal.ledger._migrating import HEAD, check_empty, check_free, check_known, migrate, version_of
from tepal.ledger._sqlite import APPLICATION_ID, WHOLE, mark_as_ours, put_log_away, sqlite_engine
from tepal.ledger._unwritten import not_opened, reason_of, shown_as
from tepal.tables import Refused


def is_url(where: str | Path) -> bool:
    return isinstance(where, str) and where.startswith(("postgresql://", "postgresql+psycopg://", "postgres://"))


def open_engine(where: str | Path, *, create: bool) -> Engine:
    """An engine on a store that has every table of this version.

    Raises
    ------
    Refused
        If there is none, it is something else, or a newer program made it.
    """
    shown, engine = shown_as(where), engine_on(where, create=create)
    with _opening(engine, shown):
        with engine.connect() as connection:
            version = version_of(connection)
        if version != HEAD:
            _migrate(engine, shown, create=create)
    return engine


def open_as_it_is(where: str | Path) -> tuple[Engine, str]:
    """An engine on a store that is not brought to this version, and the version that it has: to copy it, to check it.

    Raises
    ------
    Refused
        If there is no ledger, or a newer program made it.
    """
    shown, engine = shown_as(where), engine_on(where, create=False)
    with _opening(engine, shown), engine.connect() as connection:
        version = version_of(connection)
        if version is None:
            check_free(connection, shown, create=False)
        check_known(version, shown)
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
        return engine_on(path, create=True)
    shown, engine = shown_as(where), engine_on(where, create=True)
    with _opening(engine, shown), engine.connect() as connection:
        check_empty(connection, shown)
    return engine


def engine_on(where: str | Path, *, create: bool) -> Engine:
    """An engine on a store, whatever is in it."""
    return _postgresql(str(where)) if is_url(where) else sqlite_engine(Path(where), create=create)


def writing(engine: Engine) -> Connection:
    """A connection whose transaction will hold the one write lock from its first statement."""
    return engine.connect().execution_options(tepal_writes=True)


def take_lock(connection: Connection) -> None:
    """Hold the one lock until commit; readers go on. On SQLite, BEGIN IMMEDIATE has already taken it."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": APPLICATION_ID})


@contextmanager
def _opening(engine: Engine, shown: str) -> Iterator[None]:
    """What goes wrong meanwhile is said plainly, and the engine is let go."""
    try:
        yield
    except OperationalError as problem:
        engine.dispose()
        raise not_opened(problem, shown) from None
    except DatabaseError as problem:
        engine.dispose()
        raise Refused(f"no ledger: {reason_of(problem)}", where=shown, rule=WHOLE, step="Check the name.") from None
    except Refused:
        engine.dispose()
        raise


def _postgresql(url: str) -> Engine:
    try:
        import psycopg  # noqa: F401 - only to say plainly that it is missing
    except ImportError:
        raise Refused(
            "PostgreSQL needs psycopg",
            where=shown_as(url),
            rule="It is not installed with the core.",
            step="Install tepal[postgresql].",
        ) from None
    return create_engine("postgresql+psycopg://" + url.split("://", 1)[1], pool_pre_ping=True)


def _migrate(engine: Engine, shown: str, *, create: bool) -> None:
    with writing(engine) as connection, connection.begin():
        take_lock(connection)
        # Asked again under the lock: another process may have been first.
        version = version_of(connection)
        if version is None:
            check_free(connection, shown, create=create)
        else:
            check_known(version, shown)
        migrate(connection)
        if version is None:
            mark_as_ours(connection)
    # Before anything else is written: if the disk then fills up, the log can be thrown away.
    put_log_away(engine)
