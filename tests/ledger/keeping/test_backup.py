"""One file with all of it, of one moment, while others write; whole or not there; and what damaged ones come to."""

from __future__ import annotations

import hashlib
import io
import json
import os
import random
import stat
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from ledger.keeping.full import Forks, bytes_of, fill, much, raw
from ledger.test_survival import command, refused_in_one_line
from tepal.ledger import Ledger
from tepal.ledger.keeping import backup, check_backup, restore
from tepal.tables import Refused

# ---------------------------------------------------------------- what it is


def test_a_backup_is_read_without_tepal_and_each_file_has_its_hash(full: str, photos: Path, tmp_path: Path) -> None:
    kept = backup(full, tmp_path / "kept.zip", photos=photos)
    with zipfile.ZipFile(kept.file) as archive:
        assert archive.testzip() is None
        inside = {name: archive.read(name) for name in archive.namelist()}
    manifest = json.loads(inside.pop("manifest.json"))
    assert {name: (len(content), hashlib.sha256(content).hexdigest()) for name, content in inside.items()} == {
        name: (one["bytes"], one["sha256"]) for name, one in manifest["files"].items()
    }
    assert {name.removeprefix("photos/"): one for name, one in inside.items() if name.startswith("photos/")} == (
        bytes_of(photos)
    )
    entries = [json.loads(line) for line in inside["tables/entry.jsonl"].split(b"\n") if line]
    wanted = raw(full)["entry"]
    columns = list(entries[0])
    assert sorted(map(repr, (tuple(one[c] for c in columns) for one in entries))) == sorted(map(repr, wanted))
    assert b"tepal restore" in inside["README.txt"]
    for line in inside["tables/office_device.jsonl"].splitlines():
        assert json.loads(line)["token_hash"] == "aa11"


def test_only_its_owner_can_read_it_and_the_command_says_so(full: str, photos: Path, tmp_path: Path) -> None:
    (tmp_path / "kept").mkdir()
    found = command("backup", tmp_path / "kept", "--ledger", full, "--photos", photos, umask=0)
    assert found.returncode == 0, found.stderr
    assert "0600" in found.stdout
    (made,) = (tmp_path / "kept").iterdir()
    assert stat.S_IMODE(made.stat().st_mode) == 0o600
    assert made.name.startswith("ledger-20" if "://" in full else "county-20")
    assert made.name.endswith(".backup.zip")


def test_a_backup_that_is_there_is_never_overwritten(full: str, photos: Path, tmp_path: Path) -> None:
    target = tmp_path / "kept.zip"
    target.write_bytes(b"an older one")
    said = refused_in_one_line(command("backup", target, "--ledger", full, "--photos", photos))
    assert "Nothing is overwritten" in said
    assert target.read_bytes() == b"an older one"


def test_a_ledger_that_is_not_there_is_not_made(tmp_path: Path) -> None:
    said = refused_in_one_line(command("backup", tmp_path / "kept.zip", "--ledger", tmp_path / "none.ledger"))
    assert "no ledger there" in said
    assert list(tmp_path.iterdir()) == []


def test_photos_that_are_missing_or_damaged_are_named_and_the_rest_is_kept(
    full: str, photos: Path, tmp_path: Path
) -> None:
    first, second, *_ = sorted(photos.iterdir())
    first.unlink()
    second.write_bytes(b"spoiled")
    found = command("backup", tmp_path / "kept.zip", "--ledger", full, "--photos", photos, "--json")
    told = json.loads(found.stdout)
    assert found.returncode == 1
    assert (told["missing_photos"], told["damaged_photos"]) == ([first.stem], [second.name])
    restore(tmp_path / "kept.zip", tmp_path / "new.ledger")
    assert bytes_of(tmp_path / "new.ledger.photos") == bytes_of(photos)


# ---------------------------------------------------------------- while others write

