"""Giving a ledger out as open files: the faithful form, and views beside it."""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Iterable, Iterator, Set
from dataclasses import dataclass
from pathlib import Path

from tepal.ledger._entry import Entry
from tepal.ledger._standing import standing
from tepal.ledger._store import Ledger
from tepal.ledger._weather import WeatherBatch
from tepal.ledger.formats._gather import ENTRIES_FILE, PHOTOS_FOLDER, SOUNDS_FOLDER, WEATHER_FOLDER
from tepal.ledger.formats._views import views
from tepal.ledger.formats._views_maps import map_views
from tepal.tables import Refused

MARK = "tepal.json"
VIEWS_FOLDER = "views"
FORM = 1
_FOLDERS = frozenset({ENTRIES_FILE, PHOTOS_FOLDER, SOUNDS_FOLDER, WEATHER_FOLDER, VIEWS_FOLDER})
_OF_THE_DESKTOP = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})


@dataclass(frozen=True, slots=True)
class Given:
    """What was given out: file names below the folder, in order; and originals (photos, voice notes) not there."""

    files: tuple[str, ...]
    entries: int
    batches: int
    missing_photos: tuple[str, ...]


def give(ledger: Ledger, folder: Path, *, force: bool = False) -> Given:
    """Write a ledger into `folder`: entries, originals and weather, and ``views/`` of what stands.

    The same ledger gives the same bytes. Taking the folder into an empty ledger gives the same entries in the same
    order. A folder that `give` made of this ledger is brought up to date: its files are replaced, those no longer
    given removed.

    Raises
    ------
    Refused
        If the folder holds what was given of another ledger. If it has other files in it, unless `force`; those are
        then left alone. If it cannot be written.
    """
    try:
        return _give(ledger, folder, force=force)
    except OSError as problem:
        raise Refused(
            f"the files could not be written: {problem.strerror or problem}",
            where=str(folder),
            rule=f"What is given out is whole when {MARK} in it says so; this one is not.",
            step="Make room there, or check the rights of the folder; then give again.",
        ) from None


def _give(ledger: Ledger, folder: Path, *, force: bool) -> Given:
    position = ledger.last_seq
    entries = ledger.entries(known_to=position)
    batches = ledger.weather_batches(known_to=position)
    firsts: list[Entry | WeatherBatch] = [*entries[:1], *batches[:1]]
    begins = min(firsts, key=lambda one: one.seq or 0).id if firsts else None
    old = _own_files(folder, begins, {one.id for one in entries}, force=force)
    folder.mkdir(parents=True, exist_ok=True)
    # While it is being written the folder says so; a broken run can be run again.
    mark = {"form": FORM, "begins": begins}
    _write(folder / MARK, [json.dumps({**mark, "whole": False, "files": old}) + "\n"])
    files = [ENTRIES_FILE]
    _write(folder / ENTRIES_FILE, (one.text() + "\n" for one in entries))
    for number, batch in enumerate(batches, start=1):
        # Numbered: a later batch may correct an earlier one.
        files.append(f"{WEATHER_FOLDER}/{number:05d}-{_plain_name(batch.station)}.csv")
        _write(folder / files[-1], _weather_lines(batch))
    originals, missing = _give_originals(ledger, entries, folder)
    files += originals
    stands = standing(entries, known_to=position)
    for name, text in views(stands).items():
        files.append(f"{VIEWS_FOLDER}/{name}")
        _write(folder / files[-1], [text])
    for name, raw in map_views(stands).items():
        files.append(f"{VIEWS_FOLDER}/{name}")
        _write(folder / files[-1], [raw])
    for name in set(old) - set(files):
        (folder / name).unlink(missing_ok=True)
    _write(folder / MARK, [json.dumps({**mark, "whole": True, "files": files}, indent=1) + "\n"])
    return Given((*files, MARK), len(entries), len(batches), tuple(missing))


