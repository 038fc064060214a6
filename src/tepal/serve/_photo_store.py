"""Photos by the hash of their bytes: parts that come in, originals that stay in, smaller copies that are given out."""

from __future__ import annotations

import fcntl
import hashlib
import os
import shutil
import tempfile
import threading
import time
from collections.abc import AsyncIterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from starlette.concurrency import run_in_threadpool

from tepal.ledger.formats._photos import EXTENSIONS
from tepal.ledger.formats._pictures import read_picture
from tepal.serve._problems import Problem, of_refusal
from tepal.tables import Refused

# The widths in which copies are made: any wish is met by the next one, so that wishes cannot fill the disk.
WIDTHS = (240, 480, 800, 1600)
# More than any telephone takes; a JPEG is read in small, anything else stands whole in memory.
_MOST_PIXELS = {"image/jpeg": 250_000_000}
_MOST_PIXELS_ELSE = 50_000_000
_PARTS_LAST_S = 14 * 24 * 3600.0
_MOST_PARTS = 200  # of one device at once
_ROOM_LEFT = 500_000_000
_QUALITY = 82


@dataclass(frozen=True, slots=True)
class State:
    """How much of a photo is there, in bytes, and whether that is all."""

    offset: int
    complete: bool


class PhotoStore:
    """The folder of originals, with ``.parts`` and ``.copies`` beside them, which may be thrown away."""

    def __init__(self, folder: Path, *, most: int) -> None:
        self._folder, self._most = folder, most
        # One copy is made at a time: each holds a whole picture in memory.
        self._making = threading.Lock()

    def original(self, digest: str) -> Path | None:
        """The original with this hash."""
        paths = (self._folder / f"{digest}{suffix}" for suffix in EXTENSIONS.values())
        return next((path for path in paths if path.is_file()), None)

    def state(self, digest: str, device: str, *, told: bool = True) -> State | None:
        """What there is of it; of parts, only those that this device sent. `told`: may it be said that all is there?"""
        part = self._part(digest, device)
        try:
            begun = State(part.stat().st_size, complete=False)
        except FileNotFoundError:
            begun = None
        # Asked last: a part becomes the original, never the other way.
        original = self.original(digest) if told else None
        return begun if original is None else State(original.stat().st_size, complete=True)

    async def append(
        self, digest: str, device: str, *, offset: int, last: bool, body: AsyncIterator[bytes], told: bool = True
    ) -> State:
        """Add bytes at `offset`; what came before a line broke stays. With `last`, check the whole and keep it.

        Where it may not be `told` that all is there, it is taken as if it were not; the same bytes then take its place.

        Raises
        ------
        Problem
            409 at another offset than the store's; 413 beyond the largest photo; 422 where the bytes are not those of
            the name, or no photo: they are thrown away then; 507 where there is no room.
        """
        original = self.original(digest) if told else None
        if original is not None:
            there = State(original.stat().st_size, complete=True)
            if offset != there.offset:
                raise elsewhere(there)
            return there
        part = self._part(digest, device)
        self._make_room(part, device)
        with part.open("ab") as file:
            try:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                raise elsewhere(self.state(digest, device, told=told) or State(0, complete=False)) from None
            if not _is_still(file, part):
                # While we waited another request has finished it: what we hold is the original by now.
                raise elsewhere(self.state(digest, device, told=told) or State(0, complete=False))
            come = file.seek(0, os.SEEK_END)
            if come != offset:
                raise elsewhere(State(come, complete=False))
            async for block in body:
                come += len(block)
                if come > self._most:
                    await run_in_threadpool(part.unlink)
                    raise Problem(413, rule=f"A photo has at most {self._most:,} bytes.", step="Send a smaller copy.")
                await run_in_threadpool(file.write, block)
            if last:
                await run_in_threadpool(self._finish, digest, part, file)
        return State(come, complete=last)

    def copy(self, digest: str, width: int) -> Path | None:
        """A JPEG of at most that width (the next of `WIDTHS`), made anew: nothing of the original's head is in it.

        Raises
        ------
        Refused
            If the original cannot be read as a picture.
        """
        original = self.original(digest)
        if original is None:
            return None
        wide = next((one for one in WIDTHS if one >= width), WIDTHS[-1])
        path = self._folder / ".copies" / f"{digest}-{wide}.jpg"
        if path.is_file():
            return path
        with self._making:
            if not path.is_file():
                _make_copy(original, path, wide)
        return path

    def _part(self, digest: str, device: str) -> Path:
        # By device: what another one sent under this name, by mistake or not, spoils nothing here.
        return self._folder / ".parts" / f"{device}-{digest}"

    def _make_room(self, part: Path, device: str) -> None:
        part.parent.mkdir(parents=True, exist_ok=True)
        old = time.time() - _PARTS_LAST_S
        others = 0
        for path in part.parent.iterdir():
            with suppress(FileNotFoundError):  # another request has just finished it
                if path.stat().st_mtime < old:
                    path.unlink()
                elif path.name.startswith(device) and path != part:
                    others += 1
        if others >= _MOST_PARTS:
            raise Problem(429, step="Finish photos that were begun, before others are.")
        if shutil.disk_usage(self._folder).free < _ROOM_LEFT:
            raise Problem(507, step="Keep the photo; tell the office that its disk is nearly full.")

    def _finish(self, digest: str, part: Path, file: BinaryIO) -> None:
        file.flush()
        os.fsync(file.fileno())
        try:
            raw = part.read_bytes()
            if hashlib.sha256(raw).hexdigest() != digest:
                raise Problem(
                    422,
                    "The photo did not arrive as it was sent.",
                    rule="Its bytes have the SHA-256 of its name.",
                    step="Send it again from the start.",
                )
            picture = read_picture(raw, file=digest)
            if picture.width * picture.height > _MOST_PIXELS.get(picture.media_type, _MOST_PIXELS_ELSE):
                raise Refused(
                    f"it claims {picture.width} × {picture.height} pixels",
                    where=digest,
                    rule=f"A photo has at most {_MOST_PIXELS_ELSE:,} pixels, a JPEG five times as many.",
                    step="Send a smaller copy.",
                )
        except Refused as refusal:
            part.unlink(missing_ok=True)
            raise of_refusal(refusal) from None
        except Problem:
            part.unlink(missing_ok=True)
            raise
        part.replace(self._folder / f"{digest}{EXTENSIONS[picture.media_type]}")
        _settle(self._folder)


