"""Voice notes go the way of photos: kept once by content, given out, taken, kept safe, looked after; and forgotten."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from _recorded import mp4, ogg, sound, webm
from tepal.cli import main
from tepal.ledger import Ledger, entry, forget, give, take
from tepal.ledger.formats._sounds import read_sound
from tepal.ledger.keeping import backup, check, restore
from tepal.tables import Refused

SAM = "Sam Prueba"


def _county(where: Path | str, photos: Path | None = None) -> tuple[Ledger, dict[str, str]]:
    """Two voice notes of two people at a stop, with their originals."""
    ledger = Ledger.open(where, create=True, photos=photos)
    ledger.photos.mkdir()
    stop = entry("stop", {"counts": []}, site="creek", by=SAM)
    made = [entry("site", {"name": "Creek", "ground": "field"}, site="creek", by="office"), stop]
    own = {}
    for who in (SAM, "Tess Prueba"):
        digest, raw = sound(who.encode())
        (ledger.photos / f"{digest}.webm").write_bytes(raw)
        body = {"sha256": digest, "media_type": "audio/webm", "size_bytes": len(raw), "seconds": 4.0, "of": stop.id}
        made.append(entry("sound", body, site="creek", by=who))
        own[who] = digest
    assert not ledger.add(made).refused
    return ledger, own


@pytest.mark.parametrize(("raw", "media"), [(webm(), "audio/webm"), (mp4(), "audio/mp4"), (ogg(), "audio/ogg")])
def test_it_is_what_its_bytes_say(raw: bytes, media: str) -> None:
    assert read_sound(raw, file="x") == media
    # Cut off in the middle of the sound, it is what was recorded until then.
    assert read_sound(raw + b"\0" * 50, file="x") == media


@given(raw=st.binary(max_size=300), cut=st.integers(0, 200), place=st.integers(0, 150), other=st.integers(0, 255))
@example(raw=b"OggS", cut=0, place=0, other=0)
def test_any_bytes_are_a_sound_or_refused(raw: bytes, cut: int, place: int, other: int) -> None:
    for one in (raw, webm()[:cut] + raw, mp4()[:cut] + raw, ogg()[:cut] + raw):
        bent = one[:place] + bytes([other]) + one[place + 1 :]
        try:
            assert read_sound(bent, file="x").startswith("audio/")
        except Refused as problem:
            assert "sound alone" in problem.rule


def test_given_out_and_taken_it_is_the_same_record(tmp_path: Path) -> None:
    ledger, own = _county(tmp_path / "county.ledger")
    with ledger:
        given = give(ledger, tmp_path / "out")
        assert {name for name in given.files if "/" in name and not name.startswith("views/")} == {
            f"sounds/{digest}.webm" for digest in own.values()
        }
        taken = take([tmp_path / "out"], tmp_path / "again.ledger")
        assert (taken.added, taken.refused) == (4, ())
        with Ledger.open(tmp_path / "again.ledger") as again:
            assert [e.text() for e in again.entries()] == [e.text() for e in ledger.entries()]
            assert sorted(p.name for p in again.photos.iterdir()) == sorted(p.name for p in ledger.photos.iterdir())
    # One that is not what its name says stops it.
    (tmp_path / "out" / "sounds" / f"{own[SAM]}.webm").write_bytes(webm(b"something else"))
    assert "not the one it is named for" in str(take([tmp_path / "out"], tmp_path / "third.ledger").refused[0])


def test_a_lone_file_becomes_a_voice_note_of_the_site(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    where = tmp_path / "county.ledger"
    ledger, _ = _county(where)
    ledger.close()
    (tmp_path / "note.m4a").write_bytes(mp4(b"said"))
    (tmp_path / "film.m4a").write_bytes(mp4(b"shown", handlers=(b"vide", b"soun")))
    files = [str(tmp_path / name) for name in ("note.m4a", "film.m4a")]
    for added in (1, 0):
        assert main(["take", *files, "--ledger", str(where), "--site", "creek", "--by", SAM, "--json"]) == 1
        told = json.loads(capsys.readouterr().out)
        assert (told["added"], len(told["refused"])) == (added, 1)
    with Ledger.open(where) as book:
        body = book.entries(kinds=("sound",))[-1].plain()["body"]
        digest = hashlib.sha256(mp4(b"said")).hexdigest()
        assert (body["sha256"], body["media_type"]) == (digest, "audio/mp4")
        assert (book.photos / f"{digest}.m4a").read_bytes() == mp4(b"said")


def test_a_backup_holds_it_and_check_looks_after_it(tmp_path: Path) -> None:
    where = tmp_path / "county.ledger"
    ledger, own = _county(where)
    ledger.close()
    backup(where, tmp_path / "kept.zip")
    restore(tmp_path / "kept.zip", tmp_path / "again.ledger")
    for one in (where, tmp_path / "again.ledger"):
        found = check(one)
        assert (found.findings, found.photos) == ((), 2)
    folder = tmp_path / "again.ledger.photos"
    (folder / f"{own[SAM]}.webm").write_bytes(webm(b"bent"))
    (folder / f"{sound(b'strange')[0]}.ogg").write_bytes(b"")
    assert {one.kind for one in check(tmp_path / "again.ledger").findings} == {"photo_damaged"}


def test_who_is_forgotten_is_heard_no_more(store: str, tmp_path: Path) -> None:
    """A voice is the person: the entry keeps its id and hash, the recording goes. The others' stay."""
    photos = tmp_path / "originals"
    ledger, own = _county(store, photos)
    with ledger:
        mine = ledger.entries(kinds=("sound",))[0]
        # Somebody else wrote down what it says: their entry names the same voice.
        words = {**mine.plain()["body"], "words": "the gate is locked"}
        ledger.add([entry("sound", words, site="creek", by="Tess Prueba", amends=mine.id)])
        told = forget(ledger, SAM, do=False)
        assert (told.sounds, len(told.removed)) == (1, 2)
        assert (ledger.photos / f"{own[SAM]}.webm").exists()
        assert forget(ledger, SAM).sounds == 1
        assert [path.name for path in ledger.photos.iterdir()] == [f"{own['Tess Prueba']}.webm"]
        kept = [e for e in ledger.entries() if e.kind in {"sound", "forgotten"}]
        assert [e.kind for e in kept] == ["forgotten", "sound", "forgotten"]
        assert own[SAM] not in "".join(e.text() for e in ledger.entries())
    assert check(store, photos=photos).findings == ()
