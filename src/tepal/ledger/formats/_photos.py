"""Photos, kept by their content beside the ledger."""

from __future__ import annotations

import hashlib
import os
import tempfile
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from tepal.ledger.formats._bytes import read_bytes
from tepal.ledger.formats._pictures import Picture, read_picture
from tepal.ledger.formats._sounds import SoundFile
from tepal.tables import Refused

EXTENSIONS = {"image/jpeg": ".jpg", "image/png": ".png", "image/heic": ".heic"}
PHOTO_SUFFIXES = frozenset({".jpg", ".jpeg", ".png", ".heic", ".heif"})
MAX_BYTES = 200_000_000


@dataclass(frozen=True, slots=True)
class PhotoFile:
    """A photo as found: its content's hash, its size, and what its head says."""

    path: Path
    sha256: str
    size_bytes: int
    picture: Picture

    @property
    def media_type(self) -> str:
        return self.picture.media_type

    @property
    def name(self) -> str:
        """What the original is called where it is kept."""
        return self.sha256 + EXTENSIONS[self.media_type]

    @property
    def taken_at(self) -> datetime | None:
        """When it was taken, as the camera's clock says."""
        return self.picture.taken_at

    @property
    def at(self) -> tuple[float, float] | None:
        """Longitude and latitude where it was taken."""
        return self.picture.lonlat

    def taken_by(self, today: date | None) -> datetime | None:
        """When it was taken, unless the camera's clock runs ahead of `today`."""
        taken = self.picture.taken_at
        return None if taken is not None and today is not None and taken.date() > today else taken


def read_photo(path: Path) -> PhotoFile:
    """Look at a photo without decoding it.

    Raises
    ------
    Refused
        If it cannot be read, is empty, too large or not whole, or is no JPEG, PNG or HEIC by its first bytes.
    """
    data = read_bytes(path, most=MAX_BYTES)
    return PhotoFile(path, hashlib.sha256(data).hexdigest(), len(data), read_picture(data, file=path.name))


def keep(photo: PhotoFile | SoundFile, folder: Path) -> None:
    """Copy a photo or a voice note into the folder of originals, whole or not at all; one that is there is left alone.

    Raises
    ------
    Refused
        If it cannot be read again or the copy cannot be written.
    """
    try:
        _keep(photo, folder)
    except OSError as problem:
        raise Refused(
            f"the original of {photo.path.name} could not be kept: {problem.strerror or problem}",
            where=str(folder),
            rule="Originals go into their folder before their entries go into the ledger; nothing was added.",
            step="Make room there, or check the rights of the folder; then take the files again.",
        ) from None


def _keep(photo: PhotoFile | SoundFile, folder: Path) -> None:
    target = folder / photo.name
    if target.exists():
        return
    folder.mkdir(parents=True, exist_ok=True)
    handle, temporary = tempfile.mkstemp(dir=folder, prefix=".")
    try:
        with os.fdopen(handle, "wb") as file:
            data = photo.path.read_bytes()
            if hashlib.sha256(data).hexdigest() != photo.sha256:
                raise Refused(
                    "the file changed meanwhile", where=photo.path.name, rule="It is kept.", step="Try again."
                )
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(temporary).replace(target)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