_WRITER = """
import hashlib, os, sys
from pathlib import Path
from datetime import date
from sqlalchemy import text
from tepal.ledger import Ledger, WeatherBatch, WeatherDay, entry
from tepal.ledger._writer import Writer
where, photos = sys.argv[1], Path(sys.argv[2])
photos.mkdir(exist_ok=True)
with Ledger.open(where, photos=photos) as ledger:
    n = 0
    while not Path(sys.argv[3]).exists():
        n += 1
        content = b"photo %d" % n
        sha256 = hashlib.sha256(content).hexdigest()
        part = photos / f".{n}"
        part.write_bytes(content)
        part.rename(photos / f"{sha256}.jpg")
        body = {"sha256": sha256, "media_type": "image/jpeg", "size_bytes": len(content)}
        with ledger.connected(write=True) as connection:
            connection.execute(text("INSERT INTO office_person (id, name, role, made_at) VALUES (:n, :n, 'scout', '')"),
                               {"n": str(n)})
            writer = Writer(connection)
            writer.add([entry("note", {"words": f"{n} {i}"}, site="a", by="w") for i in range(6)])
            writer.add([entry("photo", body, site="a", by="w")])
            writer.add_weather([WeatherBatch(f"station {n}", (WeatherDay(date(2026, 5, 1), 1.0, 2.0),))])
        print(n, flush=True)
"""


def test_a_backup_is_of_one_moment_while_another_writes(store: str, photos: Path, tmp_path: Path) -> None:
    Ledger.open(store, create=True, photos=photos).close()
    stop = tmp_path / "stop"
    writer = subprocess.Popen([sys.executable, "-c", _WRITER, store, str(photos), str(stop)], stdout=subprocess.PIPE)
    kept = []
    try:
        assert writer.stdout and writer.stdout.readline() == b"1\n"
        for number in range(3):
            kept.append(backup(store, tmp_path / f"kept-{number}.zip", photos=photos))
            time.sleep(0.2)
    finally:
        stop.touch()
        writer.communicate(timeout=60)
    assert writer.returncode == 0
    sizes = []
    for number, one in enumerate(kept):
        assert one.missing == one.damaged == ()
        new = str(tmp_path / f"new-{number}.ledger")
        restore(one.file, new)
        found = raw(new)
        rounds = len(found["office_person"])
        # One transaction puts eight things into three tables: all of them are there, or none.
        assert len(found["entry"]) == 7 * rounds
        assert len(found["weather_batch"]) == rounds
        assert sorted(row[0] for name in ("entry", "weather_batch") for row in found[name]) == list(
            range(1, 8 * rounds + 1)
        )
        assert one.last_seq == 8 * rounds
        named = {json.loads(row[8])["sha256"] for row in found["entry"] if row[2] == "photo"}
        assert named <= {name[:64] for name in bytes_of(Path(f"{new}.photos"))}
        assert len(named) == rounds
        sizes.append(rounds)
    # The writer did go on between them: they are of different moments.
    assert sizes == sorted(sizes)
    assert sizes[-1] > sizes[0]


def test_of_two_backups_at_once_to_one_name_one_is_made_and_the_other_refused(
    store: str, photos: Path, tmp_path: Path
) -> None:
    with Ledger.open(store, create=True, photos=photos) as ledger:
        much(ledger, photos, entries=500, pictures=6)
    target = tmp_path / "kept.zip"
    given = [sys.executable, "-m", "tepal", "backup", str(target), "--ledger", store, "--photos", str(photos)]
    both = [subprocess.Popen(given, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True) for _ in range(2)]
    said = [one.communicate(timeout=60)[1] for one in both]
    assert sorted(one.returncode for one in both) == [0, 2], said
    restore(target, tmp_path / "new.ledger")
    assert not list(tmp_path.glob(".*.part"))


# ---------------------------------------------------------------- killed, and no room


@pytest.mark.slow
def test_a_backup_that_is_killed_leaves_none_and_the_next_one_is_whole(
    store: str, photos: Path, tmp_path: Path, forks: Forks
) -> None:
    with Ledger.open(store, create=True, photos=photos) as ledger:
        fill(ledger, photos)
        much(ledger, photos, entries=1_500, pictures=8)
    wanted, folder = raw(store), tmp_path / "kept"
    folder.mkdir()
    arguments = ("--ledger", store, "--photos", photos)
    code, usual = forks.run("backup", folder / "first.zip", *arguments)
    assert code == 0
    luck, outcomes = random.Random(9), set()
    for number in range(6):
        target = folder / f"{number}.zip"
        forks.run("backup", target, *arguments, after=usual * 1.1 * (number + luck.random()) / 6)
        outcomes.add((target.exists(), target.with_name(f".{target.name}.part").exists()))
        if target.exists():
            assert check_backup(target).findings == ()
            continue
        assert forks.run("backup", target, *arguments)[0] == 0
        assert not target.with_name(f".{target.name}.part").exists()
        assert check_backup(target).findings == ()
    # Some were killed while they wrote; and nothing that was killed was taken for one that is done.
    assert (False, True) in outcomes
    assert raw(store) == wanted
    restore(folder / "5.zip", tmp_path / "new.ledger")
    assert raw(str(tmp_path / "new.ledger")) == wanted


