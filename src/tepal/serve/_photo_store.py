"""Photos: what is taken for one, and the smaller copies that are given out."""

from __future__ import annotations

import io
import os
import tempfile
import threading
from collections.abc import Callable
from pathlib import Path

from tepal.ledger.formats._photos import EXTENSIONS
from tepal.ledger.formats._pictures import read_picture
from tepal.serve._original_store import Originals, Sort
from tepal.tables import Refused

# The widths in which copies are made: any wish is met by the next one, so that wishes cannot fill the disk.
WIDTHS = (240, 480, 800, 1600)
# More than any telephone takes; a JPEG is read in small, anything else stands whole in memory.
_MOST_PIXELS = {"image/jpeg": 250_000_000}
_MOST_PIXELS_ELSE = 50_000_000
_QUALITY = 82


def _look(raw: bytes, name: str) -> str:
    picture = read_picture(raw, file=name)
    if picture.width * picture.height > _MOST_PIXELS.get(picture.media_type, _MOST_PIXELS_ELSE):
        raise Refused(
            f"it claims {picture.width} × {picture.height} pixels",
            where=name,
            rule=f"A photo has at most {_MOST_PIXELS_ELSE:,} pixels, a JPEG five times as many.",
            step="Send a smaller copy.",
        )
    return picture.media_type


class PhotoStore(Originals):
    """Originals of photos, with ``.copies`` beside them, which may be thrown away."""

    def __init__(self, folder: Path, *, most: int) -> None:
        super().__init__(folder, Sort("photo", EXTENSIONS, _look, most))
        # One copy is made at a time: each holds a whole picture in memory.
        self._making = threading.Lock()

    def copy(self, digest: str, width: int) -> Path | None:
        """A JPEG of at most that width (the next of `WIDTHS`), made anew: nothing of the original's head is in it.

        Raises
        ------
        Refused
            If the original cannot be read as a picture.
        """
        wide = next((one for one in WIDTHS if one >= width), WIDTHS[-1])
        return self._made(digest, str(wide), lambda original: _bare_copy(original, wide))

    def leaf(self, digest: str) -> Path | None:
        """The photo with the leaf on it measured and drawn, or the reason why it is not: a JPEG made anew.

        Raises
        ------
        Refused
            If the original cannot be read as a picture.
        """
        return self._made(digest, "leaf", _leaf_drawn)

    def _made(self, digest: str, what: str, make: Callable[[Path], bytes]) -> Path | None:
        """What is made of an original: kept from the first time on."""
        original = self.original(digest)
        if original is None:
            return None
        path = self._folder / ".copies" / f"{digest}-{what}.jpg"
        if path.is_file():
            return path
        with self._making:
            if not path.is_file():
                _keep(make(original), path)
        return path


def _leaf_drawn(original: Path) -> bytes:
    from tepal.leaf import drawn_jpeg

    return drawn_jpeg(original)[0]


def _bare_copy(original: Path, wide: int) -> bytes:
    from PIL import Image

    from tepal.leaf import open_picture

    picture, full = open_picture(original, wide, name=original.name)
    if full[0] < picture.width:
        picture = picture.resize(full)  # never larger than it is
    # Of the pixels alone: a picture that was opened carries remarks, thumbnails and places along when it is saved.
    bare = Image.frombytes("RGB", picture.size, picture.tobytes())
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=_QUALITY)
    return out.getvalue()


def _keep(raw: bytes, path: Path) -> None:
    """A copy under its name at once and whole, or not at all."""
    path.parent.mkdir(exist_ok=True)
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(raw)
        Path(temporary).replace(path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
