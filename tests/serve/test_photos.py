"""Photos come in by parts and by their hash; what is given out is made anew and holds pixels alone."""

from __future__ import annotations

import hashlib
import io
import os
import zlib
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from _served import OWN, World, picture
from tepal.serve._photo_store import WIDTHS

TYPE = "application/partial-upload"


def send(world: World, digest: str, raw: bytes, *, at: int = 0, last: bool = True, who: str = "Sam") -> Any:
    headers = {"content-type": TYPE, "upload-offset": str(at), "upload-complete": f"?{int(last)}"}
    return world.ask(who, "PATCH", f"/photos/{digest}", headers=headers, content=raw)


def ask(world: World, digest: str, who: str = "Sam") -> tuple[int, str | None, str | None]:
    answer = world.ask(who, "HEAD", f"/photos/{digest}")
    return answer.status_code, answer.headers.get("upload-offset"), answer.headers.get("upload-complete")


def named(world: World, digest: str) -> None:
    """An entry of the scout's own site that names the photo."""
    world.add(digest, "photo", {"sha256": digest, "media_type": "image/jpeg", "size_bytes": 9}, site=OWN)


def test_a_photo_comes_in_by_parts_and_goes_on_where_the_line_broke(world: World) -> None:
    digest, raw = picture(77, (640, 480))
    size = str(len(raw))
    assert ask(world, digest) == (404, None, None)
    first = send(world, digest, raw[:700], last=False)
    assert (first.status_code, first.headers["upload-offset"], first.headers["upload-complete"]) == (204, "700", "?0")
    assert ask(world, digest) == (200, "700", "?0")
    for wrong in (0, 699, 701, 10_000):
        refused = send(world, digest, raw[700:], at=wrong)
        assert (refused.status_code, refused.headers["upload-offset"]) == (409, "700")
        assert refused.json()["status"] == 409
    assert send(world, digest, raw[700:], at=700).status_code == 204
    assert ask(world, digest) == (200, size, "?1")
    assert (world.ledger.photos / f"{digest}.jpg").read_bytes() == raw
    assert list((world.ledger.photos / ".parts").iterdir()) == []
    # The answer was lost, and the last part comes again; or somebody else has the same photo.
    assert send(world, digest, raw[700:], at=700).headers["upload-offset"] == size
    assert send(world, digest, b"", at=len(raw)).status_code == 204
    assert ask(world, digest, "Tess") == (200, size, "?1")


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(cuts=st.lists(st.integers(0, 3000), max_size=6), shade=st.integers(0, 255))
def test_however_it_is_cut_the_whole_is_what_was_sent(world: World, cuts: list[int], shade: int) -> None:
    digest, raw = picture(shade, (200 + shade, 160))
    edges = [0, *sorted(min(cut, len(raw)) for cut in cuts), len(raw)]
    if ask(world, digest)[2] == "?1":
        return
    for start, end in pairwise(edges):
        assert send(world, digest, raw[start:end], at=start, last=False).status_code == 204
    assert send(world, digest, b"", at=len(raw)).status_code == 204
    assert (world.ledger.photos / f"{digest}.jpg").read_bytes() == raw


def test_what_another_device_sent_under_the_name_spoils_nothing(world: World) -> None:
    digest, raw = picture(5, (300, 300))
    assert send(world, digest, b"not these", last=False, who="Tess").status_code == 204
    assert ask(world, digest) == (404, None, None)
    assert send(world, digest, raw).status_code == 204


def test_bytes_of_another_hash_are_thrown_away(world: World) -> None:
    digest, raw = picture(9)
    refused = send(world, digest, raw + b"x")
    assert refused.status_code == 422
    assert "SHA-256" in refused.json()["rule"]
    assert ask(world, digest) == (404, None, None)
    assert send(world, digest, raw).status_code == 204