def test_a_backup_that_does_not_fit_leaves_nothing(full: str, photos: Path, tmp_path: Path) -> None:
    import resource

    (photos / f"{'0' * 64}.jpg").write_bytes(os.urandom(2_000_000))
    folder = tmp_path / "kept"
    folder.mkdir()

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (1_000_000, 1_000_000))

    said = refused_in_one_line(command("backup", folder, "--ledger", full, "--photos", photos, preexec_fn=limit))
    assert "could not be written" in said
    assert list(folder.iterdir()) == []


# ---------------------------------------------------------------- damaged, and made to harm


@pytest.fixture
def small(tmp_path: Path, photos: Path) -> Path:
    """A small backup of a full ledger."""
    where = str(tmp_path / "source.ledger")
    with Ledger.open(where, create=True, photos=photos) as ledger:
        fill(ledger, photos)
    return backup(where, tmp_path / "small.zip", photos=photos).file


def came_back(archive: Path, folder: Path) -> tuple[dict, dict] | None:
    """What is restored of it, as rows and photos; None where it was refused, which leaves nothing."""
    folder.mkdir()
    where = folder / "l"
    try:
        restore(archive, where)
    except Refused as refusal:
        assert "\n" not in str(refusal)
        assert [path for path in folder.rglob("*") if path.is_file()] == []
        return None
    return raw(str(where)), bytes_of(folder / "l.photos")


def test_a_backup_cut_off_anywhere_is_refused(small: Path, tmp_path: Path) -> None:
    content = small.read_bytes()
    luck = random.Random(1)
    for number, length in enumerate([0, 1, 21, 22, len(content) - 1, *luck.sample(range(len(content)), 40)]):
        cut = tmp_path / f"cut-{number}.zip"
        cut.write_bytes(content[:length])
        assert came_back(cut, tmp_path / f"to-{number}") is None
        (found,) = check_backup(cut).findings
        assert found.kind == "backup_broken"


def test_a_backup_with_one_bit_flipped_is_refused_or_comes_back_the_same(small: Path, tmp_path: Path) -> None:
    content = bytearray(small.read_bytes())
    wanted = came_back(small, tmp_path / "whole")
    assert wanted is not None
    luck = random.Random(2)
    refused = same = 0
    for number in range(150):
        # All of its parts in turn: ends, where the directory lies, more often.
        at = luck.randrange(len(content)) if number % 2 else len(content) - 1 - luck.randrange(1500)
        bit = 1 << luck.randrange(8)
        content[at] ^= bit
        damaged = tmp_path / "damaged.zip"
        damaged.write_bytes(content)
        found = came_back(damaged, tmp_path / f"to-{number}")
        assert found is None or found == wanted, f"bit {bit} of byte {at}"
        refused, same = refused + (found is None), same + (found is not None)
        content[at] ^= bit
    assert refused > 75
    assert same + refused == 150


