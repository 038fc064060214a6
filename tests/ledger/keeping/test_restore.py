"""What comes back is what was there: every row, every photo, on either kind of store; nothing is overwritten."""

from __future__ import annotations

import os
import random
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Date,
    DateTime,
    Float,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    insert,
    select,
)

from ledger.keeping.full import THERE, Forks, bytes_of, fill, much, raw
from ledger.test_survival import an_older_ledger, command, refused_in_one_line
from tepal.ledger import Ledger, entry
from tepal.ledger._engine import open_engine, writing
from tepal.ledger._migrating import HEAD
from tepal.ledger._schema import metadata
from tepal.ledger.keeping import backup, check, restore
from tepal.ledger.keeping._tables import VERSIONS, lines, made_by
from tepal.ledger.keeping._tables import fill as fill_table
from tepal.tables import Refused


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_what_is_restored_equals_the_original_row_for_row_and_byte_for_byte(
    full: str, photos: Path, tmp_path: Path, another: Callable[[str], str], kind: str
) -> None:
    before = raw(full)
    kept = backup(full, tmp_path / "kept.zip", photos=photos)
    new, folder = another(kind), tmp_path / "new-photos"
    found = restore(kept.file, new, photos=folder)
    assert raw(full) == before
    assert raw(new) == before
    assert all(before[name] for name in THERE)  # there was something of everything to lose
    assert bytes_of(folder) == bytes_of(photos)
    assert len(bytes_of(folder)) == found.photos == kept.photos == 4
    assert found.tables == kept.tables == {name: len(rows) for name, rows in before.items() if name != VERSIONS}
    # It lives on: holds to its rules, takes in, counts on without a gap.
    with Ledger.open(new, photos=folder) as ledger:
        last = ledger.last_seq
        assert last == kept.last_seq == found.last_seq
        assert ledger.add([entry("note", {"words": "more"}, site="b", by="s")]).added == 1
        assert ledger.last_seq == last + 1
        for statement in ("UPDATE entry SET site = 'x'", "DELETE FROM weather_batch"):
            with pytest.raises(Exception, match="append-only"), writing(ledger._engine) as connection:
                connection.exec_driver_sql(statement)
    assert check(new, photos=folder).findings == ()


def test_nothing_is_left_beside_a_restored_ledger(full: str, photos: Path, tmp_path: Path) -> None:
    kept = backup(full, tmp_path / "kept.zip", photos=photos)
    folder = tmp_path / "new"
    folder.mkdir()
    restore(kept.file, folder / "county.ledger")
    assert sorted(path.name for path in folder.iterdir()) == ["county.ledger", "county.ledger.photos"]
    assert (folder / "county.ledger").stat().st_mode & 0o777 == 0o600
    assert (folder / "county.ledger.photos").stat().st_mode & 0o777 == 0o700


def test_a_ledger_of_an_earlier_version_is_kept_and_comes_back_as_it_is(store: str, tmp_path: Path) -> None:
    made = an_older_ledger(store, "0002")
    before = raw(store)
    kept = backup(store, tmp_path / "kept.zip", photos=tmp_path / "none")
    assert raw(store) == before  # not brought to this version by being kept
    new = tmp_path / "new.ledger"
    restore(kept.file, new)
    assert raw(str(new)) == before
    with Ledger.open(new) as ledger:
        assert [one.plain() for one in ledger.entries()] == made
    assert raw(str(new))[VERSIONS] == [(HEAD,)]


def test_every_table_that_the_migrations_make_is_known_by_name() -> None:
    made = {one.table for one in made_by(HEAD) if one.kind == "table"} - {VERSIONS}
    assert made == set(metadata.tables)


