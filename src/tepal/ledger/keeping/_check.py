"""Is a ledger whole? Everything is read and compared with what it says of itself; nothing is changed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, text
from sqlalchemy.exc import DatabaseError, SQLAlchemyError

from tepal.ledger._engine import is_url
from tepal.ledger.keeping._archive import Archive
from tepal.ledger.keeping._backup import photos_folder
from tepal.ledger.keeping._check_log import look_at_amendments, look_at_places, look_at_points
from tepal.ledger.keeping._check_photos import look_at_photos
from tepal.ledger.keeping._check_rows import look_at_batches, look_at_entries
from tepal.ledger.keeping._files import Progress, quiet
from tepal.ledger.keeping._findings import Checked, Seen
from tepal.ledger.keeping._tables import Snapshot, made_by, rows, snapshot
from tepal.tables import Refused
from tepal.words import Words

_MOST = 20  # lines that SQLite says of a broken file


def check(
    where: str | Path,
    *,
    photos: Path | None = None,
    words: Words | None = None,
    progress: Progress = quiet,
    now: datetime | None = None,
) -> Checked:
    """Look at all of a ledger, of one moment, while others may write; `findings` is empty where it is whole.

    Raises
    ------
    Refused
        If there is no ledger, a newer program made it, or the photos' folder is not known.
    """
    words, now = words or Words(), now or datetime.now(UTC)
    seen = Seen()
    folder = photos_folder(where, photos)
    try:
        with snapshot(where, whole=False) as store:
            _look_at_store(store, seen, words)
            named = {one.name: one for one in store.tables}
            complete = _read(store, named.get("entry"), look_at_entries, seen, words)
            complete = _read(store, named.get("weather_batch"), look_at_batches, seen, words) and complete
    except (Refused, DatabaseError):
        torn = None if is_url(where) else _torn(Path(where))
        if torn is None:
            raise
        _found_broken(torn, seen, words)
        return Checked(tuple(seen.findings))
    if complete:
        # Of a table that could not be read to its end nothing can be said as a whole.
        look_at_places(seen, words)
        look_at_amendments(seen, words)
        look_at_points(seen, words)
    if seen.photos and folder is None:
        raise Refused(
            "no folder for photos",
            where="command line",
            rule="A ledger on PostgreSQL keeps originals in a folder that is named, and its entries name some.",
            step="Add --photos FOLDER.",
        )
    waiting = look_at_photos(folder, seen, words, now=now, progress=progress) if complete else ()
    return Checked(
        tuple(seen.findings),
        len(seen.entries),
        seen.forgotten,
        seen.batches,
        len(seen.photos),
        max(seen.places, default=0),
        waiting,
    )


def check_backup(file: Path, *, words: Words | None = None, progress: Progress = quiet) -> Checked:
    """Look at a backup: is every file in it what it was when it was made?

    Raises
    ------
    Refused
        If there is no such file.
    """
    words = words or Words()
    if not file.is_file():
        raise Refused("no backup there", where=str(file), rule="The file must exist.", step="Check the name.")
    seen = Seen()
    try:
        with Archive.open(file) as archive:
            archive.verify(progress)
    except Refused as problem:
        what = words.t("The backup cannot be trusted: {reason}.", reason=problem.what)
        seen.found("backup_broken", file.name, what, words.t("Use another one, and make a new one now."))
        return Checked(tuple(seen.findings))
    manifest = archive.manifest
    for name in manifest.damaged_photos:
        what = words.t("The original {name} was damaged already when the backup was made.", name=name)
        seen.found("photo_damaged", name, what, words.t("Look for it in an older backup."))
    for name in manifest.missing_photos:
        what = words.t("The original {name} was missing already when the backup was made.", name=name)
        seen.found("photo_missing", name, what, words.t("Look for it in an older backup."))
    count = {name: one.rows for name, one in manifest.tables.items()}
    return Checked(
        tuple(seen.findings),
        count.get("entry", 0),
        batches=count.get("weather_batch", 0),
        photos=len(archive.photos),
        last_seq=manifest.last_seq,
    )


def _torn(path: Path) -> str | None:
    """What SQLite says of a file so broken that it cannot be opened as a ledger; None where it says nothing."""
    with suppress(OSError), path.open("rb") as file:
        if not file.read(16).startswith(b"SQLite format 3"):
            return None
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as raw:
            said = str(raw.execute("PRAGMA integrity_check(1)").fetchone()[0])
    except sqlite3.OperationalError:
        return None
    except sqlite3.DatabaseError as problem:
        return str(problem)
    return None if said == "ok" else said


def _found_broken(said: str, seen: Seen, words: Words) -> None:
    what = words.t("The ledger's file is broken: {reason}.", reason=" ".join(said.split()))
    seen.found("store_broken", "file", what, _keep(words))


def _look_at_store(store: Snapshot, seen: Seen, words: Words) -> None:
    connection = store.connection
    sqlite = connection.dialect.name == "sqlite"
    if sqlite:
        _ask_sqlite(connection, seen, words)
    for name in store.gone:
        what = words.t("Table {name} is gone.", name=name)
        seen.found("table_gone", name, what, _keep(words))
    there = _there(connection)
    for name, table in _guards(store):
        if (name, table) not in there:
            what = words.t("What keeps table {table} from being changed ({name}) is gone.", table=table, name=name)
            step = words.t("Somebody may have changed rows by hand: what is found below tells which. Restore a backup.")
            seen.found("guard_gone", name, what, step)


def _ask_sqlite(connection: Connection, seen: Seen, words: Words) -> None:
    try:
        said = connection.exec_driver_sql(f"PRAGMA integrity_check({_MOST})").scalars().all()
        loose = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    except SQLAlchemyError as problem:
        said, loose = [str(getattr(problem, "orig", problem))], []
    for line in said:
        if line != "ok":
            _found_broken(str(line), seen, words)
    for table, row, other, _ in loose:
        what = words.t("Row {n} of table {table} points at nothing in {other}.", n=row, table=table, other=other)
        seen.found("row_loose", table, what, _keep(words))


def _guards(store: Snapshot) -> list[tuple[str, str]]:
    """Triggers that the version has: name and table."""
    if store.connection.dialect.name == "sqlite":
        return [(one.name, one.table) for one in made_by(store.revision) if one.kind == "trigger"]
    guards = [("entry_no_change", "entry"), ("weather_batch_no_change", "weather_batch")]
    if any("forgotten" in one.columns for one in store.tables if one.name == "entry"):
        guards.append(("entry_only_forgets", "entry"))
    return [(name, table) for name, table in guards if any(one.name == table for one in store.tables)]


def _there(connection: Connection) -> set[tuple[str, str]]:
    if connection.dialect.name == "sqlite":
        query = "SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger'"
    else:
        query = (
            "SELECT t.tgname, c.relname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
            "WHERE NOT t.tgisinternal AND t.tgenabled <> 'D' AND c.relnamespace = current_schema()::regnamespace"
        )
    return {(row[0], row[1]) for row in connection.execute(text(query))}


def _read(
    store: Snapshot,
    table: Table | None,
    look: Callable[[Iterator[Mapping[str, Any]], Seen, Words], None],
    seen: Seen,
    words: Words,
) -> bool:
    """Look at the rows of a table; False where they could not be read to the end."""
    if table is None:
        return False
    try:
        look((row._mapping for row in rows(store.connection, table)), seen, words)
    except SQLAlchemyError as problem:
        reason = " ".join(str(getattr(problem, "orig", problem)).split())
        last = max(seen.places, default=0)
        what = words.t(
            "Table {name} cannot be read beyond place {n}: {reason}.", name=table.name, n=last, reason=reason
        )
        seen.found("store_broken", table.name, what, _keep(words))
        return False
    return True


def _keep(words: Words) -> str:
    return words.t(
        "Stop writing to it, keep its files as they are, and restore the newest backup. What came in since is on the "
        "phones, or can be taken in again."
    )
