"""Small real photos, each with content of its own, made by another library than the one under test reads with."""

from __future__ import annotations

import io
from fractions import Fraction

from PIL import Image
from PIL.TiffImagePlugin import IFDRational


def picture(
    number: int = 0,
    *,
    kind: str = "JPEG",
    taken: str | None = None,
    offset: str | None = None,
    lonlat: tuple[float, float] | None = None,
    fix: tuple[str, tuple[int, int, int]] | None = None,
) -> bytes:
    """An 8 × 6 picture; `fix` is the satellite's day ("2026:06:14") and time in UTC."""
    tags = Image.Exif()
    if taken is not None:
        tags.get_ifd(0x8769)[0x9003] = taken
    if offset is not None:
        tags.get_ifd(0x8769)[0x9011] = offset
    gps = tags.get_ifd(0x8825)
    if lonlat is not None:
        for reference, value, sides in ((3, lonlat[0], "EW"), (1, lonlat[1], "NS")):
            gps[reference] = sides[value < 0]
            gps[reference + 1] = _parts(abs(value))
    if fix is not None:
        gps[29] = fix[0]
        gps[7] = tuple(IFDRational(part) for part in fix[1])
    out = io.BytesIO()
    more = {"exif": tags.tobytes()} if gps or tags.get_ifd(0x8769) else {}
    Image.new("RGB", (8, 6), (number % 256, 90, 40)).save(out, kind, **more)
    return out.getvalue()


def _parts(degrees: float) -> tuple[IFDRational, IFDRational, IFDRational]:
    exact = Fraction(degrees).limit_denominator(10**7)
    whole = int(exact)
    minutes = (exact - whole) * 60
    seconds = (minutes - int(minutes)) * 60
    return IFDRational(whole), IFDRational(int(minutes)), IFDRational(round(seconds * 10_000), 10_000)
