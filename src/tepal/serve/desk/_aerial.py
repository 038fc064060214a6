"""Pictures from above: one a site, made anew from what was sent, with the edges that it covers."""

from __future__ import annotations

import hashlib
import io
import math
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import delete, insert, select

from tepal.ledger import Ledger
from tepal.ledger._schema import aerials
from tepal.tables import Refused

MOST_BYTES = 20_000_000
# What a phone shows well, takes along over a poor line, and has room for.
_MOST_SIDE, _MOST_PIXELS = 2048, 60_000_000
_QUALITY = 80
# A picture wider than this on the ground is of a county, not of a field.
_MOST_DEGREES = 0.25


@dataclass(frozen=True, slots=True)
class Aerial:
    """A picture from above: west, south, east and north edge in degrees; `sha256` of its bytes as given out."""

    bounds: tuple[float, float, float, float]
    sha256: str
    made_at: datetime


class Aerials:
    """The pictures from above of a ledger's sites."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger

    def of(self, site: str) -> Aerial | None:
        """The picture of a site without its bytes."""
        columns = [column for column in aerials.c if column.name != "jpeg"]
        with self._ledger.connected() as connection:
            row = connection.execute(select(*columns).where(aerials.c.site == site)).first()
        if row is None:
            return None
        return Aerial((row.west, row.south, row.east, row.north), row.sha256, datetime.fromisoformat(row.made_at))

    def jpeg(self, site: str) -> bytes | None:
        """The picture itself."""
        with self._ledger.connected() as connection:
            found = connection.execute(select(aerials.c.jpeg).where(aerials.c.site == site)).scalar()
        return None if found is None else bytes(found)

    def put(
        self, site: str, picture: bytes, bounds: tuple[float, float, float, float], *, by: str, now: datetime
    ) -> None:
        """Put a picture in, in place of the one before.

        Raises
        ------
        Refused
            If it is no picture that can be taken, or its edges are none.
        """
        west, south, east, north = checked_bounds(bounds)
        jpeg = made_anew(picture)
        row = {
            "site": site,
            "west": west,
            "south": south,
            "east": east,
            "north": north,
            "sha256": hashlib.sha256(jpeg).hexdigest(),
            "by": by,
            "made_at": now.astimezone(UTC).isoformat(timespec="seconds"),
            "jpeg": jpeg,
        }
        with self._ledger.connected(write=True) as connection:
            connection.execute(delete(aerials).where(aerials.c.site == site))
            connection.execute(insert(aerials).values(row))

    def remove(self, site: str) -> None:
        """Take the picture out; where there is none nothing changes."""
        with self._ledger.connected(write=True) as connection:
            connection.execute(delete(aerials).where(aerials.c.site == site))


def checked_bounds(bounds: tuple[float, float, float, float]) -> tuple[float, float, float, float]:
    """The edges, if they are those of a picture of a field.

    Raises
    ------
    Refused
        If they are not.
    """
    west, south, east, north = bounds
    fine = (
        all(math.isfinite(edge) for edge in bounds)
        and -180 <= west < east <= 180
        and -90 <= south < north <= 90
        and max(east - west, north - south) <= _MOST_DEGREES
    )
    if not fine:
        raise Refused(
            f"edges {west:g}, {south:g}, {east:g}, {north:g}",
            where="edges",
            rule=f"West lies before east and south before north, in degrees, at most {_MOST_DEGREES} apart.",
            step="Read them from the picture's file anew.",
        )
    return bounds


def made_anew(picture: bytes) -> bytes:
    """A JPEG of what is to be seen in a JPEG or PNG, without anything else that stood in the file.

    Raises
    ------
    Refused
        If it is too large, or no picture.
    """
    from PIL import Image, UnidentifiedImageError

    if len(picture) > MOST_BYTES:
        raise _no(f"{len(picture) / 1e6:.0f} MB", f"A picture has at most {MOST_BYTES // 1_000_000} MB.")
    try:
        with Image.open(io.BytesIO(picture), formats=("JPEG", "PNG")) as found:
            # The head says how large it is before anything is unpacked.
            if found.width * found.height > _MOST_PIXELS:
                raise _no(f"{found.width} × {found.height} pixels", f"A picture has at most {_MOST_PIXELS:,} pixels.")
            plain = found.convert("RGB")
        plain.thumbnail((_MOST_SIDE, _MOST_SIDE))
        out = io.BytesIO()
        plain.save(out, "JPEG", quality=_QUALITY, optimize=True)
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        raise _no("this file", "It is a whole JPEG or PNG picture.") from None
    return out.getvalue()


def _no(what: str, rule: str) -> Refused:
    return Refused(what, where="picture", rule=rule, step="Choose another, or make it smaller.")
