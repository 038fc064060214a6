"""All of a ledger as one file, while others write to it."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import column, func, select, table
from sqlalchemy.exc import DatabaseError

from tepal import __version__
from tepal.ledger._engine import is_url
from tepal.ledger.keeping._archive import PHOTOS, TABLES, Archive, FileOf, Manifest, Packing, TableOf, packing
from tepal.ledger.keeping._files import ORIGINAL, Progress, blocks, held, originals, put_in_place, quiet
from tepal.ledger.keeping._named import all_named
from tepal.ledger.keeping._tables import Snapshot, lines, snapshot
from tepal.tables import Refused


@dataclass(frozen=True, slots=True)
class BackedUp:
    """What was kept: rows by table; `missing`: photos that entries name and that are not in their folder; `damaged`:
    originals whose content is no longer what their name says, kept as they are; `others`: tables of other programs in
    the same store, which were left out."""

    file: Path
    size_bytes: int
    tables: dict[str, int]
    photos: int
    last_seq: int
    missing: tuple[str, ...]
    damaged: tuple[str, ...]
    others: tuple[str, ...]


def backup(
    where: str | Path,
    to: Path,
    *,
    photos: Path | None = None,
    progress: Progress = quiet,
    now: Callable[[], datetime] = lambda: datetime.now(UTC),
) -> BackedUp:
    """Write all of a ledger into one new file, whole or not at all: every table of its store, and all originals.

    Everything is of one moment, whoever writes meanwhile. What was written is read back and compared before the file
    gets its name. `to` is the file, or a folder in which it is named for the ledger and the moment. Only its owner can
    read it.

    Raises
    ------
    Refused
        If there is no ledger, the file is there already, the photos' folder is not known, or it cannot be written.
    """
    made_at = now()
    folder = photos_folder(where, photos)
    target = to / _name(where, made_at) if to.is_dir() else to
    if target.exists():
        raise Refused("a file is there", where=str(target), rule="Nothing is overwritten.", step="Name another.")
    part = target.with_name(f".{target.name}.part")
    try:
        with held(part, what="backup") as file:
            try:
                with snapshot(where) as store, packing(file, made_at) as pack:
                    others = store.others
                    manifest = _pack(pack, store, folder, made_at, progress)
                file.flush()
                os.fsync(file.fileno())
                with Archive.open(part) as archive:
                    archive.verify()
                size = os.fstat(file.fileno()).st_size
                put_in_place(part, target)
            except BaseException:
                part.unlink(missing_ok=True)
                raise
    except FileExistsError:
        raise Refused(
            "a file is there", where=str(target), rule="Nothing is overwritten.", step="Name another."
        ) from None
    except OSError as problem:
        raise Refused(
            f"the backup could not be written: {problem.strerror or problem}",
            where=str(target),
            rule="A backup is there whole or not at all; there is none.",
            step="Make room there, or check the rights of the folder; then try again.",
        ) from None
    except DatabaseError as problem:
        raise Refused(
            f"the ledger could not be read to its end: {str(problem.orig).splitlines()[0]:.200}",
            where="ledger",
            rule="A backup is there whole or not at all; there is none.",
            step="`tepal check` tells what is broken. Keep the ledger's files, and the backups that you have.",
        ) from None
    kept = {name: one.rows for name, one in manifest.tables.items()}
    count = sum(name.startswith(PHOTOS) for name in manifest.files)
    missing, damaged = tuple(manifest.missing_photos), tuple(manifest.damaged_photos)
    return BackedUp(target, size, kept, count, manifest.last_seq, missing, damaged, others)


def photos_folder(where: str | Path, photos: Path | None) -> Path | None:
    """Where a ledger keeps its originals; None where it is not known."""
    return photos if photos is not None or is_url(where) else Path(f"{where}.photos")


def _name(where: str | Path, made_at: datetime) -> str:
    name = "ledger" if is_url(where) else Path(where).stem
    return f"{name}-{made_at.astimezone(UTC):%Y-%m-%d-%H%M%SZ}.backup.zip"


def _pack(pack: Packing, store: Snapshot, folder: Path | None, made_at: datetime, progress: Progress) -> Manifest:
    held_by = {}
    for one in store.tables:
        counted = _Counted(lines(store.connection, one))
        pack.add(f"{TABLES}{one.name}.jsonl", counted, progress=progress)
        held_by[one.name] = TableOf(rows=counted.count, columns=[column.name for column in one.columns])
    wanted = list(dict.fromkeys(all_named(store.connection)))
    if wanted and folder is None:
        raise Refused(
            "no folder for photos",
            where="command line",
            rule="A ledger on PostgreSQL keeps originals in a folder that is named, and its entries name some.",
            step="Add --photos FOLDER.",
        )
    # After the tables: an original is in its folder before its entry is in the store.
    there, damaged = set(), []
    for path in originals(folder):
        try:
            kept = _photo(pack, path, progress)
        except FileNotFoundError:
            continue  # taken away meanwhile: told as missing where an entry names it
        there.add(path.stem)
        if kept.sha256 != path.stem:
            damaged.append(path.name)
    manifest = Manifest(
        made_at=made_at.isoformat(),
        program=__version__,
        store=store.connection.dialect.name,
        revision=store.revision,
        last_seq=_last_seq(store),
        tables=held_by,
        files=pack.files,
        missing_photos=[one for one in wanted if one not in there],
        damaged_photos=damaged,
    )
    pack.finish(manifest)
    return manifest


class _Counted:
    """Lines, counted while they are gone through once."""

    def __init__(self, of: Iterator[bytes]) -> None:
        self._of = of
        self.count = 0

    def __iter__(self) -> Iterator[bytes]:
        for line in self._of:
            self.count += 1
            yield line


def _photo(pack: Packing, path: Path, progress: Progress) -> FileOf:
    assert ORIGINAL.match(path.name)
    with path.open("rb") as file:
        # Stored as they are: they are packed already.
        return pack.add(PHOTOS + path.name, blocks(file), packed=False, progress=progress)


def _last_seq(store: Snapshot) -> int:
    found = [
        store.connection.execute(select(func.max(column("seq"))).select_from(table(one.name))).scalar() or 0
        for one in store.tables
        if one.name in {"entry", "weather_batch"}
    ]
    return int(max(found, default=0))
