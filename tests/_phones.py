"""Phones that behave as phones do, against a real server that is killed: what they send, twice, late and out of order.

Used by `tests/serve/test_load.py` and `bench/serve_load.py`. The phones know nothing of the server but its contract
(`docs/rooms/serve.md`); what arrived is read by the database's own driver.
"""

from __future__ import annotations

import asyncio
import contextlib
import hashlib
import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from _ports import free_port
from ledger.pictures import picture
from tepal.ledger import Ledger, entry, new_id
from tepal.serve import Office

MADE = "2026-06-18T13:58:40-05:00"
_LONGEST_BATCH = 15


class Broken(Exception):
    """The line broke, or was let go: nothing is known of what the server did."""


@dataclass
class Counted:
    """What was measured, by all phones together. Times in seconds."""

    posts: list[float] = field(default_factory=list)
    outcomes: Counter[str] = field(default_factory=Counter)
    lines_broken: int = 0
    let_go: int = 0
    sent_twice: int = 0
    waits_told: int = 0
    answered: int = 0
    began: float = 0.0
    ended: float = 0.0


class Line:
    """One connection, as HTTP/1.1 wants it, which can be let go in the middle."""

    def __init__(self, port: int, token: str) -> None:
        self._port, self._token = port, token
        self._pair: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None

    async def ask(
        self, method: str, path: str, body: bytes = b"", *, let_go: bool = False, **headers: str
    ) -> tuple[int, dict[str, str], bytes]:
        """The answer: status, headers, body.

        Raises
        ------
        Broken
            If the line breaks, or is let go after the request is on its way.
        """
        try:
            if self._pair is None:
                self._pair = await asyncio.open_connection("127.0.0.1", self._port)
            reader, writer = self._pair
            lines = [f"{method} {path} HTTP/1.1", "Host: 127.0.0.1", f"Authorization: Bearer {self._token}"]
            lines += [f"{name.replace('_', '-')}: {value}" for name, value in headers.items()]
            if method != "GET":
                lines.append(f"Content-Length: {len(body)}")
            writer.write("\r\n".join([*lines, "", ""]).encode() + body)
            await writer.drain()
            if let_go:
                await asyncio.sleep(random.random() * 0.02)
                raise Broken
            status = int((await reader.readuntil(b"\r\n")).split()[1])
            told = {}
            while line := (await reader.readuntil(b"\r\n")).strip():
                name, _, value = line.partition(b":")
                told[name.decode().lower()] = value.strip().decode()
            length = 0 if method == "HEAD" or status == 204 else int(told["content-length"])
            content = await reader.readexactly(length)
        except (Broken, OSError, asyncio.IncompleteReadError, IndexError) as problem:
            self.close()
            raise Broken(str(problem)) from None
        if told.get("connection") == "close":
            self.close()
        return status, told, content

    def close(self) -> None:
        if self._pair is not None:
            self._pair[1].transport.abort()
            self._pair = None


