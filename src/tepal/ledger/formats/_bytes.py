"""The bytes of a file, never more than a limit; and a ZIP's members, with whatever could be a trap refused."""

from __future__ import annotations

import io
import zipfile
import zlib
from collections.abc import Collection
from pathlib import Path, PurePosixPath

from tepal import tables
from tepal.tables import Refused, Where

MAX_BYTES = 50_000_000
MAX_UNPACKED = 200_000_000
MAX_MEMBERS = 2_000
# Other methods can ask for gigabytes of working memory, and no common program writes a map with them.
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_ENCRYPTED = 0x1


def read_bytes(path: Path, *, most: int = MAX_BYTES) -> bytes:
    """All of a file that has something in it.

    Raises
    ------
    Refused
        If it cannot be read, is empty, or has more than `most` bytes.
    """
    raw = tables.read_bytes(path, most=most)
    if not raw:
        raise Refused("nothing in it", where=path.name, rule="A file has content.", step="Copy or export it again.")
    return raw


def unzip(raw: bytes, *, file: str, wanted: Collection[str]) -> dict[str, bytes]:
    """The members of a ZIP whose suffix (small letters, with its point) is wanted, by name. Nothing is written.

    Raises
    ------
    Refused
        If it is no whole ZIP, has a member that would land outside a folder, is locked, or unpacks to more than
        `MAX_UNPACKED` bytes: by what it claims, and by what really comes out.
    """
    out: dict[str, bytes] = {}
    left = MAX_UNPACKED
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            members = archive.infolist()
            _check(members, file)
            for member in members:
                suffix = PurePosixPath(member.filename).suffix.casefold()
                if suffix not in wanted or member.filename.startswith("__MACOSX/"):
                    continue
                with archive.open(member) as stream:
                    out[member.filename] = stream.read(left + 1)
                left -= len(out[member.filename])
                if left < 0:
                    raise _too_large(f"more than {MAX_UNPACKED} bytes come out of it", file)
    except Refused:
        raise
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, ValueError, OverflowError) as problem:
        raise Refused(
            f"the ZIP cannot be read: {problem}",
            where=file,
            rule="A whole ZIP file is needed.",
            step="Copy or export it again.",
        ) from None
    except Exception as problem:
        # The library lets many kinds of error out of a broken archive; none of them is worth more than its name.
        raise Refused(
            f"the ZIP cannot be read: {type(problem).__name__}",
            where=file,
            rule="A whole ZIP file is needed.",
            step="Copy or export it again.",
        ) from None
    return out


def _check(members: list[zipfile.ZipInfo], file: str) -> None:
    if len(members) > MAX_MEMBERS:
        raise _too_large(f"{len(members)} files in it", file)
    claimed = sum(member.file_size for member in members)
    if claimed > MAX_UNPACKED:
        raise _too_large(f"it claims to unpack to {claimed} bytes", file)
    for member in members:
        where = Where(file, None, member.filename)
        # orig_filename: zipfile cuts a name at NUL.
        name = member.orig_filename.replace("\\", "/")
        if "\x00" in name or name.startswith("/") or ".." in name.split("/") or ":" in name.split("/")[0]:
            raise Refused(
                f"a file named {member.orig_filename!r}",
                where=where,
                rule="Names in a ZIP stay inside it.",
                step="Do not unpack this file; ask for another copy.",
            )
        if member.flag_bits & _ENCRYPTED:
            raise Refused("a locked file", where=where, rule="A ZIP has no password.", step="Pack it without one.")
        if member.compress_type not in _METHODS:
            raise Refused(
                f"packed by method {member.compress_type}",
                where=where,
                rule="A ZIP is stored or deflated.",
                step="Pack it the usual way.",
            )


def _too_large(what: str, file: str) -> Refused:
    return Refused(
        what,
        where=file,
        rule=f"A ZIP has at most {MAX_MEMBERS} files of {MAX_UNPACKED} bytes together.",
        step="Export it again; do not unpack this file.",
    )
