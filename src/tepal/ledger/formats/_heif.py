"""The head of an HEIC: the size of its picture and its EXIF, out of the boxes of ISO/IEC 23008-12.

The usual decoder is a C library that some broken files bring to a crash of the whole process (`bench/fuzz.py heic`).
A photo that came by text is kept before anybody looks at it, so its head is read here and no decoder sees it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

_MOST = 100_000  # boxes, items, extents: a telephone writes some hundreds
_QUARTER_TURNS = 3


class Torn(ValueError):
    """A part of the file lies beyond its end."""


@dataclass(frozen=True, slots=True)
class HeifHead:
    """Width and height in pixels as the picture is shown (turned as its `irot` says), and its EXIF from TIFF's head."""

    width: int
    height: int
    exif: bytes


class _Bytes:
    """A window on the file that is read from front to back."""

    def __init__(self, raw: bytes, at: int, end: int) -> None:
        self._raw, self.at, self.end = raw, at, end

    def number(self, size: int) -> int:
        return int.from_bytes(self.take(size))

    def take(self, size: int) -> bytes:
        if self.at + size > self.end:
            raise ValueError("a box ends too early")
        self.at += size
        return self._raw[self.at - size : self.at]

    def version(self) -> tuple[int, int]:
        """Version and flags of a full box."""
        return self.number(1), self.number(3)

    def boxes(self) -> Iterator[tuple[bytes, _Bytes]]:
        """Name and inside of each box up to the end of the window."""
        for _ in range(_MOST):
            if self.at + 8 > self.end:
                return
            start = self.at
            size, name = self.number(4), self.take(4)
            if size == 1:
                size = self.number(8)
            stop = self.end if size == 0 else start + size
            if stop > self.end:
                raise Torn(f"box {name!r} reaches beyond the end")
            if stop < self.at:
                raise ValueError(f"box {name!r} is shorter than its head")
            yield name, _Bytes(self._raw, self.at, stop)
            self.at = stop


def read_head(raw: bytes) -> HeifHead:
    """The head of an HEIC.

    Raises
    ------
    Torn
        If the file breaks off before its end.
    ValueError
        If it has no main picture, or a box is not as the standard has it.
    """
    top = dict(_Bytes(raw, 0, len(raw)).boxes())
    if b"meta" not in top:
        raise ValueError("no box that describes the pictures")
    meta = top[b"meta"]
    meta.version()
    found = {name: box for name, box in meta.boxes() if name in {b"pitm", b"iinf", b"iloc", b"iprp", b"idat"}}
    missing = sorted(name.decode() for name in (b"pitm", b"iinf", b"iloc", b"iprp") if name not in found)
    if missing:
        raise ValueError(f"no box {', '.join(missing)}")
    version, _ = found[b"pitm"].version()
    main = found[b"pitm"].number(2 if version == 0 else 4)
    kinds = _kinds(found[b"iinf"])
    if main not in kinds:
        raise ValueError("no main picture")
    idat = found.get(b"idat")
    places = _places(found[b"iloc"], idat, len(raw))
    width, height = _size(found[b"iprp"], main)
    exif = next((item for item, kind in kinds.items() if kind == b"Exif"), None)
    data = b"".join(raw[start:stop] for start, stop in places.get(exif, ())) if exif is not None else b""
    # The first four bytes say how many more to skip up to TIFF's head.
    return HeifHead(width, height, data[4 + int.from_bytes(data[:4]) :])


def _kinds(box: _Bytes) -> dict[int, bytes]:
    """Item → its kind."""
    version, _ = box.version()
    box.number(2 if version == 0 else 4)
    out = {}
    for name, one in box.boxes():
        if name == b"infe":
            version, _ = one.version()
            if version >= 2:
                item = one.number(2 if version == 2 else 4)
                one.number(2)
                out[item] = one.take(4)
    return out


def _places(box: _Bytes, idat: _Bytes | None, length: int) -> dict[int, list[tuple[int, int]]]:
    """Item → from where to where its bytes lie in the file."""
    version, _ = box.version()
    sizes, more = box.number(1), box.number(1)
    offset, extent, base, index = sizes >> 4, sizes & 15, more >> 4, more & 15 if version else 0
    wide = 4 if version >= 2 else 2
    out: dict[int, list[tuple[int, int]]] = {}
    left = _MOST
    for _ in range(box.number(wide)):
        item = box.number(wide)
        method = box.number(2) & 15 if version else 0
        box.number(2)
        first = box.number(base)
        extents = out.setdefault(item, [])
        for _ in range(box.number(2)):
            left -= 1
            if left < 0:
                raise ValueError("more parts than a photo has")
            box.number(index)
            start = first + box.number(offset)
            size = box.number(extent)
            if method == 0:
                extents.append(_within(start, size, length))
            elif method == 1 and idat is not None:
                extents.append(_within(idat.at + start, size, idat.end))
    return out


def _within(start: int, size: int, end: int) -> tuple[int, int]:
    # A size of 0 means: up to the end.
    stop = start + size if size else end
    if not start <= stop <= end:
        raise Torn("a part of the picture lies beyond the end")
    return start, stop


def _size(box: _Bytes, main: int) -> tuple[int, int]:
    """Size of the main picture as it is shown."""
    properties: list[tuple[bytes, _Bytes]] = []
    of_main: list[int] = []
    for name, one in box.boxes():
        if name == b"ipco":
            properties = list(one.boxes())
        elif name == b"ipma":
            of_main += _associated(one, main)
    size, turns = None, 0
    for number in of_main:
        name, one = properties[number - 1] if 0 < number <= len(properties) else (b"", box)
        if name == b"ispe":
            one.version()
            size = one.number(4), one.number(4)
        elif name == b"irot":
            turns = one.number(1) & _QUARTER_TURNS
    if size is None:
        raise ValueError("the main picture has no size")
    return (size[1], size[0]) if turns % 2 else size


def _associated(box: _Bytes, main: int) -> list[int]:
    version, flags = box.version()
    wide = 2 if flags & 1 else 1
    out: list[int] = []
    for _ in range(box.number(4)):
        item = box.number(2 if version == 0 else 4)
        numbers = [box.number(wide) & (0x7FFF if wide == 2 else 0x7F) for _ in range(box.number(1))]
        if item == main:
            out = numbers
    return out