@dataclass
class Phone:
    """One person's phone: what it has to send, what it was told, what it has seen."""

    name: str
    token: str
    entries: dict[str, dict[str, Any]]
    photos: dict[str, bytes]
    luck: random.Random
    rough: bool
    waiting: dict[str, dict[str, Any]] = field(default_factory=dict)
    answered: dict[str, int] = field(default_factory=dict)
    seen: dict[str, int] = field(default_factory=dict)
    cursor: int = 0
    faults: list[str] = field(default_factory=list)

    async def live(self, port: int, counted: Counted) -> None:
        """Send everything, in whatever order, until everything is answered; look now and then what is new."""
        line = Line(port, self.token)
        self.waiting = dict(self.entries)
        photos = list(self.photos)
        while self.waiting or photos:
            if self.rough:
                await asyncio.sleep(self.luck.random() * 0.05)
            try:
                chance = self.luck.random()
                if photos and (not self.waiting or chance < len(photos) / (len(photos) + len(self.waiting) / 5)):
                    await self._photo(line, photos[-1], counted)
                    photos.pop()
                elif chance > 0.95:
                    await self._look(line, counted)
                else:
                    await self._entries(line, counted, port)
            except Broken:
                counted.lines_broken += 1
                await asyncio.sleep(0.05 + self.luck.random() * 0.2)
        while True:
            with contextlib.suppress(Broken):
                await self._look(line, counted)
                break
            await asyncio.sleep(0.2)
        line.close()

    async def _entries(self, line: Line, counted: Counted, port: int) -> None:
        ids = list(self.waiting)
        if self.rough:
            self.luck.shuffle(ids)
        batch = [self.waiting[id] for id in ids[: self.luck.randrange(1, _LONGEST_BATCH)]]
        if self.rough and self.answered and self.luck.random() < 0.2:
            batch.insert(0, self.entries[self.luck.choice(list(self.answered))])  # known long since
        body = json.dumps({"device_time": MADE, "entries": batch}).encode()
        let_go = self.rough and self.luck.random() < 0.1
        twice = self.rough and self.luck.random() < 0.1
        counted.let_go += let_go
        counted.sent_twice += twice
        if not twice:
            await self._post(line, body, batch, counted, let_go=let_go)
            return
        # The same request over two lines at once, as two windows of one phone would send it.
        other = Line(port, self.token)
        found = await asyncio.gather(
            self._post(line, body, batch, counted, let_go=let_go),
            self._post(other, body, batch, counted, let_go=False),
            return_exceptions=True,
        )
        other.close()
        for one in found:
            if isinstance(one, BaseException):
                raise one

    async def _post(
        self, line: Line, body: bytes, batch: list[dict[str, Any]], counted: Counted, *, let_go: bool
    ) -> None:
        began = time.perf_counter()
        status, told, content = await line.ask("POST", "/entries", body, let_go=let_go, Content_Type="application/json")
        if await self._told_to_wait(status, told, counted):
            return
        if status != 200:
            self.faults.append(f"POST /entries: {status} {content[:300]!r}")
            raise Broken
        counted.posts.append(time.perf_counter() - began)
        answers = json.loads(content)["answers"]
        if [answer["id"] for answer in answers] != [one["id"] for one in batch]:
            self.faults.append("answers in another order than the entries")
        for answer in answers:
            self._hear(answer, counted)

    def _hear(self, answer: dict[str, Any], counted: Counted) -> None:
        id, outcome = answer["id"], answer["outcome"]
        counted.outcomes[outcome] += 1
        if outcome == "refused":
            # An amendment that overtook what it amends: it is sent again when that has come.
            if self.entries[id].get("amends") is None or "amends" not in str(answer["problem"].get("where")):
                self.faults.append(f"refused: {answer['problem']}")
            return
        if self.answered.setdefault(id, answer["seq"]) != answer["seq"]:
            self.faults.append(f"{id} stands at {answer['seq']} and at {self.answered[id]}")
        if self.waiting.pop(id, None) is not None:
            counted.answered += 1

    async def _photo(self, line: Line, sha256: str, counted: Counted) -> None:
        """Send a photo in parts, from wherever the server has it."""
        content = self.photos[sha256]
        status, told, _ = await line.ask("HEAD", f"/photos/{sha256}")
        while True:
            if await self._told_to_wait(status, told, counted):
                raise Broken
            if told.get("upload-complete") == "?1":
                return
            offset = int(told.get("upload-offset", 0))
            step = self.luck.randrange(10_000, 40_000) if self.rough else len(content)
            part = content[offset : offset + step]
            last = offset + len(part) == len(content)
            let_go = self.rough and self.luck.random() < 0.05
            counted.let_go += let_go
            status, told, body = await line.ask(
                "PATCH",
                f"/photos/{sha256}",
                part,
                let_go=let_go,
                Upload_Offset=str(offset),
                Upload_Complete=f"?{int(last)}",
                Content_Type="application/partial-upload",
            )
            if status not in {204, 409, 429}:
                self.faults.append(f"PATCH /photos: {status} {body[:300]!r}")
                raise Broken

    async def _look(self, line: Line, counted: Counted) -> None:
        """Take what is new, from where this phone has come to; the server may not skip and may not repeat."""
        while True:
            status, told, content = await line.ask("GET", f"/entries?after={self.cursor}&limit=400")
            if await self._told_to_wait(status, told, counted):
                raise Broken
            page = json.loads(content)
            for one in page["entries"]:
                if one["seq"] <= self.cursor or one["id"] in self.seen:
                    self.faults.append(f"shown twice: {one['id']}")
                self.seen[one["id"]] = one["seq"]
            self.cursor = page["next"]
            if not page["more"]:
                return

    async def _told_to_wait(self, status: int, told: dict[str, str], counted: Counted) -> bool:
        if status != 429:
            return False
        counted.waits_told += 1
        await asyncio.sleep(float(told.get("retry-after", 1)))
        return True


# ---------------------------------------------------------------- the office and its server


