"""What kind of recording a voice note is, by its bytes: sound alone, in one of three containers. Nothing is decoded.

A browser will play it; what is no recording by its bytes, or shows pictures too, never gets that far.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tepal.ledger.formats._bytes import read_bytes
from tepal.tables import Refused

SOUND_EXTENSIONS = {"audio/webm": ".webm", "audio/mp4": ".m4a", "audio/ogg": ".ogg"}
SOUND_SUFFIXES = frozenset({".webm", ".m4a", ".ogg", ".oga", ".opus"})
MAX_SOUND_BYTES = 10_000_000

# Of Matroska (RFC 9559): what says which document it is, and of which kind its tracks are.
_EBML, _DOC_TYPE, _SEGMENT, _TRACKS, _ENTRY, _TRACK_TYPE = 0x1A45DFA3, 0x4282, 0x18538067, 0x1654AE6B, 0xAE, 0x83
_CLUSTER, _IS_SOUND = 0x1F43B675, 2
_OGG_SOUNDS = (b"OpusHead", b"\x01vorbis", b"\x7fFLAC", b"Speex   ")
_MOST_PARTS = 10_000


@dataclass(frozen=True, slots=True)
class SoundFile:
    """A voice note as found: its content's hash, its size, and its kind."""

    path: Path
    sha256: str
    size_bytes: int
    media_type: str

    @property
    def name(self) -> str:
        """What the original is called where it is kept."""
        return self.sha256 + SOUND_EXTENSIONS[self.media_type]


def read_sound_file(path: Path) -> SoundFile:
    """Look at a voice note.

    Raises
    ------
    Refused
        If it cannot be read, is empty, too large, or no recording of sound alone.
    """
    data = read_bytes(path, most=MAX_SOUND_BYTES)
    return SoundFile(path, hashlib.sha256(data).hexdigest(), len(data), read_sound(data, file=path.name))


def read_sound(raw: bytes, *, file: str) -> str:
    """The media type of a recording: WebM (Matroska), MP4 or Ogg, with one or more tracks of sound and no other.

    A recording that was cut off while it was made is taken as far as it goes: players do the same.

    Raises
    ------
    Refused
        If it is none of these by its bytes, or shows pictures.
    """
    try:
        found, kinds = _looked_at(raw)
    except (ValueError, IndexError):
        found, kinds = "", set()
    if found and kinds == {"sound"}:
        return found
    what = "no recording by its bytes" if raw else "nothing in it"
    raise Refused(
        "it shows pictures, too" if found and "sound" in kinds else what,
        where=file,
        rule="A voice note is WebM, MP4 or Ogg, and sound alone.",
        step="Leave it out, or have it recorded again.",
    )


def _looked_at(raw: bytes) -> tuple[str, set[str]]:
    if raw.startswith(_EBML.to_bytes(4, "big")):
        return "audio/webm", _of_matroska(raw)
    if raw[4:8] == b"ftyp":
        return "audio/mp4", {"sound" if kind == b"soun" else "other" for kind in _of_mp4(raw, 0, len(raw), ())}
    if raw.startswith(b"OggS"):
        return "audio/ogg", set(_of_ogg(raw))
    return "", set()


def _of_matroska(raw: bytes) -> set[str]:
    head, kinds = False, set()
    for id, start, end in _elements(raw, 0, len(raw)):
        if id == _EBML:
            head = any(i == _DOC_TYPE and raw[a:b].rstrip(b"\0") == b"webm" for i, a, b in _elements(raw, start, end))
        elif id == _SEGMENT:
            for inner, a, b in _elements(raw, start, end):
                if inner == _CLUSTER:  # sound from here on: what it is was said before
                    break
                if inner == _TRACKS:
                    kinds |= {_track(raw, x, y) for entry, x, y in _elements(raw, a, b) if entry == _ENTRY}
            break
    return kinds if head else set()


def _track(raw: bytes, start: int, end: int) -> str:
    types = [int.from_bytes(raw[a:b], "big") for id, a, b in _elements(raw, start, end) if id == _TRACK_TYPE]
    return "sound" if types == [_IS_SOUND] else "other"


def _elements(raw: bytes, start: int, end: int) -> Iterator[tuple[int, int, int]]:
    """The elements from `start` to `end`: id, and where the content begins and ends."""
    for _ in range(_MOST_PARTS):
        if start >= end:
            return
        wide = _width(raw[start])
        id = int.from_bytes(raw[start : start + wide], "big")
        start += wide
        wide = _width(raw[start])
        size = int.from_bytes(raw[start : start + wide], "big") & ~(1 << (7 * wide))
        start += wide
        # All ones: as far as its parent goes, as a recorder writes that does not know yet how long it will be.
        stop = end if size == (1 << (7 * wide)) - 1 else min(start + size, end)
        yield id, start, stop
        start = stop


def _width(first: int) -> int:
    if first == 0:
        raise ValueError("no length")
    return 9 - first.bit_length()


_INTO = {(): b"moov", (b"moov",): b"trak", (b"moov", b"trak"): b"mdia"}


def _of_mp4(raw: bytes, start: int, end: int, above: tuple[bytes, ...]) -> Iterator[bytes]:
    """Handler types of the tracks (ISO/IEC 14496-12, 8.4.3)."""
    for _ in range(_MOST_PARTS):
        if start + 8 > end:
            return
        size, kind, head = int.from_bytes(raw[start : start + 4], "big"), raw[start + 4 : start + 8], 8
        if size == 1:
            size, head = int.from_bytes(raw[start + 8 : start + 16], "big"), 16
        stop = end if size == 0 else start + size
        if stop < start + head:
            raise ValueError("no length")
        if kind == _INTO.get(above):
            yield from _of_mp4(raw, start + head, min(stop, end), (*above, kind))
        elif kind == b"hdlr" and len(above) == len(_INTO):
            yield raw[start + head + 8 : start + head + 12]
        start = stop


def _of_ogg(raw: bytes) -> Iterator[str]:
    """What each stream begins with: all first pages stand before any other (RFC 3533, 6)."""
    at = 0
    for _ in range(_MOST_PARTS):
        first_of_a_stream = 0x02
        if raw[at : at + 5] != b"OggS\0" or not raw[at + 5] & first_of_a_stream:
            return
        lengths = raw[at + 27 : at + 27 + raw[at + 26]]
        packet = at + 27 + len(lengths)
        yield "sound" if raw[packet:].startswith(_OGG_SOUNDS) else "other"
        at = packet + sum(lengths)
