"""What is wrong with a ledger is named, with what to do; what is right is not complained of."""

from __future__ import annotations

import json
import os
import random
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from ledger.keeping.full import fill, much, put_photo
from ledger.strategies import logs
from ledger.test_survival import an_older_ledger, command
from tepal.cli import main
from tepal.ledger import Entry, Ledger, entry
from tepal.ledger._engine import open_as_it_is
from tepal.ledger._migrating import HEAD
from tepal.ledger.keeping import check
from tepal.tables import Refused

YESTERDAY = 2 * 24 * 3600


@contextmanager
def by_hand(store: str) -> Iterator[Callable[[str], Any]]:
    """Change a store as nobody should: without its guards, which are put back."""
    if "://" in store:
        import psycopg

        with psycopg.connect(store) as server:
            for table in ("entry", "weather_batch"):
                server.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
            yield server.execute
            for table in ("entry", "weather_batch"):
                server.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")
        return
    with closing(sqlite3.connect(store)) as connection:
        guards = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in guards:
            connection.execute(f"DROP TRIGGER {name}")
        yield connection.execute
        for _, statement in guards:
            connection.execute(statement)
        connection.commit()


def age(folder: Path) -> None:
    """Let the photos have come a while ago."""
    for path in folder.iterdir():
        os.utime(path, (time.time() - YESTERDAY,) * 2)


def kinds(store: str, photos: Path) -> list[str]:
    return [one.kind for one in check(store, photos=photos).findings]


def an_id(store: str, photos: Path, kind: str) -> str:
    with Ledger.open(store, photos=photos) as ledger:
        return ledger.entries(kinds=[kind])[0].id


def test_a_whole_ledger_is_told_to_be_whole(full: str, photos: Path) -> None:
    age(photos)
    found = check(full, photos=photos)
    assert found.findings == ()
    assert found.waiting == ()
    with Ledger.open(full, photos=photos) as ledger:
        entries = ledger.entries()
    assert (found.entries, found.batches, found.photos) == (len(entries), 2, 4)
    assert found.forgotten == sum(one.forgotten is not None for one in entries) == 2
    told = command("check", "--ledger", full, "--photos", photos)
    assert (told.returncode, told.stderr) == (0, "")
    assert "All of it is whole" in told.stdout
    told = command("check", "--ledger", full, "--photos", photos, "--json")
    assert json.loads(told.stdout)["whole"] is True


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(log=logs())
def test_whatever_entries_a_ledger_takes_it_is_whole(log: list[Entry], tmp_path: Path) -> None:
    where = tmp_path / "any.ledger"
    with Ledger.open(where, create=True) as ledger:
        ledger.add(log)
    kinds_found = {one.kind for one in check(where).findings}
    # Random entries may name photos and entries that are not there; each still says what it said.
    assert kinds_found <= {"points_nowhere", "photo_missing"}
    for path in tmp_path.glob("any.ledger*"):
        path.unlink()


@pytest.mark.parametrize("revision", ["0001", "0002", "0003"])
def test_a_ledger_of_an_earlier_version_is_whole_and_is_left_at_it(store: str, photos: Path, revision: str) -> None:
    an_older_ledger(store, revision)
    assert check(store, photos=photos).findings == ()
    engine, version = open_as_it_is(store)
    engine.dispose()
    assert version == revision != HEAD


def test_a_changed_entry_is_named(full: str, photos: Path) -> None:
    id = an_id(full, photos, "stop")
    with by_hand(full) as execute:
        execute(f"UPDATE entry SET body = replace(body, '\"area_m2\":0.3', '\"area_m2\":0.4') WHERE id = '{id}'")
    (found,) = check(full, photos=photos).findings
    assert (found.kind, found.where) == ("entry_changed", id)
    told = command("check", "--ledger", full, "--photos", photos)
    assert told.returncode == 1
    assert id in told.stdout
    assert "backup" in told.stdout


@pytest.mark.parametrize("column", ["site", '"by"', "made_at", "kind"])
def test_a_change_of_any_part_of_an_entry_is_found(full: str, photos: Path, column: str) -> None:
    id = an_id(full, photos, "withdraw")
    new = {"site": "x", '"by"': "x", "made_at": "2026-06-14T10:00:01+00:00", "kind": "note"}[column]
    with by_hand(full) as execute:
        body = ', body = \'{"words":"x"}\'' if column == "kind" else ""
        execute(f"UPDATE entry SET {column} = '{new}'{body} WHERE id = '{id}'")
    assert "entry_changed" in kinds(full, photos)