def test_a_table_of_any_columns_goes_to_lines_and_back(store: str) -> None:
    # What a later version may add: kinds of columns that no table has today, and a counter of the store's own.
    other = MetaData()
    table = Table(
        "zoo",
        other,
        Column("id", Integer, primary_key=True),
        Column("big", BigInteger),
        Column("yes", Boolean),
        Column("number", Float(53)),
        Column("raw", LargeBinary),
        Column("at", DateTime(timezone=store.startswith("postgresql"))),
        Column("on", Date),
        Column("name", String(20)),
        Column("words", Text),
    )
    zone = UTC if store.startswith("postgresql") else None
    given = [
        (
            7,
            2**62,
            True,
            0.1 + 0.2,
            b"\x00\xff",
            datetime(2026, 1, 2, 3, 4, 5, 678901, zone),
            date(2026, 1, 2),
            "é",
            "\n",
        ),
        (9, None, False, -1e-300, b"", None, None, "", "\u2028"),
        (12, None, None, None, None, None, None, None, None),
    ]
    engine = open_engine(store if "://" in store else Path(store), create=True)
    with writing(engine) as connection, connection.begin():
        other.create_all(connection)
        connection.execute(insert(table), [dict(zip(table.columns.keys(), row, strict=True)) for row in given])
        read = Table("zoo", MetaData(), autoload_with=connection)
        text = list(lines(connection, read))
        assert fill_table(connection, read, text, file="zoo") == 3  # what was there goes
        assert [tuple(row) for row in connection.execute(select(table).order_by(table.c.id))] == given
        assert list(lines(connection, read)) == text
        connection.execute(insert(table).values(name="next"))
        assert connection.execute(select(table.c.id).where(table.c.name == "next")).scalar() == 13
        for bad in (b'{"id":1}', b"[]", b"{", text[0].replace(b'"id":7', b'"id":"7"'), text[0].replace(b"true", b"1")):
            with pytest.raises(Refused, match="no row of zoo"):
                fill_table(connection, read, [bad], file="zoo")
    engine.dispose()


# ---------------------------------------------------------------- nothing is overwritten


def test_a_ledger_that_is_there_is_not_overwritten(full: str, photos: Path, tmp_path: Path) -> None:
    kept = backup(full, tmp_path / "kept.zip", photos=photos)
    before, originals = raw(full), bytes_of(photos)
    said = refused_in_one_line(command("restore", kept.file, "--ledger", full, "--photos", photos))
    assert "Nothing is overwritten" in said
    assert raw(full) == before
    assert bytes_of(photos) == originals


@pytest.mark.parametrize("name", ["county.ledger", "county.ledger-wal", "county.ledger-journal"])
def test_a_file_or_a_log_that_is_there_is_left_alone(full: str, photos: Path, tmp_path: Path, name: str) -> None:
    kept = backup(full, tmp_path / "kept.zip", photos=photos)
    folder = tmp_path / "new"
    folder.mkdir()
    (folder / name).write_bytes(b"something")
    with pytest.raises(Refused, match="overwritten"):
        restore(kept.file, folder / "county.ledger")
    assert bytes_of(folder) == {name: b"something"}
    assert [path.name for path in folder.iterdir()] == [name]


def test_a_photo_with_other_content_is_left_alone_and_those_that_are_there_are_used(
    full: str, photos: Path, tmp_path: Path
) -> None:
    kept = backup(full, tmp_path / "kept.zip", photos=photos)
    folder, new = tmp_path / "new-photos", tmp_path / "new.ledger"
    folder.mkdir()
    first, second, third, _ = sorted(bytes_of(photos))
    (folder / first).write_bytes((photos / first).read_bytes())
    (folder / third).write_bytes(b"other")
    with pytest.raises(Refused, match="another content"):
        restore(kept.file, new, photos=folder)
    assert not new.exists()
    assert bytes_of(folder) == {first: (photos / first).read_bytes(), third: b"other"}
    (folder / third).unlink()
    found = restore(kept.file, new, photos=folder)
    assert (found.photos, found.photos_there) == (3, 1)
    assert bytes_of(folder) == bytes_of(photos)
    assert second in bytes_of(folder)


