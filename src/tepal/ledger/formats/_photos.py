"""Photos, kept by their content beside the ledger."""

from __future__ import annotations

import hashlib
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path

from tepal.tables import Refused

EXTENSIONS = {"image/jpeg": ".jpg", "image/png": ".png", "image/heic": ".heic"}
PHOTO_SUFFIXES = frozenset({".jpg", ".jpeg", ".png", ".heic"})
MAX_BYTES = 200_000_000


@dataclass(frozen=True, slots=True)
class PhotoFile:
    """A photo as found: its content's hash, what it is by its first bytes, and its size."""

    path: Path
    sha256: str
    media_type: str
    size_bytes: int

    @property
    def name(self) -> str:
        """What the original is called where it is kept."""
        return self.sha256 + EXTENSIONS[self.media_type]


def read_photo(path: Path) -> PhotoFile:
    """Look at a photo without opening it as a picture.

    Raises
    ------
    Refused
        If it cannot be read, is empty or too large, or is no JPEG, PNG or HEIC by its first bytes.
    """
    try:
        size = path.stat().st_size
        if size > MAX_BYTES:
            raise Refused(
                f"{size} bytes", where=path.name, rule=f"A photo has at most {MAX_BYTES}.", step="Leave it out."
            )
        data = path.read_bytes()
    except OSError as problem:
        raise Refused(
            f"the photo cannot be read: {problem.strerror or problem}",
            where=path.name,
            rule="A readable file is needed.",
            step="Check the name and the rights.",
        ) from None
    if data.startswith(b"\xff\xd8\xff"):
        media = "image/jpeg"
    elif data.startswith(b"\x89PNG\r\n\x1a\n"):
        media = "image/png"
    elif data[4:8] == b"ftyp" and data[8:12] in {b"heic", b"heix", b"heim", b"heis", b"mif1"}:
        media = "image/heic"
    else:
        raise Refused(
            "no photo by its first bytes", where=path.name, rule="A photo is JPEG, PNG or HEIC.", step="Leave it out."
        )
    return PhotoFile(path, hashlib.sha256(data).hexdigest(), media, len(data))


def keep(photo: PhotoFile, folder: Path) -> None:
    """Copy a photo into the folder of originals, whole or not at all; one that is there is left alone."""
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
                    "the photo changed meanwhile", where=photo.path.name, rule="It is kept.", step="Try again."
                )
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(temporary).replace(target)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
