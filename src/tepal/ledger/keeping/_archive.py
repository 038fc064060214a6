"""The file of a backup: a ZIP of tables as lines of JSON, of originals, and of a manifest with the hash of each."""

from __future__ import annotations

import hashlib
import json
import re
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, NonNegativeInt, ValidationError

from tepal.ledger.keeping._files import BLOCK, ORIGINAL, Progress, quiet
from tepal.tables import Refused, Where

MANIFEST, README, TABLES, PHOTOS = "manifest.json", "README.txt", "tables/", "photos/"
MAX_MANIFEST = 500_000_000
MAX_LINE = 500_000_000
_TABLE = re.compile(r"tables/([a-z_][a-z0-9_]{0,62})\.jsonl\Z")
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_LOCKED = 0x1
_STEP = "Use another backup; nothing was restored."
_ABOUT = """\
A backup of a Tepal ledger: the whole record, the office's own tables, and the originals of photos and voice notes.

manifest.json   when it was made; of each file here its SHA-256 and its length in bytes
tables/         one file for each table of the store, one row a line, as a JSON object (https://www.json.org)
photos/         the originals, each named by the SHA-256 of its content

In tables/entry.jsonl each line is an entry: who, when, which site; its "body" is JSON text again.
In tables/weather_batch.jsonl "rows" holds the days: date, least and greatest temperature (C), rain (mm).

To make a ledger of it:  tepal restore FILE --ledger NEW
To see whether it is whole:  tepal check --backup FILE

It holds names and contacts of people and whose sites are infested. Keep it as you would keep the ledger.
"""


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="ignore", strict=True)


class FileOf(_Part):
    """What a file in the backup must be."""

    sha256: str = Field(pattern=r"^[0-9a-f]{64}$")
    bytes: NonNegativeInt


class TableOf(_Part):
    """What a table must hold."""

    rows: NonNegativeInt
    columns: list[str]


class Manifest(_Part):
    """What a backup holds; `revision` is the version of the tables, `last_seq` the last place in the log."""

    form: Literal[1] = 1
    made_at: str
    program: str
    store: str
    revision: str
    last_seq: NonNegativeInt
    tables: dict[str, TableOf]
    files: dict[str, FileOf]
    missing_photos: list[str]
    damaged_photos: list[str]


@contextmanager
def packing(file: IO[bytes], made_at: datetime) -> Iterator[Packing]:
    """A backup to be written into an open file; it is one when it is finished."""
    made = Packing(file, made_at)
    try:
        yield made
    finally:
        made.leave()


class Packing:
    """A backup that is being written."""

    def __init__(self, file: IO[bytes], made_at: datetime) -> None:
        self._zip = zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, allowZip64=True)
        self._when = made_at.astimezone(UTC).timetuple()[:6]
        self.files: dict[str, FileOf] = {}
        self.add(README, [_ABOUT.encode()])

    def add(self, name: str, parts: Iterable[bytes], *, packed: bool = True, progress: Progress = quiet) -> FileOf:
        """Write a file; what it turned out to be."""
        digest, size = hashlib.sha256(), 0
        with self._zip.open(self._info(name, packed=packed), "w", force_zip64=True) as member:
            for part in parts:
                member.write(part)
                digest.update(part)
                size += len(part)
                progress(len(part))
        self.files[name] = FileOf(sha256=digest.hexdigest(), bytes=size)
        return self.files[name]

    def finish(self, manifest: Manifest) -> None:
        """Write the manifest and the directory; nothing can be added afterwards."""
        text = json.dumps(manifest.model_dump(), ensure_ascii=False, indent=1) + "\n"
        self._zip.writestr(self._info(MANIFEST, packed=True), text.encode())
        self._zip.close()

    def leave(self) -> None:
        """Let go of the file, finished or not."""
        with suppress(OSError, ValueError):
            self._zip.close()

    def _info(self, name: str, *, packed: bool) -> zipfile.ZipInfo:
        info = zipfile.ZipInfo(name, self._when)
        info.compress_type = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
        info.external_attr = 0o600 << 16
        return info


