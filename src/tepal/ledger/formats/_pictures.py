"""What a photo says of itself: its kind, its size in pixels, when and where it was taken. No pixel is decoded."""

from __future__ import annotations

import io
import math
import re
import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

from tepal.ledger.formats._heif import Torn, read_head
from tepal.tables import Refused

MAX_PIXELS = 400_000_000  # twice the largest sensor of a telephone
_MAX_EXIF = 1_000_000
_EXIF_IFD, _GPS_IFD = 0x8769, 0x8825
_TAKEN, _TAKEN_PLAIN, _OFFSET, _OFFSET_PLAIN = 0x9003, 0x0132, 0x9011, 0x9010
_ORIENTATION, _LYING = 0x0112, range(5, 9)
_HEIC_BRANDS = frozenset({b"heic", b"heix", b"heim", b"heis", b"mif1"})


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo's head. `lonlat` in degrees; `taken_at` with the zone of the camera where it can be known, else UTC.

    `width` and `height` are in pixels, of the picture as it is shown upright.
    """

    media_type: str
    width: int
    height: int
    taken_at: datetime | None = None
    lonlat: tuple[float, float] | None = None


def read_picture(raw: bytes, *, file: str) -> Picture:
    """Look at the head of a JPEG, PNG or HEIC. Broken EXIF is as none; it is the picture that is kept.

    Raises
    ------
    Refused
        If it is none of these by its first bytes, is not whole, or claims more than `MAX_PIXELS`.
    """
    media = _media_type(raw, file)
    whole = {"image/jpeg": _jpeg_is_whole, "image/png": _png_is_whole}.get(media)
    if whole is not None and not whole(raw):
        raise _torn(file)
    try:
        with warnings.catch_warnings(action="ignore"):
            width, height, exif = _head(raw, media)
    except Torn:
        raise _torn(file) from None
    except Exception as problem:
        # Decoders answer a broken head with every kind of error.
        said = " ".join(str(problem).split())[:80]
        raise Refused(
            f"the photo's head cannot be read: {said or type(problem).__name__}",
            where=file,
            rule="A photo is JPEG, PNG or HEIC.",
            step="Have it sent again.",
        ) from None
    if not 0 < width * height <= MAX_PIXELS:
        raise Refused(
            f"it claims {width} × {height} pixels",
            where=file,
            rule=f"A photo has at most {MAX_PIXELS} pixels.",
            step="Leave it out.",
        )
    taken, lonlat, orientation = _taken(exif)
    # An HEIC is turned by its own boxes; its EXIF then only repeats it (ISO/IEC 23008-12, A.2.4).
    if media != "image/heic" and orientation in _LYING:
        width, height = height, width
    return Picture(media, width, height, taken, lonlat)


def _torn(file: str) -> Refused:
    return Refused(
        "the photo breaks off before its end",
        where=file,
        rule="A whole photo is kept, or none.",
        step="Copy it again from where it came, or have it sent again.",
    )


def _media_type(raw: bytes, file: str) -> str:
    if raw.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if raw.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if raw[4:8] == b"ftyp" and raw[8:12] in _HEIC_BRANDS:
        return "image/heic"
    raise Refused(
        "no photo by its first bytes" if raw else "nothing in it",
        where=file,
        rule="A photo is JPEG, PNG or HEIC.",
        step="Leave it out, or have it sent again.",
    )


def _jpeg_is_whole(raw: bytes) -> bool:
    """Is there an end mark after the start of the scan? One before it ends the thumbnail inside the EXIF."""
    at = 2
    while at + 4 <= len(raw) and raw[at] == 0xFF:
        mark = raw[at + 1]
        if mark == 0xFF:
            at += 1
            continue
        if mark == 0xDA:
            return b"\xff\xd9" in raw[at:]
        at += 2 + int.from_bytes(raw[at + 2 : at + 4])
    return False


def _png_is_whole(raw: bytes) -> bool:
    at = 8
    while at + 12 <= len(raw):
        kind = raw[at + 4 : at + 8]
        at += 12 + int.from_bytes(raw[at : at + 4])
        if kind == b"IEND":
            return at <= len(raw)
    return False


def _head(raw: bytes, media: str) -> tuple[int, int, bytes]:
    # The formats by name, not Image.open: that would try every decoder there is, and warn about large photos.
    if media == "image/heic":
        head = read_head(raw)
        return head.width, head.height, head.exif
    from PIL.JpegImagePlugin import JpegImageFile
    from PIL.PngImagePlugin import PngImageFile

    with (JpegImageFile if media == "image/jpeg" else PngImageFile)(io.BytesIO(raw)) as image:
        exif = image.info.get("exif") or b""
        return (*image.size, exif if isinstance(exif, bytes) else b"")


def _taken(exif: bytes) -> tuple[datetime | None, tuple[float, float] | None, Any]:
    """When, where and which way up, as far as EXIF says it in a way that can be so."""
    if not exif or len(exif) > _MAX_EXIF:
        return None, None, None
    from PIL.Image import Exif

    try:
        with warnings.catch_warnings(action="ignore"):
            found = Exif()
            found.load(exif if exif.startswith(b"Exif\x00\x00") else b"Exif\x00\x00" + exif)
            main, shot, gps = dict(found), dict(found.get_ifd(_EXIF_IFD)), dict(found.get_ifd(_GPS_IFD))
    except Exception:
        # A camera's notes are often broken; the picture is not.
        return None, None, None
    return _moment({**main, **shot}, _gps_moment(gps)), _lonlat(gps), main.get(_ORIENTATION)


def _moment(tags: Mapping[int, Any], fix: datetime | None) -> datetime | None:
    clock, zone = _clock(_text(tags.get(_TAKEN))), _OFFSET
    if clock is None:
        clock, zone = _clock(_text(tags.get(_TAKEN_PLAIN))), _OFFSET_PLAIN
    if clock is None:
        return fix
    offset = _offset(_text(tags.get(zone)))
    if offset is None and fix is not None:
        # The satellite's clock is UTC: what lies between is the zone, to the quarter of an hour.
        quarters = round((clock - fix.replace(tzinfo=None)).total_seconds() / 900)
        offset = timedelta(minutes=15 * quarters) if abs(quarters) <= 56 else None
    return clock.replace(tzinfo=UTC if offset is None else timezone(offset))


def _clock(text: str) -> datetime | None:
    found = re.match(r"(\d{4})[:-](\d\d)[:-](\d\d)[ T](\d\d:\d\d:\d\d)", text, re.ASCII)
    try:
        clock = datetime.fromisoformat(f"{found[1]}-{found[2]}-{found[3]}T{found[4]}") if found else None
    except ValueError:
        return None
    # A camera whose clock was never set says its factory's year, or none.
    return clock if clock and 1990 <= clock.year <= 2200 else None


def _offset(text: str) -> timedelta | None:
    found = re.fullmatch(r"([+-])(\d\d):?(\d\d)", text.strip())
    if text.strip() == "Z":
        return timedelta(0)
    minutes = int(found[2]) * 60 + int(found[3]) if found else 0
    return timedelta(minutes=-minutes if found[1] == "-" else minutes) if found and minutes <= 840 else None


def _gps_moment(gps: Mapping[int, Any]) -> datetime | None:
    day, time = _clock(f"{_text(gps.get(29))} 00:00:00"), _three(gps.get(7))
    seconds = time[0] * 3600 + time[1] * 60 + time[2] if time else math.inf
    if day is None or not 0 <= seconds <= 86_400:
        return None
    return day.replace(tzinfo=UTC) + timedelta(seconds=round(seconds))


def _lonlat(gps: Mapping[int, Any]) -> tuple[float, float] | None:
    out = []
    for reference, value, most, signs in ((3, 4, 180, "EW"), (1, 2, 90, "NS")):
        parts, side = _three(gps.get(value)), _text(gps.get(reference)).strip().upper()[:1]
        if parts is None or not side or side not in signs:
            return None
        degrees = parts[0] + parts[1] / 60 + parts[2] / 3600
        if not 0 <= degrees <= most:
            return None
        out.append(round(-degrees if side == signs[1] else degrees, 7))
    # Nought by nought is what a receiver writes that has no fix.
    return None if out == [0, 0] else (out[0], out[1])


def _three(value: Any) -> tuple[float, float, float] | None:
    if not isinstance(value, (tuple, list)) or len(value) != 3:
        return None
    try:
        first, second, third = (float(part) for part in value)
    except (TypeError, ValueError, ArithmeticError):
        return None
    return (first, second, third) if all(map(math.isfinite, (first, second, third))) else None


def _text(value: Any) -> str:
    if isinstance(value, bytes):
        value = value.decode("ascii", "replace")
    return value.replace("\x00", "").strip() if isinstance(value, str) else ""
