"""A ledger made of a backup: equal to what it was, or not there at all."""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DatabaseError, OperationalError, SQLAlchemyError

from tepal.ledger._engine import is_url, open_empty, take_lock, writing
from tepal.ledger._migrating import check_empty, migrate
from tepal.ledger._sqlite import mark_as_ours, put_log_away
from tepal.ledger._unwritten import not_written
from tepal.ledger.keeping._archive import TABLES, Archive
from tepal.ledger.keeping._backup import photos_folder
from tepal.ledger.keeping._files import Progress, blocks, held, put_in_place, quiet, sync_folder
from tepal.ledger.keeping._tables import fill, lines, tables_of
from tepal.tables import Refused

_ROOM = 20_000_000  # bytes that a store takes beside its rows


@dataclass(frozen=True, slots=True)
class Restored:
    """What came back: rows by table; photos that were put there, and those that lay there with the same content."""

    made_at: str
    tables: dict[str, int]
    photos: int
    photos_there: int
    last_seq: int
    missing: tuple[str, ...]
    damaged: tuple[str, ...]


def restore(file: Path, where: str | Path, *, photos: Path | None = None, progress: Progress = quiet) -> Restored:
    """Make a ledger of a backup, on either kind of store, whichever the backup is of.

    Everything in the backup is compared with its manifest before anything is written; what was written is read back
    and compared before the ledger is there. Originals go into their folder first, each whole or not at all. A run that
    was killed leaves no ledger, and can be run again.

    Raises
    ------
    Refused
        If the backup is not whole, if there is a ledger already, if an original of that name with other content lies
        in the folder, or if something cannot be written.
    """
    with Archive.open(file) as archive:
        folder = photos_folder(where, photos)
        if archive.photos and folder is None:
            raise Refused(
                "no folder for photos",
                where="command line",
                rule="A ledger on PostgreSQL keeps originals in a folder that is named, and the backup holds some.",
                step="Add --photos FOLDER.",
            )
        _check_target(where)
        _check_room(archive, where, folder)
        archive.verify(progress)
        fresh: list[Path] = []
        try:
            if folder is not None:
                _put_photos(archive, folder, fresh, progress)
            if is_url(where):
                _into(open_empty(where), archive, str(where), progress)
            else:
                _into_file(archive, Path(where), progress)
        except BaseException as problem:
            for path in fresh:
                path.unlink(missing_ok=True)
            if isinstance(problem, OSError):
                raise _not_written(problem, where) from None
            raise
        manifest = archive.manifest
        return Restored(
            manifest.made_at,
            {name: one.rows for name, one in manifest.tables.items()},
            len(fresh),
            len(archive.photos) - len(fresh),
            manifest.last_seq,
            tuple(manifest.missing_photos),
            tuple(manifest.damaged_photos),
        )


def _check_target(where: str | Path) -> None:
    """Refuse early what would be refused in the end."""
    if is_url(where):
        open_empty(where).dispose()
        return
    path = Path(where)
    for one in (path, path.with_name(f"{path.name}-wal"), path.with_name(f"{path.name}-journal")):
        # A log beside a ledger that is gone would be played into the one that is put there.
        if one.exists() or one.is_symlink():
            raise Refused(
                "something is there", where=str(one), rule="Nothing is overwritten.", step="Name another, or move it."
            )
    if not path.parent.is_dir():
        raise Refused("no such folder", where=str(path.parent), rule="It must exist.", step="Make it first.")


def _check_room(archive: Archive, where: str | Path, folder: Path | None) -> None:
    needs: dict[Path, int] = {}
    photos = sum(one.bytes for name, one in archive.manifest.files.items() if not name.startswith(TABLES))
    if not is_url(where):
        # Once in the log and once in the file, until the log is put away.
        needs[Path(where).parent] = 2 * (archive.unpacked - photos) + _ROOM
    if folder is not None:
        there = folder if folder.is_dir() else folder.parent
        needs[there] = needs.get(there, 0) + photos
    for place, size in needs.items():
        if place.is_dir() and shutil.disk_usage(place).free < size:
            raise Refused(
                f"{size:,} bytes may be needed",
                where=str(place),
                rule=f"There is room for {shutil.disk_usage(place).free:,}.",
                step="Make room there, or restore to another disk.",
            )