def an_office(where: str, photos: Path, *, phones: int, entries: int, pictures: int, rough: bool) -> list[Phone]:
    """A ledger with an office of scouts, two sites of their own each, and a phone for each with its day's work."""
    made = []
    now = datetime.now(UTC)
    with Ledger.open(where, create=True, photos=photos) as ledger:
        office = Office(ledger)
        for number in range(phones):
            luck = random.Random(number)
            name, sites = f"Scout {number:03d}", [f"field-{number:03d}-{end}" for end in ("east", "west")]
            ledger.add(
                [entry("site", {"name": site, "ground": "field", "region": "CB"}, site=site, by="s") for site in sites]
            )
            person = office.add_person(name, "scout", now=now)
            for site in sites:
                office.assign(person.id, site=site, now=now)
            code = office.invite(person.id, now=now, lasts=timedelta(days=1)).code
            token = office.join(str(code), "phone", now=now)[0]
            taken = {hashlib.sha256(raw).hexdigest(): raw for raw in (_photo(luck) for _ in range(pictures))}
            made.append(Phone(name, token, _work(luck, sites, entries, taken), taken, luck, rough))
    return made


def _photo(luck: random.Random) -> bytes:
    """A whole JPEG of 20 to 60 kB: a small picture with a long remark."""
    raw = picture(luck.randrange(256))
    remark = luck.randbytes(luck.randrange(20_000, 60_000))
    return raw[:2] + b"\xff\xfe" + (len(remark) + 2).to_bytes(2, "big") + remark + raw[2:]


def _work(luck: random.Random, sites: list[str], count: int, photos: dict[str, bytes]) -> dict[str, dict[str, Any]]:
    """A day's entries: walks, stops on them, plants with photos, corrections."""
    made: list[dict[str, Any]] = []

    def add(kind: str, body: dict[str, Any], amends: dict[str, Any] | None = None) -> dict[str, Any]:
        site = luck.choice(sites) if amends is None else amends["site"]
        one = {"id": new_id(), "kind": kind, "site": site, "made_at": MADE, "body": body}
        made.append(one | ({} if amends is None else {"amends": amends["id"]}))
        return one

    for sha256, content in photos.items():
        plant = add("plant", {"stage": "vegetative", "looks": {}, "photos": [sha256], "at": [-45.1, 41.3]})
        add("photo", {"sha256": sha256, "media_type": "image/jpeg", "size_bytes": len(content), "of": plant["id"]})
    walk = add("walk", {"found": 1, "minutes": 30})
    stops = []
    while len(made) < count:
        body = {"walk": walk["id"], "at": [-45.1, 41.3], "area_m2": 5, "counts": [{"taxon": "pigweed", "count": 2}]}
        if stops and len(made) % 10 == 0:
            add("stop", body | {"words": "counted again"}, luck.choice(stops))
        else:
            stops.append(add("stop", body | {"words": f"{luck.getrandbits(64):x} " * luck.randrange(1, 8)}))
    return {one["id"]: one for one in made[:count]}


_NURSERY = """
import json, os, signal, sys
import psycopg, uvicorn
import sqlalchemy.dialects.postgresql.psycopg, sqlalchemy.dialects.sqlite
import tepal.serve, tepal.serve.desk
from tepal.cli import main
out = os.fdopen(os.dup(1), "w")
for line in sys.stdin:
    arguments, log = json.loads(line)
    pid = os.fork()
    if pid == 0:
        handle = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
        os.dup2(handle, 1)
        os.dup2(handle, 2)
        os._exit(main(arguments))
    print(pid, file=out, flush=True)
    _, status, used = os.wait4(pid, 0)
    print(json.dumps([status, used.ru_utime + used.ru_stime]), file=out, flush=True)
"""