def png(width: int, height: int) -> bytes:
    """A PNG of few bytes that claims many pixels."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return len(data).to_bytes(4, "big") + kind + data + zlib.crc32(kind + data).to_bytes(4, "big")

    head = width.to_bytes(4, "big") + height.to_bytes(4, "big") + bytes([1, 0, 0, 0, 0])
    body = zlib.compress(b"\0" * 100_000, 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"\xff\xd8\xff" + b"\0" * 400,
        picture(3)[1][:-200],
        b"GIF89a" + b"\0" * 100,
        b"\0\0\0\x18ftypheic" + b"\0" * 500,
        png(60_000, 60_000),
        png(9_000, 9_000),
    ],
    ids=["nothing", "svg", "torn head", "torn", "gif", "heic", "3.6 gigapixels", "81 megapixels"],
)
def test_what_is_no_photo_or_a_bomb_is_refused_and_thrown_away(world: World, raw: bytes) -> None:
    digest = hashlib.sha256(raw).hexdigest()
    before = sorted(path.name for path in world.ledger.photos.rglob("*"))
    assert send(world, digest, raw).status_code == 422
    assert {path.name for path in world.ledger.photos.rglob("*")} - set(before) <= {".parts"}


def test_a_photo_that_is_too_large_stops_coming_in(world: World) -> None:
    from dataclasses import replace

    from _served import TestClient
    from tepal.serve import app

    small = replace(world.settings, most_photo=5000)
    world.client = TestClient(app(world.ledger, small), base_url="https://testserver", raise_server_exceptions=False)
    digest = "cd" * 32
    assert send(world, digest, b"x" * 5001, last=False).status_code == 413
    assert send(world, digest, b"x" * 4000, last=False).status_code == 204
    assert send(world, digest, b"x" * 4000, at=4000, last=False).status_code == 413
    assert ask(world, digest)[0] == 404


def test_a_part_that_another_request_finishes_meanwhile_is_left_alone(
    world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    from tepal.serve import _original_store

    digest, raw = picture(33)
    send(world, digest, raw, last=False)
    whole = world.ledger.photos / f"{digest}.jpg"

    def while_we_wait(*_: Any) -> None:
        next((world.ledger.photos / ".parts").iterdir()).rename(whole)

    monkeypatch.setattr(_original_store.fcntl, "flock", while_we_wait)
    late = send(world, digest, b"more", at=len(raw))
    assert (late.status_code, late.headers["upload-complete"]) == (409, "?1")
    assert whole.read_bytes() == raw


def test_parts_of_one_photo_sent_at_once_make_the_one_photo(world: World) -> None:
    from concurrent.futures import ThreadPoolExecutor

    for n in range(3):
        digest, raw = picture(100 + n, (500, 400))
        half = len(raw) // 2
        sent = [(raw[:half], 0, False), (raw[half:], half, True), (raw, 0, True), (b"", len(raw), True)] * 4
        with ThreadPoolExecutor(8) as pool:
            answers = list(pool.map(lambda one: send(world, digest, one[0], at=one[1], last=one[2]), sent))  # noqa: B023
        assert {answer.status_code for answer in answers} <= {204, 409, 422}
        while ask(world, digest)[2] != "?1":
            offset = int(ask(world, digest)[1] or 0)
            send(world, digest, raw[offset:], at=offset)
        assert (world.ledger.photos / f"{digest}.jpg").read_bytes() == raw


@pytest.mark.parametrize(
    "name", ["..%2f..%2fcounty.ledger", "a.jpg", "AB" * 32, "ab" * 31, "ab" * 32 + "%00", "%2e%2e"]
)
@pytest.mark.parametrize("method", ["GET", "HEAD", "PATCH"])
def test_a_name_that_is_no_hash_reaches_no_file(world: World, name: str, method: str) -> None:
    answer = world.ask("Cora", method, f"/photos/{name}", headers={"content-type": TYPE, "upload-offset": "0"})
    assert answer.status_code in {404, 422}


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"content-type": "image/jpeg", "upload-offset": "0"}, 415),
        ({"content-type": TYPE}, 422),
        ({"content-type": TYPE, "upload-offset": "-1"}, 422),
        ({"content-type": TYPE, "upload-offset": "0", "upload-complete": "yes"}, 422),
    ],
)
def test_a_part_says_where_it_belongs(world: World, headers: dict[str, str], status: int) -> None:
    answer = world.ask("Sam", "PATCH", f"/photos/{'ab' * 32}", headers=headers, content=b"x")
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"


def camera(orientation: int) -> tuple[str, bytes]:
    """A photo as a telephone makes it: dark at the top of the upright picture, with a place and words in its head."""
    upright = np.full((300, 400, 3), 220, np.uint8)
    upright[:100] = 20
    # How the sensor's rows lie for each orientation (EXIF 2.3, tag 0x0112).
    rows = {1: upright, 3: upright[::-1, ::-1], 6: np.rot90(upright, 1), 8: np.rot90(upright, -1)}[orientation]
    exif = Image.Exif()
    exif[0x0112], exif[0x010E], exif[0x0110] = orientation, "secret words", "secret camera"
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (41.0, 30.0, 12.5)
    out = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(rows)).save(
        out, "JPEG", quality=90, exif=exif, comment=b"secret comment", icc_profile=b"secret profile", xmp=b"secret xmp"
    )
    return hashlib.sha256(out.getvalue()).hexdigest(), out.getvalue()


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_what_is_given_out_is_upright_and_holds_nothing_but_pixels(world: World, orientation: int) -> None:
    digest, raw = camera(orientation)
    assert send(world, digest, raw).status_code == 204
    named(world, digest)
    answer = world.get("Sam", f"/photos/{digest}?w=300")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "image/jpeg"
    assert answer.content != raw
    assert b"secret" not in answer.content
    with Image.open(io.BytesIO(answer.content)) as shown:
        assert dict(shown.getexif()) == {}
        assert set(shown.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
        assert shown.width > shown.height
        assert max(shown.size) <= 480
        pixels = np.asarray(shown.convert("L")).astype(float)
    third = pixels.shape[0] // 3
    assert pixels[: third - 10].mean() < 60
    assert pixels[third + 10 :].mean() > 180


def test_copies_are_of_few_sizes_and_never_larger_than_the_photo(world: World) -> None:
    digest, raw = picture(60, (500, 400))
    send(world, digest, raw)
    named(world, digest)
    wide = {}
    for width in (1, 100, 240, 241, 480, 700, 1600):
        answer = world.get("Sam", f"/photos/{digest}?w={width}")
        with Image.open(io.BytesIO(answer.content)) as shown:
            wide[width] = shown.width
    assert wide == {1: 240, 100: 240, 240: 240, 241: 480, 480: 480, 700: 500, 1600: 500}
    copies = list((world.ledger.photos / ".copies").iterdir())
    assert len(copies) <= len(WIDTHS)
    assert world.get("Sam", f"/photos/{digest}?w=1601").status_code == 422


def test_a_leaf_is_drawn_anew_for_whom_the_photo_is_shown_and_nothing_travels_with_it(world: World) -> None:
    digest, raw = camera(1)
    send(world, digest, raw)
    named(world, digest)
    assert world.get("Tess", f"/photos/{digest}/leaf").status_code == 404
    answer = world.get("Sam", f"/photos/{digest}/leaf")
    assert (answer.status_code, answer.headers["content-type"]) == (200, "image/jpeg")
    assert b"secret" not in answer.content
    with Image.open(io.BytesIO(answer.content)) as shown:
        assert dict(shown.getexif()) == {}
        # As wide as it is drawn on, and below it why no leaf was measured.
        assert (shown.width, shown.height > 0.75 * shown.width) == (1000, True)


def test_a_photo_is_shown_to_whom_an_entry_shows_it(world: World) -> None:
    digest, raw = picture(61)
    send(world, digest, raw, who="Tess")
    for who, status in (("Cora", 200), ("Sam", 404), ("Tess", 404), ("Gil", 404), ("Lena", 404)):
        assert world.get(who, f"/photos/{digest}").status_code == status, who
    world.add("plant", "plant", {"stage": "vegetative", "looks": {}, "photos": [digest]}, site=OWN)
    for who, status in (("Sam", 200), ("Tess", 404), ("Gil", 404), ("Lena", 404)):
        assert world.get(who, f"/photos/{digest}").status_code == status, who


def test_parts_are_few_and_old_ones_go(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    from tepal.serve import _original_store

    monkeypatch.setattr(_original_store, "_MOST_PARTS", 3)
    sent = [send(world, f"{n:064x}", b"x", last=False).status_code for n in range(5)]
    assert sent == [204, 204, 204, 429, 429]
    assert send(world, f"{9:064x}", b"x", last=False, who="Tess").status_code == 204
    # One that was begun goes on, and none is there a fortnight later.
    assert send(world, f"{0:064x}", b"y", at=1, last=False).status_code == 204
    for path in (world.ledger.photos / ".parts").iterdir():
        os.utime(path, (1, 1))
    assert send(world, f"{7:064x}", b"x", last=False).status_code == 204
    assert len(list((world.ledger.photos / ".parts").iterdir())) == 1


def test_a_full_disk_is_said_plainly(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    from tepal.serve import _original_store

    monkeypatch.setattr(_original_store, "_ROOM_LEFT", 1 << 62)
    answer = send(world, "ab" * 32, b"x")
    assert answer.status_code == 507
    assert "disk" in answer.json()["step"]


def test_an_office_without_a_folder_for_photos_says_so(postgresql_url: str) -> None:
    from _served import Settings, TestClient
    from tepal.ledger import Ledger
    from tepal.serve import app

    with Ledger.open(postgresql_url, create=True) as ledger:
        world = World(ledger, settings_ := Settings(hosts=("testserver",)), None, None, None)  # type: ignore[arg-type]
        made = app(ledger, settings_)
        world.office, world.clock = made.state.office, settings_.now  # type: ignore[assignment]
        world.client = TestClient(made, base_url="https://testserver", raise_server_exceptions=False)
        world.person("Cora", "coordinator")
        assert world.ask("Cora", "HEAD", f"/photos/{'ab' * 32}").status_code == 503