def repacked(small: Path, to: Path, change: Callable[[dict[str, bytes], dict], None], *, honest: bool = True) -> Path:
    """The backup with its files changed; `honest`: the manifest then says what the files are."""
    with zipfile.ZipFile(small) as archive:
        inside = {name: archive.read(name) for name in archive.namelist()}
    manifest = json.loads(inside.pop("manifest.json"))
    change(inside, manifest)
    if honest:
        manifest["files"] = {
            name: {"sha256": hashlib.sha256(content).hexdigest(), "bytes": len(content)}
            for name, content in inside.items()
        }
    with zipfile.ZipFile(to, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in inside.items():
            archive.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
        archive.writestr("manifest.json", json.dumps(manifest))
    return to


@pytest.mark.parametrize(
    "name",
    [
        "../outside.jpg",
        "/absolute.jpg",
        "photos/../../outside.jpg",
        f"photos/../{'a' * 64}.jpg",
        f"photos/{'a' * 64}.jpg/../../x",
        f"photos\\..\\{'a' * 64}.jpg",
        f"photos/{'a' * 64}.jpg\x00.txt",
        f"photos/{'A' * 64}.jpg",
        f"photos/{'a' * 64}.exe",
        f"photos/.{'a' * 64}.jpg",
        "tables/../entry.jsonl",
        "tables/entry;drop.jsonl",
        "county.ledger",
        "C:/x",
    ],
)
def test_names_that_lead_elsewhere_are_refused(small: Path, tmp_path: Path, name: str) -> None:
    def change(inside: dict[str, bytes], _manifest: dict) -> None:
        inside[name] = b"x"

    made = repacked(small, tmp_path / "made.zip", change)
    before = sorted(path.name for path in tmp_path.iterdir())
    assert came_back(made, tmp_path / "to") is None
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([*before, "to"])


def without_a_photo(inside: dict[str, bytes], _manifest: dict) -> None:
    del inside[next(name for name in inside if name.startswith("photos/"))]


def another_photo(inside: dict[str, bytes], _manifest: dict) -> None:
    inside[f"photos/{'a' * 64}.jpg"] = b"x"


def without_a_row(inside: dict[str, bytes], _manifest: dict) -> None:
    inside["tables/entry.jsonl"] = b"".join(inside["tables/entry.jsonl"].splitlines(keepends=True)[:-1])


def another_person(inside: dict[str, bytes], _manifest: dict) -> None:
    inside["tables/office_person.jsonl"] = inside["tables/office_person.jsonl"].replace(b'"scout"', b'"owner"')


@pytest.mark.parametrize("change", [without_a_photo, another_photo, without_a_row, another_person])
def test_files_that_are_not_those_of_the_manifest_are_refused(
    small: Path, tmp_path: Path, change: Callable[[dict[str, bytes], dict], None]
) -> None:
    assert came_back(repacked(small, tmp_path / "made.zip", change, honest=False), tmp_path / "to") is None


def unknown_table(inside: dict[str, bytes], manifest: dict) -> None:
    inside["tables/sqlite_master.jsonl"] = b'{"type":"table"}\n'
    manifest["tables"]["sqlite_master"] = {"rows": 1, "columns": ["type"]}


def table_gone(inside: dict[str, bytes], manifest: dict) -> None:
    del inside["tables/office_device.jsonl"], manifest["tables"]["office_device"]


def newer(_inside: dict[str, bytes], manifest: dict) -> None:
    manifest["revision"] = "9999"


def another_form(_inside: dict[str, bytes], manifest: dict) -> None:
    manifest["form"] = 2


def text_for_a_number(inside: dict[str, bytes], _manifest: dict) -> None:
    inside["tables/entry.jsonl"] = inside["tables/entry.jsonl"].replace(b'"seq":3,', b'"seq":"3",')


def sql_for_a_column(inside: dict[str, bytes], _manifest: dict) -> None:
    inside["tables/entry.jsonl"] = inside["tables/entry.jsonl"].replace(b'"seq":3,', b'"seq) VALUES (1); --":3,')


def no_json(inside: dict[str, bytes], _manifest: dict) -> None:
    inside["tables/entry.jsonl"] += b"[" * 100_000 + b"\n"


def two_rows_of_one_place(inside: dict[str, bytes], _manifest: dict) -> None:
    inside["tables/entry.jsonl"] += inside["tables/entry.jsonl"].splitlines(keepends=True)[0]


def not_ended(inside: dict[str, bytes], _manifest: dict) -> None:
    inside["tables/entry.jsonl"] += b'{"seq":'


def device_of_nobody(inside: dict[str, bytes], _manifest: dict) -> None:
    inside["tables/office_device.jsonl"] = inside["tables/office_device.jsonl"].replace(b'"P2"', b'"nobody"')


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (unknown_table, "table sqlite_master is in the backup"),
        (table_gone, "table office_device is in the backup or in version"),
        (newer, "version 9999"),
        (another_form, "the manifest cannot be read: form"),
        (text_for_a_number, "no row of entry: '3' where int belongs"),
        (sql_for_a_column, "no row of entry: other columns"),
        (no_json, "no row of entry"),
        (two_rows_of_one_place, "UNIQUE constraint failed"),
        (not_ended, "a row that does not end"),
        (device_of_nobody, "FOREIGN KEY constraint failed"),
    ],
)
def test_a_backup_made_to_harm_whose_hashes_agree_is_refused(
    small: Path, tmp_path: Path, change: Callable[[dict[str, bytes], dict], None], why: str
) -> None:
    made = repacked(small, tmp_path / "made.zip", change)
    with pytest.raises(Refused, match=why):
        restore(made, tmp_path / "l")
    assert came_back(made, tmp_path / "to") is None


