"""HEIC as a telephone sends it: made by libheif's own writer from a JPEG; read back against libheif's reader."""

from __future__ import annotations

import io
import subprocess
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pi_heif
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from _require import program, require
from ledger.pictures import picture
from tepal.ledger import Defaults, Ledger, take
from tepal.ledger.formats._heif import read_head
from tepal.ledger.formats._pictures import read_picture
from tepal.tables import Refused

TAKEN, OFFSET, LONLAT = "2026:06:14 19:30:00", "-05:00", (-98.123456, 40.654321)
Heic = Callable[..., bytes]


@pytest.fixture(scope="module")
def heic(tmp_path_factory: pytest.TempPathFactory) -> Heic:
    """Makes a real HEIC out of a JPEG."""
    encoder = require("heif-enc (Debian: libheif-examples)", program("heif-enc"))
    folder = tmp_path_factory.mktemp("heic")

    def make(jpeg: bytes, *options: str) -> bytes:
        (folder / "a.jpg").write_bytes(jpeg)
        command = [encoder, *options, str(folder / "a.jpg"), "-o", str(folder / "a.heic")]
        done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
        assert done.returncode == 0, done.stderr
        return (folder / "a.heic").read_bytes()

    return make


def large(size: tuple[int, int], orientation: int) -> bytes:
    tags = Image.Exif()
    tags[0x0112] = orientation
    out = io.BytesIO()
    Image.effect_noise(size, 60).convert("RGB").save(out, "JPEG", exif=tags.tobytes())
    return out.getvalue()


def turned(raw: bytes, quarter_turns: int) -> bytes:
    """The same file with its property of bit depths made one of turning: no byte moves."""
    pixi = b"\x00\x00\x00\x10pixi"
    assert raw.count(pixi) == 1
    at = raw.index(pixi)
    return raw[:at] + b"\x00\x00\x00\x10irot" + bytes([quarter_turns]) + bytes(7) + raw[at + 16 :]


def test_a_photo_from_a_telephone_goes_in_with_its_day_and_place(heic: Heic, tmp_path: Path) -> None:
    photo = tmp_path / "IMG_0001.HEIC"
    photo.write_bytes(heic(picture(taken=TAKEN, offset=OFFSET, lonlat=LONLAT)))
    found = take([photo], tmp_path / "l", defaults=Defaults(today=date(2026, 9, 1), by="scout"))
    assert (found.added, found.refused) == (1, ())
    assert take([photo], tmp_path / "l", defaults=Defaults(today=date(2026, 9, 1), by="scout")).already == 1
    with Ledger.open(tmp_path / "l") as ledger:
        (body,) = (entry.plain()["body"] for entry in ledger.entries(kinds=("photo",)))
        (kept,) = ledger.photos.iterdir()
    assert (body["media_type"], body["taken_at"]) == ("image/heic", "2026-06-14T19:30:00-05:00")
    assert body["at"] == pytest.approx(LONLAT, abs=1e-6)
    assert (kept.name, kept.read_bytes()) == (body["sha256"] + ".heic", photo.read_bytes())


# One picture, one of tiles, one with a small picture beside it, one with a mask beside it.
@pytest.mark.parametrize(
    ("size", "options"), [((64, 48), ()), ((1600, 1100), ()), ((200, 300), ("-t", "64")), ((64, 48), ("-q", "5"))]
)
@pytest.mark.parametrize("orientation", [1, 6, 8])
def test_size_and_exif_are_those_that_libheif_reads(
    heic: Heic, size: tuple[int, int], options: tuple[str, ...], orientation: int
) -> None:
    raw = heic(large(size, orientation), *options)
    peer = pi_heif.open_heif(io.BytesIO(raw))
    head = read_head(raw)
    assert (head.width, head.height) == peer.size
    assert head.exif == peer.info["exif"].removeprefix(b"Exif\x00\x00")
    assert dict(_tags(head.exif))[0x0112] == orientation


def _tags(exif: bytes) -> Image.Exif:
    tags = Image.Exif()
    tags.load(b"Exif\x00\x00" + exif)
    return tags


@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_a_picture_that_its_file_turns_is_told_as_it_is_shown(heic: Heic, turns: int) -> None:
    raw = turned(heic(large((640, 480), 6)), turns)
    found = read_picture(raw, file="p")
    assert (found.width, found.height) == pi_heif.open_heif(io.BytesIO(raw)).size
    assert (found.width > found.height) == (turns % 2 == 0)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_jpeg_that_lies_on_its_side_is_told_upright(orientation: int) -> None:
    from PIL import ImageOps

    raw = large((64, 48), orientation)
    upright = ImageOps.exif_transpose(Image.open(io.BytesIO(raw)))
    found = read_picture(raw, file="p")
    assert (found.width, found.height) == upright.size


@pytest.fixture(scope="module")
def sent(heic: Heic) -> bytes:
    return heic(picture(taken=TAKEN, offset=OFFSET, lonlat=LONLAT))


@given(st.data())
def test_a_cut_heic_is_refused_wherever_it_was_cut(sent: bytes, data: st.DataObject) -> None:
    with pytest.raises(Refused):
        read_picture(sent[: data.draw(st.integers(0, len(sent) - 1))], file="p")


@given(st.data())
def test_a_heic_with_any_bytes_changed_is_read_or_refused(sent: bytes, data: st.DataObject) -> None:
    raw = bytearray(sent)
    for _ in range(data.draw(st.integers(1, 6))):
        raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    try:
        found = read_picture(bytes(raw), file="p")
    except Refused:
        return
    assert found.lonlat is None or (abs(found.lonlat[0]) <= 180 and abs(found.lonlat[1]) <= 90)


def test_one_changed_byte_that_ends_the_usual_decoder_costs_only_the_exif(sent: bytes) -> None:
    """Found by fuzzing: given this file, pi_heif 1.4 with libheif 1.23 ends the whole process."""
    torn = sent.replace(b"Exif\x00", b"E\xffif\x00", 1)
    assert torn != sent
    found, whole = read_picture(torn, file="p"), read_picture(sent, file="p")
    assert (found.width, found.height, found.lonlat) == (whole.width, whole.height, None)
    assert whole.lonlat is not None
