"""Voice notes come in as photos do and go out to be played: sound alone, never as something that a browser runs."""

from __future__ import annotations

import hashlib
from typing import Any

import pytest

from _recorded import mp4, ogg, sound, webm
from _served import MADE, OTHER, OWN, World
from tepal.ledger import forget, new_id
from tepal.ledger.formats._sounds import MAX_SOUND_BYTES

TYPE = "application/partial-upload"


def send(world: World, digest: str, raw: bytes, *, at: int = 0, last: bool = True, who: str = "Sam") -> Any:
    headers = {"content-type": TYPE, "upload-offset": str(at), "upload-complete": f"?{int(last)}"}
    return world.ask(who, "PATCH", f"/sounds/{digest}", headers=headers, content=raw)


def named(world: World, digest: str, site: str = OWN, media: str = "audio/webm") -> None:
    world.add(digest, "sound", {"sha256": digest, "media_type": media, "size_bytes": 9}, site=site)


@pytest.mark.parametrize(("raw", "media", "suffix"), [
    (webm(b"w"), "audio/webm", ".webm"), (mp4(b"m"), "audio/mp4", ".m4a"), (ogg(b"o"), "audio/ogg", ".ogg"),
], ids=["webm", "mp4", "ogg"])  # fmt: skip
def test_it_comes_in_by_parts_and_goes_out_as_it_was(world: World, raw: bytes, media: str, suffix: str) -> None:
    digest = hashlib.sha256(raw).hexdigest()
    named(world, digest, media=media)
    assert world.ask("Sam", "HEAD", f"/sounds/{digest}").status_code == 404
    assert send(world, digest, raw[:20], last=False).headers["upload-offset"] == "20"
    assert send(world, digest, raw[21:], at=21).status_code == 409
    assert send(world, digest, raw[20:], at=20).headers["upload-complete"] == "?1"
    assert (world.ledger.photos / f"{digest}{suffix}").read_bytes() == raw
    played = world.get("Sam", f"/sounds/{digest}")
    assert (played.status_code, played.content) == (200, raw)
    assert played.headers["content-type"] == media
    assert played.headers["content-disposition"] == f'attachment; filename="{digest}{suffix}"'
    assert played.headers["x-content-type-options"] == "nosniff"
    assert played.headers["content-security-policy"].startswith("default-src 'none'; sandbox;")
    assert played.headers["cache-control"] == "private, max-age=3600"
    part = world.get("Sam", f"/sounds/{digest}", headers={"range": "bytes=4-9"})
    assert (part.status_code, part.content) == (206, raw[4:10])
    # It is no photo, and a photo is none.
    assert world.get("Cora", f"/photos/{digest}").status_code == 404
    assert world.get("Cora", f"/sounds/{world.made['own picture']}").status_code == 404


NO_SOUND = {
    "nothing": b"",
    "html": b"<html><script>alert(1)</script>",
    "torn html": b"\x1a\x45\xdf\xa3<script>",
    "pictures": webm(kind=1),
    "another document": webm(document=b"html"),
    "torn": webm()[:40],
    "film": mp4(handlers=(b"soun", b"vide")),
    "no track": mp4(handlers=()),
    "torn mp4": mp4()[:60],
    "ogg pictures": ogg(first=b"\x80theora"),
    "torn ogg": b"OggS",
    "mp3": b"ID3\x04" + b"\0" * 90,
    "wav": b"RIFF\x24\0\0\0WAVEfmt ",
    "jpeg": b"\xff\xd8\xff\xe0",
}


@pytest.mark.parametrize("raw", NO_SOUND.values(), ids=NO_SOUND.keys())
def test_what_is_no_sound_alone_is_refused_and_thrown_away(world: World, raw: bytes) -> None:
    digest = hashlib.sha256(raw).hexdigest()
    before = {path.name for path in world.ledger.photos.rglob("*")}
    assert send(world, digest, raw).status_code == 422
    assert {path.name for path in world.ledger.photos.rglob("*")} - before <= {".parts"}


def test_it_has_an_end(world: World) -> None:
    digest, raw = sound(b"\0" * MAX_SOUND_BYTES)
    assert send(world, digest, raw).status_code == 413


def test_it_is_heard_by_whom_an_entry_lets_hear_it_and_by_nobody_else(either: World) -> None:
    """As with photos: of an own site, of one's own making, of a call that was handed over; by its hash alone never."""
    for salt, site in ((b"own", OWN), (b"other", OTHER)):
        digest, raw = sound(salt)
        (either.ledger.photos / f"{digest}.webm").write_bytes(raw)
        named(either, digest, site)
    own, other = sound(b"own")[0], sound(b"other")[0]
    people = ("Sam", "Tess", "Cora")
    heard = {who: [either.get(who, f"/sounds/{one}").status_code for one in (own, other)] for who in people}
    assert heard == {"Sam": [200, 404], "Tess": [404, 200], "Cora": [200, 200]}
    for who in ("Gil", "Lena"):
        assert either.get(who, f"/sounds/{own}").status_code == 404
    # To name it is not to have it.
    body = {"sha256": other, "media_type": "audio/webm", "size_bytes": 9}
    entry = {"id": new_id(), "kind": "sound", "site": OWN, "made_at": MADE, "body": body}
    sent = either.ask("Sam", "POST", "/entries", json={"device_time": MADE, "entries": [entry]})
    assert [one["outcome"] for one in sent.json()["answers"]] == ["added"]
    assert either.get("Sam", f"/sounds/{other}").status_code == 404
    assert "upload-complete" not in either.ask("Sam", "HEAD", f"/sounds/{other}").headers


def test_one_that_was_forgotten_is_gone_for_everybody_and_the_devices_start_anew(either: World) -> None:
    digest, raw = sound(b"too much was said")
    assert send(either, digest, raw).status_code == 204
    body = {"sha256": digest, "media_type": "audio/webm", "size_bytes": len(raw), "words": "too much"}
    told = {"id": new_id(), "kind": "sound", "site": OWN, "made_at": MADE, "body": body}
    assert either.hand_in("Sam", told)[0]["outcome"] == "added"
    assert either.get("Cora", f"/sounds/{digest}").content == raw
    had = either.get("Sam", "/entries").json()
    forget(either.ledger, told["id"])
    for who in ("Sam", "Cora"):
        assert either.get(who, f"/sounds/{digest}").status_code == 404
        assert digest not in either.get(who, "/entries?limit=1000").text
    anew = either.get("Sam", f"/entries?after={had['next']}&view={had['view']}&mark={had['mark']}").json()
    assert (anew["reset"], anew["restored"]) == (True, False)
    # A phone that sends it again brings nothing back into the record.
    assert either.hand_in("Sam", told)[0]["outcome"] == "already"
