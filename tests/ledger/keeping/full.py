"""A ledger with something of everything, read back without Tepal; and commands that are killed."""

from __future__ import annotations

import hashlib
import json
import random
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import date
from pathlib import Path
from typing import Any

from sqlalchemy import text

from _recorded import sound
from ledger.pictures import picture
from tepal.ledger import Ledger, WeatherBatch, WeatherDay, entry, forget
from tepal.ledger._engine import writing

ADDED_AT = "2026-06-14T10:00:00Z"
HOSTILE = (
    'a "quoted" gate',
    "two\nlines",
    "a\u2028b",
    "Ñandú 🌾 \U0001f33e",
    "'; DROP TABLE entry; --",
    "=1+1",
    "\\u0041 \\n",
    "<b>x</b>",
)
OFFICE = (
    "INSERT INTO office_person (id, name, role, made_at) VALUES ('p1', 'Office ''A''', 'coordinator', '2026-01-01')",
    "INSERT INTO office_person (id, name, role, made_at) VALUES ('P2', 'Scout ñ', 'scout', '2026-01-02')",
    "INSERT INTO office_device (id, person, name, token_hash, made_at, used_at) "
    "VALUES ('d1', 'P2', 'field phone', 'aa11', '2026-01-02', '2026-06-01')",
    "INSERT INTO office_invitation (id, person, code_hash, made_at, expires_at) "
    "VALUES ('i1', 'P2', 'bb22', '2026-01-02', '2026-01-09')",
    "INSERT INTO office_assignment (id, person, site, made_at) VALUES ('a1', 'P2', 'north-eighty', '2026-01-03')",
    "INSERT INTO office_entry (entry, person) VALUES ('019eb4a2-2a28-7000-8000-000000000001', 'P2')",
)


THERE = (
    "entry",
    "weather_batch",
    "office_person",
    "office_device",
    "office_invitation",
    "office_assignment",
    "office_entry",
)
"""Tables that `fill` puts something into."""


def put_photo(folder: Path, number: int, kind: str = "JPEG") -> str:
    """A photo in the folder of originals; its hash."""
    raw = picture(number, kind=kind)
    sha256 = hashlib.sha256(raw).hexdigest()
    folder.mkdir(exist_ok=True)
    (folder / (sha256 + {"JPEG": ".jpg", "PNG": ".png"}[kind])).write_bytes(raw)
    return sha256


def fill(ledger: Ledger, photos: Path) -> None:
    """Entries of several kinds, amended, withdrawn, forgotten; weather corrected; photos; the office's own."""
    own = put_photo(photos, 1), put_photo(photos, 2, "PNG"), put_photo(photos, 3)
    size = (photos / f"{own[0]}.jpg").stat().st_size
    notes = [entry("note", {"words": words}, site="north-eighty", by="s", made_at=ADDED_AT) for words in HOSTILE]
    walk = entry("walk", {"who": "Ana María Prueba", "found": 0, "minutes": 12.345678901234567}, site="b", by="s")
    stop = entry("stop", {"walk": walk.id, "counts": [], "area_m2": 0.1 + 0.2}, site="b", by="s")
    plant = entry("plant", {"stop": stop.id, "stage": "unknown", "looks": {}, "photos": [own[1]]}, site="b", by="s")
    report = entry("report", {"how": "call", "words": "tall weeds", "photos": [own[2]]}, site="b", by="s")
    body = {"sha256": own[0], "media_type": "image/jpeg", "size_bytes": size, "of": plant.id}
    kept = entry("photo", body, site="b", by="s")
    spoken, recording = sound()
    (photos / f"{spoken}.webm").write_bytes(recording)
    body = {"sha256": spoken, "media_type": "audio/webm", "size_bytes": len(recording), "of": stop.id}
    said = entry("sound", body, site="b", by="s")
    party = entry(
        "party", {"name": "Ana María Prueba", "roles": ["farms"], "contact": "555 010 9999"}, site="b", by="s"
    )
    found = ledger.add(
        [*notes, walk, stop, plant, report, kept, said, party],
        weather=[
            WeatherBatch('Depot; "x"', (WeatherDay(date(2026, 5, 1), 1.1, 2.2, None),), -98.123456789012, 40.1),
            WeatherBatch('Depot; "x"', (WeatherDay(date(2026, 5, 1), 1.0, 2.5, 0.3),), corrects=True),
        ],
    )
    assert not found.refused
    amended = entry("note", {"words": "again"}, site="north-eighty", by="s", amends=notes[0].id)
    gone = entry("withdraw", {"reason": "wrong field"}, site="north-eighty", by="s", amends=notes[1].id)
    assert ledger.add([amended, gone]).added == 2
    forget(ledger, "Ana María Prueba")
    with writing(ledger._engine) as connection, connection.begin():
        for statement in OFFICE:
            connection.execute(text(statement))


def raw(store: str) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table, read by the database's own driver alone."""
    if "://" not in store:
        with closing(sqlite3.connect(store)) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            names = [row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
            return {name: _sorted(connection.execute(f'SELECT * FROM "{name}"')) for name in names}
    import psycopg

    with psycopg.connect(store) as server:
        found = server.execute("SELECT table_name FROM information_schema.tables WHERE table_schema = 'public'")
        return {name: _sorted(server.execute(f'SELECT * FROM "{name}"')) for (name,) in found.fetchall()}


def _sorted(rows: Any) -> list[tuple[Any, ...]]:
    return sorted((tuple(row) for row in rows), key=lambda row: [(value is not None, str(value)) for value in row])


def bytes_of(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


_FORKS = """
import json, os, signal, sys, time
from tepal.cli import main
import tepal.ledger, tepal.ledger.keeping, tepal.ledger.formats, alembic.command, alembic.script, psycopg
import sqlalchemy.dialects.postgresql.psycopg
from tepal.ledger.keeping._tables import made_by
from tepal.ledger._migrating import HEAD
out = os.fdopen(os.dup(1), "w")
made_by(HEAD)
for line in sys.stdin:
    arguments, after = json.loads(line)
    began = time.monotonic()
    pid = os.fork()
    if pid == 0:
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, 1)
        os._exit(main(arguments))
    if after is not None:
        time.sleep(after)
        os.kill(pid, signal.SIGKILL)
    status = os.waitpid(pid, 0)[1]
    print(json.dumps([os.waitstatus_to_exitcode(status), time.monotonic() - began]), file=out, flush=True)
"""


class Forks:
    """Runs commands at once, each in a process of its own, and kills them after so many seconds."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-c", _FORKS], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def run(self, *arguments: object, after: float | None = None) -> tuple[int, float]:
        assert self._process.stdin and self._process.stdout
        print(json.dumps([[str(one) for one in arguments], after]), file=self._process.stdin, flush=True)
        code, seconds = json.loads(self._process.stdout.readline())
        return code, seconds

    def close(self) -> None:
        self._process.communicate(timeout=60)


def much(ledger: Ledger, photos: Path, *, entries: int, pictures: int) -> None:
    """Enough that keeping it takes a while."""
    luck = random.Random(3)
    photos.mkdir(exist_ok=True)
    for _ in range(pictures):
        content = luck.randbytes(300_000)
        (photos / f"{hashlib.sha256(content).hexdigest()}.jpg").write_bytes(content)
    made = [
        entry("note", {"words": f"{i} {luck.getrandbits(2000):x}"}, site="north-eighty", by="s", made_at=ADDED_AT)
        for i in range(entries)
    ]
    ledger.add(made)