def _own_files(folder: Path, begins: str | None, known: Set[str], *, force: bool) -> list[str]:
    """The files that an earlier `give` of this ledger left: it begins with `begins`, and knows the entries `known`."""
    if folder.exists() and not folder.is_dir():
        raise Refused("a file", where=str(folder), rule="A folder is needed.", step="Name another.")
    if not folder.exists() or not any(folder.iterdir()):
        return []
    try:
        mark = json.loads((folder / MARK).read_text(encoding="utf-8"))
        files = [name for name in mark["files"] if isinstance(name, str) and _inside(name)]
        other = mark.get("begins") not in {None, begins} or not _given(folder) <= known
        whole = mark.get("whole") is not False
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        files, other, whole = None, False, True
    if other:
        # A ledger only grows: what was given of it before, it still has. Not even by force: files of two ledgers in
        # one folder would be the record of neither.
        raise Refused(
            "the folder holds what was given of another ledger",
            where=str(folder),
            rule="It has entries that this ledger does not know; they would be lost.",
            step="Name another folder; or move that one away first, if it is no longer wanted.",
        )
    strange = sorted(_there(folder, whole=whole) - {*(files or ()), MARK})
    if strange and not force:
        raise Refused(
            "the folder is not empty",
            where=str(folder),
            rule=f"What is in it must be made by `give`; {strange[0]} was not.",
            step="Name another, or give --force to write into it; what else is there stays.",
        )
    return files or []


def _given(folder: Path) -> set[str]:
    """The entries in a folder that was given."""
    path = folder / ENTRIES_FILE
    if not path.is_file():
        return set()
    with path.open(encoding="utf-8") as lines:
        return {str(json.loads(line)["id"]) for line in lines if line.strip()}


def _there(folder: Path, *, whole: bool) -> set[str]:
    """The files below a folder but those that desktops make; where a run broke off, but its own as well."""
    found = (path.relative_to(folder) for path in folder.rglob("*") if path.is_file())
    return {
        path.as_posix()
        for path in found
        if path.name not in _OF_THE_DESKTOP
        and (whole or path.parts[0] not in _FOLDERS)
        and not path.name.endswith(".part")
    }


def _inside(name: str) -> bool:
    # The mark could have been edited: never remove what is not below the folder.
    path = Path(name)
    return not path.is_absolute() and ".." not in path.parts


def _write(path: Path, parts: Iterable[str | bytes]) -> None:
    """Write text or bytes whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    temporary = path.with_name(f".{path.name}.part")
    with temporary.open("wb") as file:
        file.writelines(part.encode() if isinstance(part, str) else part for part in parts)
        file.flush()
        os.fsync(file.fileno())
    temporary.replace(path)


def _weather_lines(batch: WeatherBatch) -> Iterator[str]:
    # The text of a station's name is quoted as it is, not made safe for spreadsheets: this file is read back.
    station = '"' + batch.station.replace('"', '""') + '"'
    lon, lat = ("" if value is None else repr(value) for value in (batch.lon, batch.lat))
    yield "date,tmin_c,tmax_c,prcp_mm,station,lon,lat,corrects\n"
    for day in batch.days:
        cells = ("" if value is None else repr(value) for value in day.values)
        yield f"{day.on},{','.join(cells)},{station},{lon},{lat},{'yes' if batch.corrects else ''}\n"


def _give_originals(ledger: Ledger, entries: Iterable[Entry], folder: Path) -> tuple[list[str], list[str]]:
    folders = {"photo": PHOTOS_FOLDER, "sound": SOUNDS_FOLDER}
    wanted = {str(getattr(one.body, "sha256", "")): folders[one.kind] for one in entries if one.kind in folders}
    if not wanted:
        return [], []
    there = {path.stem: path for path in sorted(ledger.photos.glob("*"))} if ledger.photos.is_dir() else {}
    given, missing = [], []
    for sha256, place in wanted.items():
        original = there.get(sha256)
        if original is None:
            missing.append(sha256)
            continue
        name = f"{place}/{original.name}"
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        temporary = target.with_name(f".{target.name}.part")
        shutil.copyfile(original, temporary)
        temporary.replace(target)
        given.append(name)
    return given, missing


def _plain_name(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", text.casefold()).strip("-")[:40] or "station"
