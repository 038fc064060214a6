"""Originals by the hash of their bytes: parts that come in over a poor line, and the whole, checked, that stays."""

from __future__ import annotations

import fcntl
import hashlib
import os
import shutil
import time
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from starlette.concurrency import run_in_threadpool

from tepal.serve._problems import Problem, of_refusal
from tepal.tables import Refused

_PARTS_LAST_S = 14 * 24 * 3600.0
_MOST_PARTS = 200  # of one device at once
_ROOM_LEFT = 500_000_000


@dataclass(frozen=True, slots=True)
class Sort:
    """A sort of originals. `look` gives the media type of whole bytes, or refuses them; `suffixes` by media type."""

    name: str
    suffixes: Mapping[str, str]
    look: Callable[[bytes, str], str]
    most: int


@dataclass(frozen=True, slots=True)
class State:
    """How much of an original is there, in bytes, and whether that is all."""

    offset: int
    complete: bool


class Originals:
    """The originals of one sort in their folder, with ``.parts`` beside them, which may be thrown away."""

    def __init__(self, folder: Path, sort: Sort) -> None:
        self._folder, self._sort = folder, sort

    def original(self, digest: str) -> Path | None:
        """The original with this hash."""
        paths = (self._folder / f"{digest}{suffix}" for suffix in self._sort.suffixes.values())
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
            409 at another offset than the store's; 413 beyond the largest; 422 where the bytes are not those of the
            name, or not of this sort: they are thrown away then; 507 where there is no room.
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
                if come > self._sort.most:
                    await run_in_threadpool(part.unlink)
                    rule = f"A {self._sort.name} has at most {self._sort.most:,} bytes."
                    raise Problem(413, rule=rule, step="Send a smaller one.")
                await run_in_threadpool(file.write, block)
            if last:
                await run_in_threadpool(self._finish, digest, part, file)
        return State(come, complete=last)

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
            raise Problem(429, step="Finish what was begun, before others are.")
        if shutil.disk_usage(self._folder).free < _ROOM_LEFT:
            raise Problem(507, step="Keep it; tell the office that its disk is nearly full.")

    def _finish(self, digest: str, part: Path, file: BinaryIO) -> None:
        file.flush()
        os.fsync(file.fileno())
        try:
            raw = part.read_bytes()
            if hashlib.sha256(raw).hexdigest() != digest:
                raise Problem(
                    422,
                    f"The {self._sort.name} did not arrive as it was sent.",
                    rule="Its bytes have the SHA-256 of its name.",
                    step="Send it again from the start.",
                )
            media_type = self._sort.look(raw, digest)
        except Refused as refusal:
            part.unlink(missing_ok=True)
            raise of_refusal(refusal) from None
        except Problem:
            part.unlink(missing_ok=True)
            raise
        part.replace(self._folder / f"{digest}{self._sort.suffixes[media_type]}")
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


def _settle(folder: Path) -> None:
    """The name in the folder onto the disk, not only the bytes."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