def _put_photos(archive: Archive, folder: Path, fresh: list[Path], progress: Progress) -> None:
    if not archive.photos:
        return
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    for name in archive.photos:
        target = folder / name
        if target.exists():
            _check_same(archive, name, target)
            continue
        handle, temporary = tempfile.mkstemp(dir=folder, prefix=".")
        made = Path(temporary)
        try:
            with os.fdopen(handle, "wb") as file:
                for part in archive.photo(name):
                    file.write(part)
                    progress(len(part))
                file.flush()
                os.fsync(file.fileno())
            put_in_place(made, target)
        except FileExistsError:
            _check_same(archive, name, target)
            continue
        finally:
            made.unlink(missing_ok=True)
        fresh.append(target)


def _check_same(archive: Archive, name: str, target: Path) -> None:
    digest = hashlib.sha256()
    with target.open("rb") as file:
        for part in blocks(file):
            digest.update(part)
    if digest.hexdigest() != archive.manifest.files[f"photos/{name}"].sha256:
        raise Refused(
            "another content under the name of a photo of the backup",
            where=str(target),
            rule="Nothing is overwritten.",
            step="Name another folder with --photos, or move that file away.",
        )


def _into_file(archive: Archive, target: Path, progress: Progress) -> None:
    """Make the ledger under another name beside, and give it its own when it is whole."""
    part = target.with_name(f".{target.name}.part")
    with held(part, what="restore") as file:
        beside = [part.with_name(part.name + end) for end in ("-wal", "-shm", "-journal")]
        try:
            for path in beside:
                path.unlink(missing_ok=True)
            _into(open_empty(part), archive, str(target), progress)
            os.fsync(file.fileno())
            if beside[0].exists() and beside[0].stat().st_size:
                raise OSError("the store's log could not be put away")
            put_in_place(part, target)
        except FileExistsError:
            raise Refused(
                "a file is there", where=str(target), rule="Nothing is overwritten.", step="Name another."
            ) from None
        finally:
            for path in (part, *beside):
                path.unlink(missing_ok=True)
    sync_folder(target.parent)


def _into(engine: Engine, archive: Archive, shown: str, progress: Progress) -> None:
    shown = "ledger" if is_url(shown) else shown
    try:
        with writing(engine) as connection, connection.begin():
            take_lock(connection)
            check_empty(connection, shown)  # another may have been first
            migrate(connection, archive.manifest.revision)
            _fill_all(connection, archive, progress)
            mark_as_ours(connection)
        put_log_away(engine)
    except OperationalError as problem:
        raise not_written(problem, shown) from None
    except DatabaseError as problem:
        raise Refused(
            f"the store would not take it: {_first_line(problem)}",
            where=shown,
            rule="What comes back is what was there, whole; nothing was restored.",
            step="`tepal check --backup FILE` tells whether the backup is whole.",
        ) from None
    finally:
        engine.dispose()


def _fill_all(connection: Connection, archive: Archive, progress: Progress) -> None:
    there = tables_of(connection, archive.manifest.revision).tables
    unknown = set(archive.tables) ^ {table.name for table in there}
    if unknown:
        raise Refused(
            f"table {sorted(unknown)[0]} is in the backup or in version {archive.manifest.revision}, but not in both",
            where=archive.file,
            rule="A backup holds the tables of its version.",
            step="Use the Tepal that made it.",
        )
    for table in there:
        name = f"{TABLES}{table.name}.jsonl"
        wanted = archive.manifest.tables[table.name].rows
        count = fill(connection, table, archive.lines(table.name), file=archive.file, progress=progress)
        digest = hashlib.sha256()
        for line in lines(connection, table):
            digest.update(line)
        if count != wanted or digest.hexdigest() != archive.manifest.files[name].sha256:
            raise Refused(
                f"table {table.name} did not come back as it was",
                where=archive.file,
                rule="What comes back is what was there, row for row; nothing was restored.",
                step="Restore to the other kind of store, and tell the makers of Tepal.",
            )


def _not_written(problem: OSError, where: str | Path) -> Refused:
    return Refused(
        f"the ledger could not be restored: {problem.strerror or problem}",
        where="ledger" if is_url(where) else str(where),
        rule="A ledger comes back whole or not at all; nothing was restored.",
        step="Make room there, or check the rights of the folder; then try again.",
    )


def _first_line(problem: SQLAlchemyError) -> str:
    return str(getattr(problem, "orig", None) or problem).strip().splitlines()[0][:200]