def test_tables_of_another_program_are_left_out_and_left_alone(
    postgresql_url: str, another: Callable[[str], str], photos: Path, tmp_path: Path
) -> None:
    import psycopg

    with Ledger.open(postgresql_url, create=True, photos=photos) as ledger:
        fill(ledger, photos)
    new = another("postgresql")
    for store in (postgresql_url, new):
        with psycopg.connect(store) as server:
            server.execute("CREATE TABLE theirs (a int)")
    kept = backup(postgresql_url, tmp_path / "kept.zip", photos=photos)
    assert kept.others == ("theirs",)
    restore(kept.file, new, photos=tmp_path / "new-photos")
    assert raw(new) == raw(postgresql_url)


def test_photos_on_a_server_need_a_folder(
    postgresql_url: str, another: Callable[[str], str], photos: Path, tmp_path: Path
) -> None:
    with Ledger.open(postgresql_url, create=True, photos=photos) as ledger:
        fill(ledger, photos)
    with pytest.raises(Refused, match="--photos"):
        backup(postgresql_url, tmp_path / "kept.zip")
    assert list(tmp_path.glob("*kept*")) == []
    kept = backup(postgresql_url, tmp_path / "kept.zip", photos=photos)
    with pytest.raises(Refused, match="--photos"):
        restore(kept.file, another("postgresql"))


# ---------------------------------------------------------------- killed


@pytest.mark.slow
def test_a_restore_that_is_killed_leaves_no_ledger_and_is_completed_by_another(
    store: str, another: Callable[[str], str], photos: Path, tmp_path: Path, forks: Forks
) -> None:
    source = str(tmp_path / "source.ledger")
    with Ledger.open(source, create=True, photos=photos) as ledger:
        fill(ledger, photos)
        much(ledger, photos, entries=2_500, pictures=8)
    kept = backup(source, tmp_path / "kept.zip", photos=photos)
    wanted, originals = raw(source), bytes_of(photos)
    folder = tmp_path / "new-photos"
    luck = random.Random(5)
    usual = forks.run("restore", kept.file, "--ledger", another(_kind(store)), "--photos", tmp_path / "first")[1]
    outcomes = set()
    for number in range(8):
        after = usual * (number + luck.random()) / 8
        code, _ = forks.run("restore", kept.file, "--ledger", store, "--photos", folder, after=after)
        there = _is_there(store)
        outcomes.add(there)
        if there:
            assert raw(store) == wanted
        else:
            assert code != 0
            for name, content in bytes_of(folder).items() if folder.exists() else ():
                assert name.startswith(".") or content == originals[name]
            continue
        break
    assert False in outcomes
    if True not in outcomes:
        assert forks.run("restore", kept.file, "--ledger", store, "--photos", folder)[0] == 0
    assert raw(store) == wanted
    assert {name: content for name, content in bytes_of(folder).items() if not name.startswith(".")} == originals
    assert not list(Path(tmp_path).glob(".county.ledger*"))


def _kind(store: str) -> str:
    return "postgresql" if "://" in store else "sqlite"


def _is_there(store: str) -> bool:
    return bool(raw(store)) if "://" in store else Path(store).exists()


def test_a_disk_that_is_too_small_is_told_before_anything_is_written(
    full: str, photos: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import shutil

    kept = backup(full, tmp_path / "kept.zip", photos=photos)
    folder = tmp_path / "new"
    folder.mkdir()
    usage = shutil.disk_usage(folder)
    monkeypatch.setattr(shutil, "disk_usage", lambda path: usage._replace(free=1000))
    with pytest.raises(Refused, match="There is room for 1,000"):
        restore(kept.file, folder / "county.ledger")
    assert list(folder.iterdir()) == []


def test_a_restore_that_may_not_write_so_much_leaves_nothing(full: str, photos: Path, tmp_path: Path) -> None:
    import resource

    big = photos / f"{'0' * 64}.jpg"
    big.write_bytes(os.urandom(2_000_000))  # a damaged one: kept as it is
    kept = backup(full, tmp_path / "kept.zip", photos=photos)
    assert kept.damaged == (big.name,)
    folder = tmp_path / "new"
    folder.mkdir()

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (1_000_000, 1_000_000))

    said = refused_in_one_line(command("restore", kept.file, "--ledger", folder / "l", preexec_fn=limit))
    assert "nothing was restored" in said
    assert [path for path in folder.rglob("*") if path.is_file()] == []