class Server:
    """`tepal serve`, each time in a process of its own, killed and started again.

    The processes are forks of one that has the libraries loaded: what is measured is the server, not how long Python
    takes to start.
    """

    def __init__(self, where: str, photos: Path, log: Path) -> None:
        self.port = free_port()
        self._log = log
        log.touch()
        self._given = ["serve", "--ledger", where, "--photos", str(photos), "--port", str(self.port), "--quiet"]
        self._nursery = subprocess.Popen(
            [sys.executable, "-c", _NURSERY], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        self.pid: int | None = None
        self.most_mb = 0.0
        self.cpu_s = 0.0
        self.kills = 0

    async def start(self) -> None:
        assert self._nursery.stdin and self._nursery.stdout
        print(json.dumps([self._given, str(self._log)]), file=self._nursery.stdin, flush=True)
        self.pid = int(await asyncio.to_thread(self._nursery.stdout.readline))
        end = time.monotonic() + 300
        while time.monotonic() < end:
            try:
                _, writer = await asyncio.open_connection("127.0.0.1", self.port)
            except OSError:
                if not Path(f"/proc/{self.pid}").exists():
                    break
                await asyncio.sleep(0.05)
                continue
            writer.transport.abort()
            return
        raise RuntimeError(f"the server did not start: {self._log.read_text()[-3000:]}")

    def look(self) -> None:
        """Note how much memory it has taken."""
        with contextlib.suppress(OSError):
            for line in Path(f"/proc/{self.pid}/status").read_text().splitlines():
                if line.startswith("VmHWM:"):
                    self.most_mb = max(self.most_mb, int(line.split()[1]) / 1024)

    def kill(self, sign: int = signal.SIGKILL) -> None:
        assert self.pid is not None
        assert self._nursery.stdout
        self.look()
        with contextlib.suppress(ProcessLookupError):  # it may have ended by itself
            os.kill(self.pid, sign)
        _, used = json.loads(self._nursery.stdout.readline())
        self.cpu_s += used
        self.kills += sign == signal.SIGKILL
        self.pid = None

    def close(self) -> None:
        """Stop it and what it stands on."""
        if self.pid is not None:
            self.kill(signal.SIGTERM)
        self._nursery.communicate(timeout=60)


async def run(phones: list[Phone], server: Server, *, kills: int, counted: Counted) -> None:
    """Let all phones live at once while the server is killed so often, each time after some progress."""
    await server.start()
    total = sum(len(phone.entries) for phone in phones)
    luck = random.Random(kills)
    counted.began = time.monotonic()
    living = asyncio.ensure_future(asyncio.gather(*(phone.live(server.port, counted) for phone in phones)))
    for number in range(kills):
        goal = total * (number + luck.random()) / (kills + 1)
        while counted.answered < goal and not living.done():
            await asyncio.sleep(0.005)
        if living.done():
            break
        await asyncio.sleep(luck.random() * 0.05)
        server.kill()
        await server.start()
    await living
    counted.ended = time.monotonic()
    server.kill(signal.SIGTERM)


# ---------------------------------------------------------------- what arrived


def rows(where: str, query: str) -> list[tuple[Any, ...]]:
    """Rows, read by the database's own driver."""
    if "://" not in where:
        with closing(sqlite3.connect(where)) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            return connection.execute(query).fetchall()
    import psycopg

    with psycopg.connect(where) as store:
        return store.execute(query).fetchall()  # type: ignore[arg-type]


def lost_or_doubled(where: str, photos: Path, phones: list[Phone]) -> list[str]:
    """Everything that is not as it must be: each entry there once, by its person, at the place that was told; each
    photo there, to the byte; no gap in the count; nothing else; each phone was shown all that is its own."""
    wrong = [f"{phone.name}: {fault}" for phone in phones for fault in phone.faults]
    found = rows(where, 'SELECT seq, id, kind, site, "by", amends, body FROM entry ORDER BY seq')
    places = [row[0] for row in found]
    if places != list(range(1, len(found) + 1)):
        wrong.append("the count has a gap or a double")
    by_id = {row[1]: row for row in found}
    if len(by_id) != len(found):
        wrong.append("an id twice")
    sent = 0
    for phone in phones:
        own = {}
        for id, one in phone.entries.items():
            sent += 1
            row = by_id.get(id)
            if row is None:
                wrong.append(f"lost: {id} of {phone.name}")
                continue
            own[id] = row[0]
            if (row[2], row[3], row[4], row[5]) != (one["kind"], one["site"], phone.name, one.get("amends")):
                wrong.append(f"changed: {row}")
            said = json.loads(row[6])
            if any(said.get(key) != value for key, value in one["body"].items() if key not in {"counts", "words"}):
                wrong.append(f"changed: {row}")
            if phone.answered.get(id) != row[0]:
                wrong.append(f"{id} was told to stand at {phone.answered.get(id)} and stands at {row[0]}")
        shown = {id: seq for id, seq in phone.seen.items() if id in phone.entries}
        if shown != own:
            wrong.append(f"{phone.name} was shown {len(shown)} of its {len(own)} entries")
        for sha256, content in phone.photos.items():
            path = photos / f"{sha256}.jpg"
            if not path.is_file() or path.read_bytes() != content:
                wrong.append(f"photo lost: {sha256} of {phone.name}")
    strange = sum(row[4] != "s" for row in found) - sent
    if strange:
        wrong.append(f"{strange} entries that nobody sent")
    return wrong


def left_behind(log: Path) -> list[int]:
    """Processes that write to this log: the server's and those that it has started."""
    found = []
    for process in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            if (process / "fd" / "2").readlink() == log:
                found.append(int(process.name))
    return found


@contextmanager
def stopped(server: Server) -> Iterator[None]:
    """Whatever happens, the server does not stay behind."""
    try:
        yield
    finally:
        server.close()
