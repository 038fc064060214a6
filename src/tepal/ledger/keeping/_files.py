"""Files that are there whole or not at all, and the originals of photos and voice notes in their folder."""

from __future__ import annotations

import fcntl
import os
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from tepal.tables import Refused

Progress = Callable[[int], None]
"""Told how many more bytes have been dealt with."""
ORIGINAL = re.compile(r"([0-9a-f]{64})\.(?:jpg|png|heic|webm|m4a|ogg)\Z")
"""What an original is called where it is kept: the hash of its content, and its kind."""
BLOCK = 1 << 20


def quiet(_bytes: int) -> None:
    """Progress that nobody looks at."""


def blocks(file: IO[bytes]) -> Iterator[bytes]:
    """The bytes of an open file, a block at a time."""
    return iter(lambda: file.read(BLOCK), b"")


def originals(folder: Path | None) -> list[Path]:
    """The originals in a folder, by name."""
    if folder is None or not folder.is_dir():
        return []
    return sorted(path for path in folder.iterdir() if ORIGINAL.match(path.name) and path.is_file())


@contextmanager
def held(path: Path, *, what: str) -> Iterator[IO[bytes]]:
    """An empty file that only its owner can read and only this process works on; what a killed one left is used again.

    Raises
    ------
    Refused
        If another process works on it.
    """
    while True:
        file = os.fdopen(os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW, 0o600), "r+b")
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            file.close()
            raise Refused(
                f"another {what} works there", where=str(path), rule="One at a time.", step="Wait until it is done."
            ) from None
        # Between our opening and our holding it the other may have finished it and given it its name: it is not ours.
        with suppress(FileNotFoundError):
            if os.path.samestat(os.fstat(file.fileno()), path.stat()):
                break
        file.close()
    try:
        os.fchmod(file.fileno(), 0o600)
        file.truncate()
        yield file
    finally:
        file.close()


def put_in_place(made: Path, target: Path) -> None:
    """Give a finished file its name, never that of a file that is there.

    Raises
    ------
    FileExistsError
        If one has come there meanwhile.
    """
    try:
        os.link(made, target)
    except FileExistsError:
        raise
    except OSError:  # a disk without links
        if target.exists():
            raise FileExistsError(target) from None
        made.rename(target)
    else:
        made.unlink()
    sync_folder(target.parent)


def sync_folder(folder: Path) -> None:
    """Make the names in a folder last."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