def test_a_backup_that_was_packed_again_comes_back(small: Path, tmp_path: Path) -> None:
    made = repacked(small, tmp_path / "made.zip", lambda _inside, _manifest: None)
    assert came_back(made, tmp_path / "to") == came_back(small, tmp_path / "other") is not None


def test_a_bomb_is_refused_whether_it_says_what_it_is_or_not(small: Path, tmp_path: Path) -> None:
    bomb = io.BytesIO()
    with zipfile.ZipFile(small) as old, zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as new:
        manifest = json.loads(old.read("manifest.json"))
        for name in old.namelist():
            if name.startswith(("photos/", "README", "tables/o", "tables/w", "tables/d")):
                new.writestr(name, old.read(name))
        with new.open("tables/entry.jsonl", "w") as member:
            for _ in range(300):
                member.write(bytes(1_000_000))
        lied = dict(manifest["files"]["tables/entry.jsonl"])
        new.writestr("manifest.json", json.dumps(manifest))
    made = tmp_path / "made.zip"
    made.write_bytes(bomb.getvalue())
    assert made.stat().st_size < 2_000_000
    began = time.process_time()
    assert came_back(made, tmp_path / "to") is None  # another length than the manifest says: not unpacked at all
    assert time.process_time() - began < 1
    assert lied["bytes"] < 300_000_000

    def claims(inside: dict[str, bytes], told: dict) -> None:
        told["files"] = {name: {"sha256": "0" * 64, "bytes": len(content)} for name, content in inside.items()}
        told["files"]["tables/entry.jsonl"]["bytes"] = 10**15

    huge = repacked(small, tmp_path / "huge.zip", claims, honest=False)
    assert came_back(huge, tmp_path / "to-huge") is None


def test_files_that_lie_over_each_other_are_refused(small: Path, tmp_path: Path) -> None:
    # Many names for the same packed bytes: what is small in the file is large outside it.
    def many(inside: dict[str, bytes], _manifest: dict) -> None:
        for number in range(200):
            inside[f"photos/{number:064x}.jpg"] = bytes(200_000)

    made = repacked(small, tmp_path / "made.zip", many)
    with zipfile.ZipFile(made) as archive:
        infos = archive.infolist()
    raw_bytes = made.read_bytes()
    first = next(info for info in infos if info.filename == f"photos/{0:064x}.jpg")
    last = next(info for info in reversed(infos) if info.filename.startswith("photos/"))
    directory = raw_bytes.rindex(b"PK\x01\x02" + raw_bytes[raw_bytes.index(b"PK\x01\x02") + 4 :][:2])
    assert directory > last.header_offset > first.header_offset
    # Point every photo's directory entry at the first one.
    content = bytearray(raw_bytes)
    at = raw_bytes.index(b"PK\x01\x02")
    while content[at : at + 4] == b"PK\x01\x02":
        name, extra, comment = (int.from_bytes(content[at + 28 + 2 * i : at + 30 + 2 * i], "little") for i in range(3))
        if bytes(content[at + 46 : at + 46 + name]).startswith(b"photos/0"):
            content[at + 42 : at + 46] = first.header_offset.to_bytes(4, "little")
        at += 46 + name + extra + comment
    made.write_bytes(content)
    assert came_back(made, tmp_path / "to") is None


def test_what_is_no_backup_is_refused(tmp_path: Path, full: str) -> None:
    for name, content in (("empty", b""), ("text", b"hello"), ("zip", _zip_of_nothing())):
        path = tmp_path / name
        path.write_bytes(content)
        assert came_back(path, tmp_path / f"to-{name}") is None
    with pytest.raises(Refused, match="no backup there"):
        restore(tmp_path / "not-there", tmp_path / "new.ledger")
    with pytest.raises(Refused):
        restore(tmp_path, tmp_path / "new.ledger")


def _zip_of_nothing() -> bytes:
    out = io.BytesIO()
    zipfile.ZipFile(out, "w").close()
    return out.getvalue()


def test_a_stale_half_of_a_killed_backup_is_used_again(full: str, photos: Path, tmp_path: Path) -> None:
    part = tmp_path / ".kept.zip.part"
    part.write_bytes(b"half" * 100_000)
    part.chmod(0o644)
    kept = backup(full, tmp_path / "kept.zip", photos=photos)
    assert stat.S_IMODE(kept.file.stat().st_mode) == 0o600
    assert check_backup(kept.file).findings == ()
    assert not part.exists()