def test_an_entry_that_cannot_be_read_is_named(full: str, photos: Path) -> None:
    id = an_id(full, photos, "walk")
    for body in ("{", "[]", '{"minutes":"long"}', '{"no":1}'):
        with by_hand(full) as execute:
            execute(f"UPDATE entry SET body = '{body}' WHERE id = '{id}'")
        found = check(full, photos=photos).findings
        assert ("entry_unreadable", id) in [(one.kind, one.where) for one in found], body


def test_dropped_rows_leave_places_that_are_named(full: str, photos: Path) -> None:
    with by_hand(full) as execute:
        execute("DELETE FROM entry WHERE seq IN (5, 6, 8)")
    found = [one for one in check(full, photos=photos).findings if one.kind == "place_empty"]
    assert [one.where for one in found] == ["5-6", "8"]
    assert "5 to 6" in found[0].what


def test_amendments_of_nothing_and_what_points_nowhere_are_named(full: str, photos: Path) -> None:
    note, walk = an_id(full, photos, "note"), an_id(full, photos, "walk")
    with by_hand(full) as execute:
        execute(f"DELETE FROM entry WHERE id IN ('{note}', '{walk}')")
    found = check(full, photos=photos).findings
    assert [one.kind for one in found] == ["place_empty", "place_empty", "amends_nothing", "points_nowhere"]
    assert note in found[2].what
    assert walk in found[3].what


def test_a_tombstone_that_still_says_something_is_named(full: str, photos: Path) -> None:
    with by_hand(full) as execute:
        execute('UPDATE entry SET body = \'{"was":"party","words":"Ana"}\' WHERE kind = \'forgotten\'')
    (found,) = check(full, photos=photos).findings
    assert found.kind == "tombstone"
    assert "tepal forget" in found.step


def test_changed_weather_is_named(full: str, photos: Path) -> None:
    with by_hand(full) as execute:
        execute("UPDATE weather_batch SET rows = replace(rows, '1.1', '1.2')")
    (found,) = check(full, photos=photos).findings
    assert found.kind == "weather_changed"
    assert "Depot" in found.what


