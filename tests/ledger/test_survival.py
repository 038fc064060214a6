"""What a ledger survives: being killed, a full disk, a folder that may only be read, many at once, other versions."""

from __future__ import annotations

import hashlib
import json
import os
import random
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
import time
import uuid
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest
from PIL import Image
from sqlalchemy import inspect, text

from _require import require
from tepal.ledger import Ledger, WeatherBatch, WeatherDay, entry, entry_from_plain
from tepal.ledger._engine import engine_on, take_lock, writing
from tepal.ledger._migrating import HEAD
from tepal.ledger._sqlite import APPLICATION_ID
from tepal.tables import Refused

HEADER = "date,site,lon,lat,area_m2,taxon,count\n"


def lines(count: int, seed: int, *, site: str = "a", longest: int = 900) -> list[str]:
    """Entries as lines; the same seed makes the same ones."""
    luck = random.Random(seed)
    out = []
    for i in range(count):
        id = str(uuid.UUID(int=luck.getrandbits(128) & ~(0xF << 76 | 0b11 << 62) | 7 << 76 | 0b10 << 62))
        words = f"{i} " + "x" * luck.randrange(longest // 3, longest)
        one = {"id": id, "kind": "note", "site": site, "by": "s", "made_at": "2026-06-14T10:00:00Z"}
        out.append(json.dumps({**one, "body": {"words": words}}))
    return out


def table(rows: int, seed: int) -> str:
    luck = random.Random(seed)
    return HEADER + "".join(
        f"2026-06-{luck.randrange(1, 29):02d},b,{-98 - luck.random():.6f},{40 + luck.random():.6f},1,pigweed,{i}\n"
        for i in range(rows)
    )


def weather(days: int) -> str:
    return "date,tmin_c,tmax_c,prcp_mm\n" + "".join(
        f"20{i // 28:02d}-05-{i % 28 + 1:02d},2,10,0\n" for i in range(days)
    )


def write(path: Path, content: str | bytes) -> Path:
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def picture(path: Path, grains: bytes) -> Path:
    """A grey picture of noise, which no format makes small."""
    Image.frombytes("L", (100, len(grains) // 100), grains).save(path)
    return path


def command(*arguments: object, **more: object) -> subprocess.CompletedProcess[str]:
    given = [sys.executable, "-m", "tepal", *map(str, arguments)]
    return subprocess.run(given, check=False, capture_output=True, text=True, timeout=120, **more)  # type: ignore[call-overload, no-any-return]


def refused_in_one_line(found: subprocess.CompletedProcess[str]) -> str:
    assert found.returncode == 2, found.stderr
    assert found.stdout == ""
    assert found.stderr.count("\n") == 1
    assert "Traceback" not in found.stderr
    return found.stderr


def held(where: Path) -> frozenset[str]:
    """The ids in a ledger, read by SQLite alone, after it has checked the whole file; the count has no gap."""
    with closing(sqlite3.connect(where)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        found = [
            row
            for name in ("entry", "weather_batch")
            if name in tables
            for row in connection.execute(f"SELECT seq, id FROM {name}")
        ]
    assert sorted(seq for seq, _ in found) == list(range(1, len(found) + 1))
    return frozenset(id for _, id in found)


# ---------------------------------------------------------------- killed

_NURSERY = """
import json, os, signal, sys, time
from tepal.cli import main
# Everything is imported by a first take, so that a fork is a take from its first statement on.
out, sys.stdout = sys.stdout, open(os.devnull, "w")
main(json.loads(sys.argv[1]))
for line in sys.stdin:
    arguments, log, grown, after = json.loads(line)
    began = time.monotonic()
    pid = os.fork()
    if pid == 0:
        os._exit(main(arguments))
    ended = 0
    while grown and not ended:
        try:
            if os.path.getsize(log) >= grown:
                break
        except FileNotFoundError:
            pass  # not begun; or put away by a first look at the ledger
        ended, status = os.waitpid(pid, os.WNOHANG)
    if not ended:
        if after is not None:
            # Until it is waited for, the number is that of this process and of no other, even where it has ended.
            time.sleep(after)
            os.kill(pid, signal.SIGKILL)
        status = os.waitpid(pid, 0)[1]
    code = os.waitstatus_to_exitcode(status)
    print(json.dumps([code, time.monotonic() - began]), file=out, flush=True)
"""


class Nursery:
    """Runs `tepal take` in a process of its own, at once, and kills it where that is asked.

    `after` is in seconds: from its start, or from when its write-ahead log has `grown` to so many bytes.
    """

    def __init__(self, folder: Path) -> None:
        warm = [write(folder / "warm.jsonl", lines(1, 99)[0]), write(folder / "warm.csv", table(1, 99))]
        warm.append(write(folder / "warm-station.csv", weather(1)))
        first = ["take", *map(str, warm), "--ledger", str(folder / "warm.ledger")]
        self._process = subprocess.Popen(
            [sys.executable, "-c", _NURSERY, json.dumps(first)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def take(self, files: list[Path], where: Path, *, after: float | None = None, grown: int = 0) -> tuple[int, float]:
        assert self._process.stdin and self._process.stdout
        arguments = ["take", *map(str, files), "--ledger", str(where), "--json"]
        print(json.dumps([arguments, f"{where}-wal", grown, after]), file=self._process.stdin, flush=True)
        code, seconds = json.loads(self._process.stdout.readline())
        return code, seconds

    def close(self) -> None:
        self._process.communicate(timeout=60)


def kill_at_random_moments(times: int, folder: Path) -> Counter[str]:
    """Kill a take of several files `times` times; what was found afterwards, counted.

    Half of the moments are spread over the time of a take. Half lie in its writing, told by how far its log has grown,
    so that they fall there however busy the machine is.
    """
    luck = random.Random(7)
    photo = picture(folder / "p.png", luck.randbytes(300_000))
    files = [
        write(folder / "one.jsonl", "\n".join(lines(500, 1, longest=9_000))),
        write(folder / "two.jsonl", "\n".join(lines(500, 2, longest=9_000))),
        write(folder / "stops.csv", table(300, 3)),
        write(folder / "station.csv", weather(300)),
        photo,
    ]
    nursery = Nursery(folder)
    outcomes: Counter[str] = Counter()
    try:
        none = folder / "none.ledger"
        with_data = folder / "some.ledger"
        older = folder / "older.ledger"
        assert nursery.take([write(folder / "before.jsonl", "\n".join(lines(50, 4)))], with_data)[0] == 0
        an_older_ledger(str(older), "0002")
        starts = (none, with_data, older)
        base = {start: held(start) if start.exists() else frozenset() for start in starts}
        usual, whole = {}, {}
        for start in starts:
            where = fresh_copy(start, folder / "trial.ledger")
            code, usual[start] = nursery.take(files, where)
            assert code == 0
            whole[start] = held(where)
            assert len(whole[start]) == len(base[start]) + 1_302
        for number in range(times):
            start = starts[number % 3]
            where = fresh_copy(start, folder / "trial.ledger")
            if number % 2:
                moment = {"after": usual[start] * 1.1 * (number + luck.random()) / times}
            else:
                moment = {"grown": luck.randrange(1, 7_000_000), "after": luck.choice((0.0, luck.expovariate(200)))}
            code, _ = nursery.take(files, where, **moment)
            log = where.with_name(where.name + "-wal")
            left = log.stat().st_size if log.exists() else 0
            found = held(where) if where.exists() else frozenset()
            assert found in (base[start], whole[start]), f"killed at {moment}: {len(found)} of {len(whole[start])}"
            done = found == whole[start]
            for kept in Path(f"{where}.photos").glob("[!.]*"):
                assert kept.stem == hashlib.sha256(kept.read_bytes()).hexdigest()
            outcomes["everything" if done else "nothing"] += 1
            outcomes["while it wrote" if left and code else "before or after it wrote"] += 1
            if found:
                with Ledger.open(where) as ledger:
                    assert {e.id for e in ledger.entries()} | {b.id for b in ledger.weather_batches()} == found
            assert nursery.take(files, where)[0] == 0
            assert held(where) == whole[start]
    finally:
        nursery.close()
    return outcomes


def fresh_copy(start: Path, where: Path) -> Path:
    """`where` as a copy of a closed ledger; with nothing there where `start` is not there."""
    for path in where.parent.glob(f"{where.name}*"):
        shutil.rmtree(path) if path.is_dir() else path.unlink()
    if start.exists():
        assert not start.with_name(start.name + "-wal").exists()
        shutil.copyfile(start, where)
    return where


def test_a_take_killed_at_some_moments_leaves_whole_files_or_none_and_is_completed_by_another(tmp_path: Path) -> None:
    outcomes = kill_at_random_moments(12, tmp_path)
    assert outcomes["nothing"] and outcomes["everything"]


@pytest.mark.slow
def test_a_take_killed_at_200_moments_leaves_whole_files_or_none_and_is_completed_by_another(tmp_path: Path) -> None:
    outcomes = kill_at_random_moments(200, tmp_path)
    print(dict(outcomes))
    # The kills fell before, in and after the writing: else the claim would have been tested where it is easy.
    assert min(outcomes["nothing"], outcomes["everything"], outcomes["while it wrote"]) >= 10


# ---------------------------------------------------------------- no room, no right


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A folder on a disk of its own of 2 MB."""
    require("root, to mount a small disk", os.geteuid() == 0 and sys.platform == "linux")
    folder = tmp_path / "disk"
    folder.mkdir()
    done = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=2m", "none", str(folder)], check=False)
    require("the right to mount a small disk", done.returncode == 0)
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


def a_ledger(where: Path, folder: Path) -> bytes:
    """A small closed ledger; its bytes."""
    assert command("take", write(folder / "before.jsonl", "\n".join(lines(5, 1))), "--ledger", where).returncode == 0
    assert not where.with_name(where.name + "-wal").exists()
    return where.read_bytes()


def much(folder: Path) -> Path:
    return write(folder / "much.jsonl", "\n".join(lines(6_000, 2)))


def test_a_disk_that_fills_up_leaves_the_ledger_as_it_was(small_disk: Path, tmp_path: Path) -> None:
    where = small_disk / "county.ledger"
    before = a_ledger(where, tmp_path)
    said = refused_in_one_line(command("take", much(tmp_path), "--ledger", where))
    assert "disk is full" in said
    assert where.read_bytes() == before
    # No log stays that keeps the disk full, and with room it goes on.
    assert [path.name for path in small_disk.iterdir()] == [where.name]
    assert len(held(where)) == 5
    assert command("take", write(tmp_path / "few.jsonl", "\n".join(lines(5, 3))), "--ledger", where).returncode == 0
    assert len(held(where)) == 10


def test_a_new_ledger_on_a_disk_that_fills_up_is_empty_and_gives_the_room_back(
    small_disk: Path, tmp_path: Path
) -> None:
    where = small_disk / "county.ledger"
    assert "disk is full" in refused_in_one_line(command("take", much(tmp_path), "--ledger", where))
    assert sum(path.stat().st_size for path in small_disk.iterdir()) < 200_000
    assert held(where) == frozenset()
    assert command("take", write(tmp_path / "few.jsonl", "\n".join(lines(5, 3))), "--ledger", where).returncode == 0


def test_a_disk_without_any_room_is_told_in_one_line(small_disk: Path, tmp_path: Path) -> None:
    where = small_disk / "county.ledger"
    before = a_ledger(where, tmp_path)
    photo = picture(tmp_path / "p.png", random.Random(1).randbytes(50_000))
    filler = small_disk / "filler"
    with pytest.raises(OSError), filler.open("wb", buffering=0) as file:
        while True:
            file.write(bytes(4096))
    for files in ([much(tmp_path)], [photo]):
        refused_in_one_line(command("take", *files, "--ledger", where))
        assert where.read_bytes() == before
    filler.unlink()
    assert len(held(where)) == 5
    assert command("take", photo, "--ledger", where).returncode == 0


def test_a_photo_or_a_folder_that_does_not_fit_is_told_in_one_line(small_disk: Path, tmp_path: Path) -> None:
    where = small_disk / "county.ledger"
    before = a_ledger(where, tmp_path)
    photo = picture(tmp_path / "p.png", random.Random(1).randbytes(3_000_000))
    assert "p.png could not be kept" in refused_in_one_line(command("take", photo, "--ledger", where))
    assert where.read_bytes() == before
    assert [path for path in small_disk.rglob("*") if path.is_file()] == [where]

    elsewhere = tmp_path / "large.ledger"
    assert command("take", much(tmp_path), "--ledger", elsewhere).returncode == 0
    said = refused_in_one_line(command("give", small_disk / "out", "--ledger", elsewhere))
    assert "tepal.json" in said
    assert not json.loads((small_disk / "out" / "tepal.json").read_text())["whole"]
    # With more room the same folder is brought up to date.
    subprocess.run(["mount", "-o", "remount,size=40m", str(small_disk)], check=True)
    assert command("give", small_disk / "out", "--ledger", elsewhere).returncode == 0
    assert json.loads((small_disk / "out" / "tepal.json").read_text())["whole"]


def test_a_limit_on_the_size_of_files_leaves_the_ledger_as_it_was(tmp_path: Path) -> None:
    where = tmp_path / "county.ledger"
    before = a_ledger(where, tmp_path)

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (1_000_000, 1_000_000))

    refused_in_one_line(command("take", much(tmp_path), "--ledger", where, preexec_fn=limit))
    assert where.read_bytes() == before
    assert len(held(where)) == 5
    assert command("take", much(tmp_path), "--ledger", where).returncode == 0
    assert len(held(where)) == 6_005


@pytest.fixture
def only_to_be_read(tmp_path: Path) -> Iterator[Path]:
    """A folder with a closed ledger `county.ledger` in which nothing can be written."""
    folder = tmp_path / "kept"
    folder.mkdir()
    if os.geteuid() != 0:
        a_ledger(folder / "county.ledger", tmp_path)
        folder.chmod(0o555)
        yield folder
        folder.chmod(0o755)
        return
    # Root may write whatever the rights say, but not on a disk that is mounted to be read.
    done = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=2m", "none", str(folder)], check=False)
    require("the right to mount a small disk", done.returncode == 0)
    try:
        a_ledger(folder / "county.ledger", tmp_path)
        subprocess.run(["mount", "-o", "remount,ro", str(folder)], check=True)
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


def test_a_folder_that_may_only_be_read_refuses_what_writes_and_gives_what_reads(
    only_to_be_read: Path, tmp_path: Path
) -> None:
    where = only_to_be_read / "county.ledger"
    before = where.read_bytes()
    assert "may only be read" in refused_in_one_line(command("take", much(tmp_path), "--ledger", where))
    refused_in_one_line(command("take", much(tmp_path), "--ledger", only_to_be_read / "new.ledger"))
    assert where.read_bytes() == before
    assert [path.name for path in only_to_be_read.iterdir()] == [where.name]
    assert command("give", tmp_path / "out", "--ledger", where).returncode == 0
    assert len((tmp_path / "out" / "entries.jsonl").read_text().splitlines()) == 5


def test_a_file_that_may_only_be_read_is_refused_and_left_alone(tmp_path: Path) -> None:
    where = tmp_path / "county.ledger"
    before = a_ledger(where, tmp_path)
    if os.geteuid() == 0:
        # Root passes every check of rights, so the file is mounted to be read over itself.
        done = subprocess.run(["mount", "--bind", str(where), str(where)], check=False)
        require("the right to mount", done.returncode == 0)
        subprocess.run(["mount", "-o", "remount,bind,ro", str(where)], check=True)
    else:
        where.chmod(0o444)
    try:
        refused_in_one_line(command("take", much(tmp_path), "--ledger", where))
        assert where.read_bytes() == before
    finally:
        if os.geteuid() == 0:
            subprocess.run(["umount", "-l", str(where)], check=True)
        else:
            where.chmod(0o644)
    assert command("take", much(tmp_path), "--ledger", where).returncode == 0


# ---------------------------------------------------------------- several at once


@pytest.mark.parametrize("many", [2, 4])
def test_several_takes_at_once_into_a_new_ledger_lose_nothing_and_a_cursor_misses_nothing(
    store: str, tmp_path: Path, many: int
) -> None:
    shared = write(tmp_path / "shared.jsonl", "\n".join(lines(300, 50, site="shared")))
    station = write(tmp_path / "station.csv", weather(300))
    own = [write(tmp_path / f"own{i}.jsonl", "\n".join(lines(300, i, site=f"s{i}"))) for i in range(many)]
    takers = [
        subprocess.Popen(
            [sys.executable, "-m", "tepal", "take", str(mine), str(shared), str(station), "--ledger", store, "--json"],
            stdout=subprocess.PIPE,
            text=True,
        )
        for mine in own
    ]
    seen: list[tuple[int, str]] = []

    def read_on(ledger: Ledger) -> None:
        seen.extend((e.seq or 0, e.id) for e in ledger.entries(after=seen[-1][0] if seen else 0))

    ledger: Ledger | None = None
    while any(taker.poll() is None for taker in takers):
        try:
            ledger = ledger or Ledger.open(store)
        except Refused:
            time.sleep(0.01)  # nobody has made it yet
            continue
        read_on(ledger)
    told = [json.loads(taker.communicate(timeout=120)[0]) for taker in takers]
    assert [taker.returncode for taker in takers] == [0] * many
    ledger = ledger or Ledger.open(store)
    read_on(ledger)
    wanted = {json.loads(line)["id"] for path in (*own, shared) for line in path.read_text().splitlines()}
    assert [id for _, id in seen] == [e.id for e in ledger.entries()]
    assert len(seen) == len(wanted) and {id for _, id in seen} == wanted
    counts = sorted([seq for seq, _ in seen] + [batch.seq or 0 for batch in ledger.weather_batches()])
    assert counts == list(range(1, len(wanted) + 2))
    assert [len(batch.days) for batch in ledger.weather_batches()] == [300]
    # Each file that all took was new to one of them and known to the others.
    assert sorted(one["added"] for one in told) == [300] * (many - 1) + [900]
    ledger.close()


def test_who_opens_a_file_that_another_is_about_to_write_waits(tmp_path: Path) -> None:
    """SQLite itself does not wait before the write-ahead log is on: two that made a ledger at once could fail."""
    where = tmp_path / "county.ledger"
    other = sqlite3.connect(where, isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(sqlite3.OperationalError, match="locked"), closing(sqlite3.connect(where, timeout=5)) as at_once:
        at_once.execute("PRAGMA journal_mode=WAL")
    later = threading.Timer(0.3, other.execute, ["ROLLBACK"])
    later.start()
    with closing(Ledger.open(where, create=True)) as ledger:
        assert not later.is_alive()
        assert list(ledger.entries()) == []
    later.join()
    other.close()


# ---------------------------------------------------------------- older and newer


def an_older_ledger(where: str, revision: str) -> list[dict]:
    """A ledger as the migrations up to `revision` leave it, with entries, and weather where it had any; its entries."""
    from alembic import command as migrations
    from alembic.config import Config

    import tepal.ledger

    engine = engine_on(where, create=True)
    made = [
        entry("note", {"words": f"from before {i}"}, by="s", site="a", made_at="2025-06-14T10:00:00Z") for i in range(3)
    ]
    days = (WeatherDay(date(2025, 5, 1), 3.0, 10.0, 0.0), WeatherDay(date(2025, 5, 2), 4.0, 12.0))
    batch = WeatherBatch("Depot", days)
    config = Config()
    config.set_main_option("script_location", str(Path(tepal.ledger.__file__).parent / "migrations"))
    with writing(engine) as connection, connection.begin():
        take_lock(connection)
        config.attributes["connection"] = connection
        migrations.upgrade(config, revision)
        for seq, one in enumerate(made, start=1):
            plain = {**one.plain(), "body": json.dumps(one.plain()["body"], sort_keys=True, separators=(",", ":"))}
            connection.execute(
                text(
                    "INSERT INTO entry (seq, id, kind, site, by, made_at, got_at, body, hash) VALUES "
                    "(:seq, :id, :kind, :site, :by, :made_at, '2025-06-15T00:00:00+00:00', :body, :hash)"
                ),
                {**plain, "seq": seq, "hash": one.content_hash()},
            )
        if inspect(connection).has_table("weather_batch"):
            connection.execute(
                text(
                    "INSERT INTO weather_batch (seq, id, station, corrects, days, got_at, rows) VALUES "
                    "(4, :id, 'Depot', :no, 2, '2025-06-15T00:00:00+00:00', :rows)"
                ),
                {"id": batch.id, "no": False, "rows": batch.rows},
            )
        if connection.dialect.name == "sqlite":
            connection.exec_driver_sql(f"PRAGMA application_id={APPLICATION_ID}")
    engine.dispose()
    return [one.plain() for one in made]


def revisions() -> list[str]:
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    import tepal.ledger

    config = Config()
    config.set_main_option("script_location", str(Path(tepal.ledger.__file__).parent / "migrations"))
    return sorted(script.revision for script in ScriptDirectory.from_config(config).walk_revisions())


@pytest.mark.parametrize("revision", [one for one in revisions() if one != HEAD])
def test_a_ledger_of_an_earlier_version_is_brought_to_this_one_with_all_it_held(
    store: str, tmp_path: Path, revision: str
) -> None:
    made = an_older_ledger(store, revision)
    with Ledger.open(store) as ledger:
        assert [e.plain() for e in ledger.entries()] == made
        batches = ledger.weather_batches()
        assert [(b.station, len(b.days)) for b in batches] == ([] if revision == "0001" else [("Depot", 2)])
        with ledger._engine.connect() as connection:
            assert connection.execute(text("SELECT version_num FROM alembic_version")).scalar() == HEAD
        # It is a whole ledger of this version: it takes in, knows what it knew, and holds to its rules.
        again = [entry_from_plain(plain, where="test") for plain in made]
        more = entry("note", {"words": "new"}, by="s", site="a", amends=made[0]["id"])
        found = ledger.add([*again, more], weather=batches)
        assert (found.added, found.already, found.refused) == (1, 3 + 2 * len(batches), ())
        assert ledger.last_seq == 4 + len(batches)
        with (
            pytest.raises(Exception, match="append-only"),
            writing(ledger._engine) as connection,
            connection.begin(),
        ):
            connection.execute(text("UPDATE entry SET body = '{}'"))


def test_two_processes_may_bring_an_older_ledger_to_this_version_at_once(store: str, tmp_path: Path) -> None:
    made = an_older_ledger(store, "0001")
    files = [write(tmp_path / f"{i}.jsonl", "\n".join(lines(20, i))) for i in range(3)]
    takers = [
        subprocess.Popen(
            [sys.executable, "-m", "tepal", "take", str(file), "--ledger", store], stdout=subprocess.DEVNULL
        )
        for file in files
    ]
    assert [taker.wait(timeout=120) for taker in takers] == [0, 0, 0]
    with Ledger.open(store) as ledger:
        assert len(ledger.entries()) == len(made) + 60


def test_a_newer_ledger_is_refused_in_one_line_and_its_bytes_are_left(tmp_path: Path) -> None:
    where = tmp_path / "county.ledger"
    a_ledger(where, tmp_path)
    with closing(sqlite3.connect(where)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
        connection.execute("ALTER TABLE entry ADD COLUMN heard TEXT")
        connection.commit()
    before = where.read_bytes()
    for arguments in (("take", much(tmp_path)), ("give", tmp_path / "out"), ("reading", "a")):
        said = refused_in_one_line(command(*arguments, "--ledger", where))
        assert "newer Tepal" in said
        assert "9999" in said
        assert where.read_bytes() == before
    assert not (tmp_path / "out").exists()


def test_signals_that_ask_to_stop_leave_whole_files_or_none(tmp_path: Path) -> None:
    where = tmp_path / "county.ledger"
    a_ledger(where, tmp_path)
    for sign in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        taker = subprocess.Popen(
            [sys.executable, "-m", "tepal", "take", str(much(tmp_path)), "--ledger", str(where)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )
        time.sleep(1.0)
        taker.send_signal(sign)
        said = taker.communicate(timeout=60)[1]
        assert "Traceback" not in said
        assert len(held(where)) in (5, 6_005)