@dataclass(frozen=True, slots=True)
class Archive:
    """A backup that is being read. Nothing in it is believed before `verify`."""

    file: str
    manifest: Manifest
    _zip: zipfile.ZipFile

    @classmethod
    @contextmanager
    def open(cls, path: Path) -> Iterator[Self]:
        """Open a backup and read its manifest.

        Raises
        ------
        Refused
            If it is no whole backup, if it holds anything but what its manifest names, or names that would lead
            outside a folder, or claims to unpack to more than it is.
        """
        with ExitStack() as stack:
            with _problems_of(path.name):
                file = stack.enter_context(path.open("rb"))
                archive = stack.enter_context(zipfile.ZipFile(file))
                members = archive.infolist()
                _check_members(members, path.stat().st_size, path.name)
                manifest = _manifest(archive, path.name)
                named = {member.filename: member for member in members if member.filename != MANIFEST}
                _check_named(named, manifest, path.name)
            yield cls(path.name, manifest, archive)

    @property
    def tables(self) -> tuple[str, ...]:
        return tuple(self.manifest.tables)

    @property
    def photos(self) -> tuple[str, ...]:
        """The names of the originals, without their folder."""
        return tuple(name.removeprefix(PHOTOS) for name in self.manifest.files if name.startswith(PHOTOS))

    @property
    def unpacked(self) -> int:
        """Bytes that come out of it."""
        return sum(one.bytes for one in self.manifest.files.values())

    def verify(self, progress: Progress = quiet) -> None:
        """Read every file and compare it with the manifest.

        Raises
        ------
        Refused
            If one is not what it was when the backup was made.
        """
        for name in self.manifest.files:
            for part in self._parts(name):
                progress(len(part))

    def photo(self, name: str) -> Iterator[bytes]:
        """The bytes of an original, part by part; refused at their end where they are not what they were."""
        return self._parts(PHOTOS + name)

    def lines(self, table: str) -> Iterator[bytes]:
        """The rows of a table, a line each."""
        name = f"{TABLES}{table}.jsonl"
        with _problems_of(self.file), self._zip.open(name) as member:
            while line := member.readline(MAX_LINE):
                if not line.endswith(b"\n"):
                    raise _broken(f"a row that does not end, or has more than {MAX_LINE} bytes", self.file, name)
                yield line

    def _parts(self, name: str) -> Iterator[bytes]:
        wanted = self.manifest.files[name]
        digest, size = hashlib.sha256(), 0
        with _problems_of(self.file), self._zip.open(name) as member:
            while part := member.read(BLOCK):
                digest.update(part)
                size += len(part)
                if size > wanted.bytes:
                    break
                yield part
        if size != wanted.bytes or digest.hexdigest() != wanted.sha256:
            raise _broken(f"{name} is not what it was when the backup was made", self.file, name)


def _check_members(members: list[zipfile.ZipInfo], size: int, file: str) -> None:
    seen = set()
    for member in members:
        # orig_filename: zipfile cuts a name at NUL.
        name = member.orig_filename
        known = name in {MANIFEST, README} or _TABLE.match(name)
        photo = name.startswith(PHOTOS) and ORIGINAL.match(name.removeprefix(PHOTOS))
        if not known and not photo:
            raise _broken(f"a file named {name!r:.80}", file, None)
        if name in seen:
            raise _broken(f"two files named {name}", file, name)
        seen.add(name)
        if member.flag_bits & _LOCKED or member.compress_type not in _METHODS:
            raise _broken("a file that is locked or packed in an unusual way", file, name)
    if sum(member.compress_size for member in members) > size:
        # Files that lie over each other: a few bytes could become any number.
        raise _broken("its files claim more room than it has", file, None)


def _manifest(archive: zipfile.ZipFile, file: str) -> Manifest:
    try:
        info = archive.getinfo(MANIFEST)
    except KeyError:
        raise _broken("no manifest in it", file, None) from None
    if info.file_size > MAX_MANIFEST:
        raise _broken(f"a manifest of {info.file_size} bytes", file, MANIFEST)
    with archive.open(info) as member:
        raw = member.read(MAX_MANIFEST + 1)
    try:
        return Manifest.model_validate_json(raw)
    except ValidationError as problem:
        first = problem.errors(include_url=False)[0]
        place = ".".join(str(part) for part in first["loc"])
        raise _broken(f"the manifest cannot be read: {place} {first['msg']}", file, MANIFEST) from None


def _check_named(named: dict[str, zipfile.ZipInfo], manifest: Manifest, file: str) -> None:
    strange = sorted(named.keys() ^ manifest.files.keys())
    if strange:
        raise _broken("the manifest and the files do not agree", file, strange[0])
    tables = {f"{TABLES}{name}.jsonl" for name in manifest.tables}
    if tables != {name for name in named if name.startswith(TABLES)}:
        raise _broken("the manifest and the tables do not agree", file, MANIFEST)
    for name, info in named.items():
        if info.file_size != manifest.files[name].bytes:
            raise _broken(f"{name} has another length than the manifest says", file, name)


@contextmanager
def _problems_of(file: str) -> Iterator[None]:
    try:
        yield
    except Refused:
        raise
    except FileNotFoundError:
        raise Refused("no backup there", where=file, rule="The file must exist.", step="Check the name.") from None
    except GeneratorExit:
        raise
    except OSError as problem:
        raise Refused(
            f"the backup cannot be read: {problem.strerror or problem}",
            where=file,
            rule="A readable file is needed.",
            step="Check the rights and the disk.",
        ) from None
    except Exception as problem:
        # The library lets many kinds of error out of a broken archive; none of them is worth more than its name.
        raise _broken(f"it cannot be read: {type(problem).__name__}", file, None) from None


def _broken(what: str, file: str, member: str | None) -> Refused:
    return Refused(
        what,
        where=Where(file, None, member),
        rule="A backup is whole, and holds only what its manifest names.",
        step=_STEP,
    )
