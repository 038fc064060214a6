"""One photo or voice note forgotten: its entries and its bytes are gone; what was seen beside it stays."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from _recorded import sound
from ledger.pictures import picture
from tepal.cli import main
from tepal.ledger import Entry, Ledger, entry, forget
from tepal.ledger.keeping import check
from tepal.tables import Refused

CAPTION = "the neighbour's boy stands in it"


@dataclass
class County:
    """Two photos and two voice notes, each with its original; the first of each is the one to go."""

    ledger: Ledger
    made: dict[str, Entry] = field(default_factory=dict)
    digests: dict[str, str] = field(default_factory=dict)

    def add(self, name: str, kind: str, body: dict[str, object], **more: str) -> None:
        one = entry(kind, body, by="Sam Prueba", site="creek", **more)
        assert not self.ledger.add([one]).refused
        self.made[name] = one

    def original(self, name: str, digest: str, raw: bytes, suffix: str) -> None:
        self.digests[name] = digest
        (self.ledger.photos / f"{digest}{suffix}").write_bytes(raw)

    def files(self) -> list[str]:
        """Names of the originals of which anything is left, one for each file."""
        names = {digest: name for name, digest in self.digests.items()}
        left = [path for path in self.ledger.photos.rglob("*") if path.is_file()]
        return sorted(name for path in left for digest, name in names.items() if digest in path.name)


@pytest.fixture
def county(ledger: Ledger) -> Iterator[County]:
    found = County(ledger)
    ledger.photos.mkdir()
    found.add("site", "site", {"name": "Creek", "ground": "field"})
    for number, name in enumerate(("face", "leaf")):
        raw = picture(number)
        digest = hashlib.sha256(raw).hexdigest()
        found.original(name, digest, raw, ".jpg")
        about = {"sha256": digest, "media_type": "image/jpeg", "size_bytes": len(raw)}
        found.add(name, "photo", about | ({"words": CAPTION} if name == "face" else {}))
        for folder, end in ((".copies", "-800.jpg"), (".copies", "-leaf.jpg")):
            (ledger.photos / folder).mkdir(exist_ok=True)
            (ledger.photos / folder / f"{digest}{end}").write_bytes(b"made anew")
    both = [found.digests["face"], found.digests["leaf"]]
    corrected = found.made["face"].plain()["body"] | {"words": f"{CAPTION}, on the left"}
    found.add("face again", "photo", corrected, amends=found.made["face"].id)
    found.add("plant", "plant", {"stage": "vegetative", "looks": {"stem_hair": "none"}, "photos": both})
    found.add("report", "report", {"how": "text", "words": "Is it this?", "photos": both[:1]})
    for name in ("rude", "kind"):
        digest, raw = sound(name.encode())
        found.original(name, digest, raw, ".webm")
        found.add(name, "sound", {"sha256": digest, "media_type": "audio/webm", "size_bytes": len(raw), "words": name})
    yield found


def test_a_photo_goes_with_all_that_was_made_of_it_and_what_was_seen_stays(county: County) -> None:
    before = {one.id: (one.seq, one.content_hash()) for one in county.ledger.entries()}
    said = forget(county.ledger, county.made["face"].id, do=False)
    assert county.files() == ["face"] * 3 + ["kind"] + ["leaf"] * 3 + ["rude"]
    found = forget(county.ledger, county.made["face"].id)
    assert (set(found.removed), set(found.thinned)) == (set(said.removed), set(said.thinned))
    assert set(found.removed) == {county.made[name].id for name in ("face", "face again")}
    assert set(found.thinned) == {county.made[name].id for name in ("plant", "report")}
    assert county.files() == ["kind"] + ["leaf"] * 3 + ["rude"]
    after = county.ledger.entries()
    assert {one.id: (one.seq, one.content_hash()) for one in after} == before
    told = json.dumps([one.plain() for one in after])
    assert CAPTION not in told and county.digests["face"] not in told
    plant, report = (county.ledger.get(county.made[name].id).body for name in ("plant", "report"))  # type: ignore[union-attr]
    assert plant.photos == (county.digests["leaf"],)
    assert plant.looks == {"stem_hair": "none"}
    assert report.photos == ()
    assert report.words.startswith("Is it this?")
    kept = county.ledger.get(county.made["leaf"].id)
    assert kept is not None and kept.kind == "photo"


def test_a_voice_note_goes_alone(county: County) -> None:
    found = forget(county.ledger, county.made["rude"].id)
    assert (found.removed, found.thinned, found.originals) == ((county.made["rude"].id,), (), 1)
    assert "rude" not in county.files() and "kind" in county.files()
    assert '"rude"' not in json.dumps([one.plain() for one in county.ledger.entries()])


def test_the_record_is_whole_after_it_and_what_was_forgotten_is_not_new(county: County) -> None:
    for name in ("face", "rude"):
        forget(county.ledger, county.made[name].id)
    again = county.ledger.add([county.made["face"], county.made["rude"], county.made["plant"]])
    assert (again.added, again.already, again.refused) == (0, 3, ())
    late = entry("sound", county.made["kind"].plain()["body"], by="x", site="creek", amends=county.made["rude"].id)
    assert county.ledger.add([late]).refused
    found = check(county.ledger.where, photos=county.ledger.photos)
    assert found.findings == ()


def test_no_other_entry_is_forgotten_this_way(county: County) -> None:
    for name in ("plant", "report", "site"):
        with pytest.raises(Refused):
            forget(county.ledger, county.made[name].id)


def test_no_byte_of_it_is_left_and_the_command_asks_first(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    where = tmp_path / "county.ledger"
    digest, raw = sound(b"rude")
    body = {"sha256": digest, "media_type": "audio/webm", "size_bytes": len(raw), "words": CAPTION}
    with Ledger.open(where, create=True) as ledger:
        site = entry("site", {"name": "Creek", "ground": "field"}, by="x", site="creek")
        one = entry("sound", body, by="x", site="creek")
        ledger.add([site, one])
        ledger.photos.mkdir()
        (ledger.photos / f"{digest}.webm").write_bytes(raw)
    assert main(["forget", one.id, "--ledger", str(where)]) == 2
    assert "--yes" in capsys.readouterr().err
    assert main(["forget", one.id, "--ledger", str(where), "--yes", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["removed"], told["originals_removed"], told["cleared"]) == ([one.id], 1, True)
    left = b"".join(path.read_bytes() for path in sorted(tmp_path.rglob("*")) if path.is_file())
    assert CAPTION.encode() not in left and digest.encode() not in left and raw not in left