def test_photos_that_are_gone_damaged_alone_or_of_another_length_are_named(full: str, photos: Path) -> None:
    age(photos)
    with Ledger.open(full, photos=photos) as ledger:
        kept = str(ledger.entries(kinds=["photo"])[0].body.sha256)  # type: ignore[attr-defined]
        plant = str(ledger.entries(kinds=["plant"])[0].body.photos[0])  # type: ignore[attr-defined]
        report = str(ledger.entries(kinds=["report"])[0].body.photos[0])  # type: ignore[attr-defined]
    with by_hand(full) as execute:  # came a while ago
        execute("UPDATE entry SET got_at = '2026-01-01T00:00:00+00:00'")
    (photos / f"{kept}.jpg").unlink()
    damaged = photos / f"{plant}.png"
    content = bytearray(damaged.read_bytes())
    content[len(content) // 2] ^= 1
    damaged.write_bytes(content)
    alone = put_photo(photos, 77)
    scrap = photos / ".abc"
    scrap.write_bytes(b"half")
    age(photos)
    (photos / f"{report}.jpg").touch()
    found = {(one.kind, one.where) for one in check(full, photos=photos).findings}
    assert found == {
        ("photo_missing", kept),
        ("photo_damaged", damaged.name),
        ("photo_without_entry", f"{alone}.jpg"),
        ("scrap", ".abc"),
    }


def test_a_photo_and_its_entry_may_wait_a_day_for_each_other(store: str, photos: Path) -> None:
    early = put_photo(photos, 8)
    late = "a" * 64
    with Ledger.open(store, create=True, photos=photos) as ledger:
        ledger.add([entry("plant", {"stage": "unknown", "looks": {}, "photos": [late]}, site="b", by="s")])
    found = check(store, photos=photos)
    assert found.findings == ()
    assert sorted(found.waiting) == sorted([early, late])
    age(photos)
    assert kinds(store, photos) == ["photo_without_entry"]


def test_what_a_server_keeps_beside_the_originals_is_not_complained_of(full: str, photos: Path) -> None:
    for name in (".parts", ".copies"):
        (photos / name).mkdir()
        (photos / name / "x").write_bytes(b"x")
    age(photos)
    assert kinds(full, photos) == []


def test_a_store_without_its_guards_or_tables_is_named(full: str, photos: Path) -> None:
    if "://" in full:
        import psycopg

        with psycopg.connect(full) as server:
            server.execute("ALTER TABLE weather_batch DISABLE TRIGGER USER")
            server.execute("DROP TABLE office_assignment")
    else:
        with closing(sqlite3.connect(full)) as connection:
            connection.execute("DROP TRIGGER entry_no_update")
            connection.execute("DROP TABLE office_assignment")
    found = check(full, photos=photos).findings
    assert [one.kind for one in found] == ["table_gone", "guard_gone"]


def test_rows_of_the_office_that_point_at_nobody_are_named(tmp_path: Path, photos: Path) -> None:
    where = str(tmp_path / "l")
    with Ledger.open(where, create=True, photos=photos) as ledger:
        fill(ledger, photos)
    with closing(sqlite3.connect(where)) as connection:
        connection.execute("DELETE FROM office_person WHERE id = 'P2'")
        connection.commit()
    found = check(where, photos=photos).findings
    assert {one.kind for one in found} == {"row_loose"}
    assert {one.where for one in found} == {"office_device", "office_invitation", "office_assignment", "office_entry"}


def test_a_thousand_faults_are_told_in_a_few_lines_and_all_in_json(tmp_path: Path) -> None:
    where = str(tmp_path / "l")
    with Ledger.open(where, create=True) as ledger:
        ledger.add([entry("note", {"words": f"{i}"}, site="a", by="s") for i in range(1_000)])
    with by_hand(where) as execute:
        execute("UPDATE entry SET site = 'b'")
    told = command("check", "--ledger", where)
    assert told.returncode == 1
    assert len(told.stdout.splitlines()) == 22
    assert "980 more" in told.stdout
    assert len(json.loads(command("check", "--ledger", where, "--json").stdout)["findings"]) == 1_000


# ---------------------------------------------------------------- a broken file


def test_a_broken_file_is_named_and_never_a_fault_of_ours(
    tmp_path: Path, photos: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    where = tmp_path / "source.ledger"
    with Ledger.open(where, create=True, photos=photos) as ledger:
        fill(ledger, photos)
        much(ledger, photos, entries=300, pictures=0)
    whole = where.read_bytes()
    assert not where.with_name(f"{where.name}-wal").exists()
    luck = random.Random(4)
    pages = len(whole) // 4096
    found_broken = 0
    for number in range(40):
        content = bytearray(whole)
        page = number if number < 6 else luck.randrange(pages)
        start = page * 4096 + (100 if page == 0 else 0)
        content[start : start + 2_000] = luck.randbytes(2_000)
        broken = tmp_path / "broken.ledger"
        broken.write_bytes(content)
        code = main(["check", "--ledger", str(broken), "--photos", str(photos), "--json"])
        told = capsys.readouterr()
        assert code in (0, 1), (page, told.err)
        assert code == 1 or page >= 1
        found_broken += code
        if code:
            findings = json.loads(told.out)["findings"]
            assert findings
            assert all(one["what"] and one["step"] for one in findings)
        # And what cannot be read to its end is never kept as if it were whole.
        if any(one["kind"] == "store_broken" for one in json.loads(told.out)["findings"]):
            target = tmp_path / f"kept-{number}.zip"
            if main(["backup", str(target), "--ledger", str(broken), "--photos", str(photos)]) == 2:
                assert not target.exists()
            capsys.readouterr()
        for path in tmp_path.glob("broken.ledger-*"):
            path.unlink()
    # A page that holds nothing may be anything; most hold something.
    assert found_broken > 25


def test_what_is_no_ledger_is_refused(tmp_path: Path) -> None:
    text = tmp_path / "text"
    text.write_text("hello")
    other = tmp_path / "other.db"
    with closing(sqlite3.connect(other)) as connection:
        connection.execute("CREATE TABLE t (a)")
        connection.commit()
    for path in (text, other, tmp_path / "none", tmp_path):
        with pytest.raises(Refused):
            check(path)
    assert command("check").returncode == 2
    assert command("check", "--ledger", text, "--backup", text).returncode == 2
    assert sorted(path.name for path in tmp_path.iterdir()) == ["other.db", "text"]