def _is_still(file: BinaryIO, path: Path) -> bool:
    """Whether the open file is what the name names."""
    try:
        return os.fstat(file.fileno()).st_ino == path.stat().st_ino
    except FileNotFoundError:
        return False


def elsewhere(state: State) -> Problem:
    """Another offset than the store's: where to go on."""
    return Problem(409, step="Go on at Upload-Offset.", headers=offsets(state))


def offsets(state: State) -> dict[str, str]:
    """The state as header fields."""
    return {"Upload-Offset": str(state.offset), "Upload-Complete": "?1" if state.complete else "?0"}


def _make_copy(original: Path, path: Path, wide: int) -> None:
    from PIL import Image

    from tepal.leaf import open_picture

    picture, full = open_picture(original, wide, name=original.name)
    if full[0] < picture.width:
        picture = picture.resize(full)  # never larger than it is
    # Of the pixels alone: a picture that was opened carries remarks, thumbnails and places along when it is saved.
    bare = Image.frombytes("RGB", picture.size, picture.tobytes())
    path.parent.mkdir(exist_ok=True)
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".")
    try:
        with os.fdopen(handle, "wb") as file:
            bare.save(file, "JPEG", quality=_QUALITY)
        Path(temporary).replace(path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise


def _settle(folder: Path) -> None:
    """The name in the folder onto the disk, not only the bytes."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
