"""The tables of a store, whatever they are, as lines of JSON and back; all read at one moment."""

from __future__ import annotations

import base64
import json
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from sqlalchemy import (
    Connection,
    MetaData,
    Select,
    Table,
    collate,
    create_engine,
    delete,
    func,
    insert,
    inspect,
    select,
    text,
    types,
)

from tepal.ledger._engine import is_url, open_as_it_is
from tepal.ledger._migrating import migrate
from tepal.ledger.keeping._files import Progress, quiet
from tepal.tables import Refused, Where

VERSIONS = "alembic_version"  # written by the migrations themselves
_CHUNK = 500
_READ = 100  # rows may hold pages and pictures
_LARGE = 4_000_000  # signs of text after which a chunk is written, however few its rows are


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A store as it stands at one moment, while others write on."""

    connection: Connection
    revision: str
    tables: tuple[Table, ...]
    """In the order in which they can be filled: what is pointed at comes first."""
    others: tuple[str, ...]
    """Tables that are no part of a ledger."""
    gone: tuple[str, ...] = ()
    """Tables that a ledger of this version has and this one has not."""


class Made(NamedTuple):
    """A table, index or trigger, and the statement that makes it on SQLite (None for an index of a key)."""

    kind: str
    name: str
    table: str
    sql: str | None


@contextmanager
def snapshot(where: str | Path, *, whole: bool = True) -> Iterator[Snapshot]:
    """Read a store as it is, at whatever version, all of it at one moment.

    Raises
    ------
    Refused
        If there is no ledger, or a newer program made it; with `whole`, if a table of it is not there.
    """
    engine, revision = open_as_it_is(where)
    try:
        if is_url(where):
            # Without it each statement would see what was committed before that statement.
            engine = engine.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
        with engine.connect() as connection, connection.begin():
            found = tables_of(connection, revision)
            if whole and found.gone:
                raise Refused(
                    f"no table {found.gone[0]}",
                    where="ledger",
                    rule=f"A ledger of version {revision} has one.",
                    step="`tepal check` tells what is broken. Keep the ledger's files, and the backups that you have.",
                )
            yield found
    finally:
        engine.dispose()


def tables_of(connection: Connection, revision: str) -> Snapshot:
    """The tables of a ledger in a store, and what else lies there."""
    wanted = {one.table for one in made_by(revision) if one.kind == "table"} - {VERSIONS}
    there = set(inspect(connection).get_table_names()) - {VERSIONS}
    found = MetaData()
    for name in sorted(wanted & there):
        Table(name, found, autoload_with=connection)
    tables, others, gone = tuple(found.sorted_tables), tuple(sorted(there - wanted)), tuple(sorted(wanted - there))
    return Snapshot(connection, revision, tables, others, gone)


@lru_cache(maxsize=8)
def made_by(revision: str) -> tuple[Made, ...]:
    """What the migrations up to a version make, found by letting them make it in memory."""
    engine = create_engine("sqlite://")
    with engine.connect() as connection, connection.begin():
        migrate(connection, revision)
        found = connection.exec_driver_sql("SELECT type, name, tbl_name, sql FROM sqlite_master").all()
    engine.dispose()
    return tuple(Made(*row) for row in found)


def lines(connection: Connection, table: Table) -> Iterator[bytes]:
    """Every row as one line of JSON, in the order of its key, the same on every kind of store."""
    for row in rows(connection, table):
        plain = {column.name: _plain(value, table.name) for column, value in zip(table.columns, row, strict=True)}
        yield json.dumps(plain, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode() + b"\n"


def rows(connection: Connection, table: Table) -> Iterator[Any]:
    """Every row, in the order of its key, not all at once."""
    yield from connection.execute(_ordered(connection, table), execution_options={"yield_per": _READ})


def fill(
    connection: Connection, table: Table, text_lines: Iterable[bytes], *, file: str, progress: Progress = quiet
) -> int:
    """Put the rows of such lines into a table; how many.

    Raises
    ------
    Refused
        If a line is no row of the table.
    """
    if connection.execute(select(func.count()).select_from(table)).scalar():
        # A migration may put rows there; they are among those that come.
        connection.execute(delete(table))
    waiting: list[dict[str, Any]] = []
    size = count = 0
    for number, line in enumerate(text_lines, start=1):
        waiting.append(_row(table, line, Where(file, number)))
        count, size = number, size + len(line)
        if len(waiting) == _CHUNK or size > _LARGE:
            connection.execute(insert(table), waiting)
            progress(size)
            waiting, size = [], 0
    if waiting:
        connection.execute(insert(table), waiting)
        progress(size)
    if connection.dialect.name == "postgresql":
        _count_on(connection, table)
    return count


def _ordered(connection: Connection, table: Table) -> Select[Any]:
    keys = list(table.primary_key.columns) or list(table.columns)
    if connection.dialect.name == "postgresql":
        # By bytes, as SQLite does, not as the server's language sorts.
        return select(table).order_by(
            *(collate(key, "C") if isinstance(key.type, types.String) else key for key in keys)
        )
    return select(table).order_by(*keys)


def _plain(value: Any, table: str) -> Any:
    if value is None or isinstance(value, (str, int, float)):
        return value
    if isinstance(value, (bytes, memoryview)):
        return base64.b64encode(value).decode()
    if isinstance(value, (datetime, date)):
        return value.isoformat()
    raise TypeError(f"no JSON form for {type(value).__name__} in table {table}")


def _row(table: Table, line: bytes, where: Where) -> dict[str, Any]:
    try:
        plain = json.loads(line)
        if not isinstance(plain, dict) or plain.keys() != {column.name for column in table.columns}:
            raise ValueError("other columns")
        return {column.name: _value(plain[column.name], column.type) for column in table.columns}
    except (ValueError, TypeError, RecursionError) as problem:
        raise Refused(
            f"no row of {table.name}: {problem}",
            where=where,
            rule=f"A row has the columns {', '.join(column.name for column in table.columns)}.",
            step="Use another backup; nothing was restored.",
        ) from None


def _value(plain: Any, kind: types.TypeEngine[Any]) -> Any:
    if plain is None:
        return None
    if isinstance(kind, types.LargeBinary):
        return base64.b64decode(plain, validate=True)
    if isinstance(kind, types.DateTime):
        return datetime.fromisoformat(plain)
    if isinstance(kind, types.Date):
        return date.fromisoformat(plain)
    wanted: tuple[type, ...]
    if isinstance(kind, types.Boolean):
        wanted = (bool,)
    elif isinstance(kind, types.Integer):
        wanted = (int,)
    elif isinstance(kind, (types.Float, types.Numeric)):
        wanted = (int, float)
    else:
        wanted = (str,)
    if not isinstance(plain, wanted) or (isinstance(plain, bool) and bool not in wanted):
        raise ValueError(f"{plain!r:.60} where {' or '.join(one.__name__ for one in wanted)} belongs")
    return plain


def _count_on(connection: Connection, table: Table) -> None:
    """Let a counter of the server go on behind the rows that were put in with their numbers."""
    for column in table.primary_key.columns:
        if not isinstance(column.type, types.Integer):
            continue
        name = connection.execute(
            text("SELECT pg_get_serial_sequence(:table, :column)"),
            {"table": f'"{table.name}"', "column": column.name},
        ).scalar()
        last = connection.execute(select(func.max(column))).scalar() if name else None
        if last is not None:
            connection.execute(text("SELECT setval(CAST(:name AS regclass), :last)"), {"name": name, "last": last})
