"""200 phones against `tepal serve`, with a server killed fifty times and without: what is lost, how quick it is.

Run: python bench/serve_load.py [PHONES ENTRIES PHOTOS KILLS]. Writes its section of bench/RESULTS.md. It takes a while:
`--part sqlite|postgresql KILLS FILE` measures one column into a file, `--parts FILES…` writes the section from such
files. Server, database and all phones share this machine. The phones are those of tests/_phones.py: they send a day's
entries in batches of 1 to 14, and photos of 20 to 60 kB in parts. On the rough line they shuffle what they send, send a
tenth of the batches over two lines at once, repeat what is known, let a tenth of the requests go before the answer, and
wait between.
"""

from __future__ import annotations

import asyncio
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import NamedTuple

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "bench")]

from _phones import Counted, Server, an_office, lost_or_doubled, run, stopped  # noqa: E402
from results import put  # noqa: E402
from tepal.ledger.keeping import check  # noqa: E402

PHONES, ENTRIES, PHOTOS, KILLS = 200, 100, 10, 50


class Measured(NamedTuple):
    store: str
    phones: int
    kills: int
    entries: int
    photos: int
    wrong: int
    findings: int
    wall_s: float
    server_cpu_s: float
    p50_ms: float
    p95_ms: float
    most_mb: float
    lines_broken: int
    sent_twice: int
    already: int
    early: int
    load: float


@contextmanager
def postgresql() -> Iterator[str]:
    """An empty database on a server of its own, which syncs as servers do."""
    folder = Path(tempfile.mkdtemp(prefix="tepal-pg-"))
    binaries = sorted(Path("/usr/lib/postgresql").glob("*/bin"))
    path = os.pathsep.join([*map(str, binaries[-1:]), os.environ["PATH"]])
    owner: list[str] = []
    if os.geteuid() == 0:
        shutil.chown(folder, "postgres")
        owner = ["runuser", "-u", "postgres", "--"]

    def call(name: str, *arguments: str) -> None:
        program = str(shutil.which(name, path=path))
        subprocess.run([*owner, program, *arguments], check=True, cwd=folder, stdout=subprocess.DEVNULL)

    data = str(folder / "data")
    call("initdb", "-D", data, "-U", "tepal", "--auth=trust", "-E", "UTF8", "--locale=C")
    options = f"-c listen_addresses= -k {folder}"
    call("pg_ctl", "-D", data, "-w", "-l", str(folder / "log"), "-o", options, "start")
    try:
        yield f"postgresql://tepal@/postgres?host={folder}"
    finally:
        call("pg_ctl", "-D", data, "-m", "immediate", "-w", "stop")
        shutil.rmtree(folder, ignore_errors=True)


def measure(store: str, *, phones: int, entries: int, pictures: int, kills: int) -> Measured:
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        where = stack.enter_context(postgresql()) if store == "postgresql" else str(folder / "county.ledger")
        photos = folder / "photos"
        made = an_office(where, photos, phones=phones, entries=entries, pictures=pictures, rough=kills > 0)
        server, counted = Server(where, photos, folder / "log"), Counted()
        with stopped(server):
            asyncio.run(run(made, server, kills=kills, counted=counted))
        if server.kills != kills:
            raise SystemExit(f"killed {server.kills} times, not {kills}")
        wrong = lost_or_doubled(where, photos, made)
        if "Traceback" in (folder / "log").read_text():
            wrong.append("a fault in the server's log")
        print(*wrong[:20], sep="\n", flush=True)
        posts = 1000 * np.array(counted.posts)
        return Measured(
            {"postgresql": "PostgreSQL", "sqlite": "SQLite"}[store],
            phones,
            kills,
            phones * entries,
            phones * pictures,
            len(wrong),
            len(check(where, photos=photos).findings),
            counted.ended - counted.began,
            server.cpu_s,
            float(np.quantile(posts, 0.5)),
            float(np.quantile(posts, 0.95)),
            server.most_mb,
            counted.lines_broken,
            counted.sent_twice,
            counted.outcomes["already"],
            counted.outcomes["refused"],
            os.getloadavg()[2],
        )


def section(found: list[Measured]) -> str:
    rows = {
        "server killed": [f"{one.kills} times" if one.kills else "never" for one in found],
        "entries sent": [f"{one.entries:,}" for one in found],
        "photos sent": [f"{one.photos:,}" for one in found],
        "**lost, doubled, changed, shown twice, or a gap**": [f"**{one.wrong}**" for one in found],
        "found by `tepal check` afterwards": [f"{one.findings}" for one in found],
        "entries a second": [f"{one.entries / one.wall_s:,.0f}" for one in found],
        "entries a second of the server's processor time": [f"{one.entries / one.server_cpu_s:,.0f}" for one in found],
        "answer to `POST /entries`, median": [f"{one.p50_ms:,.0f} ms" for one in found],
        "answer to `POST /entries`, p95": [f"{one.p95_ms:,.0f} ms" for one in found],
        "load of the machine over the last quarter of an hour": [f"{one.load:.0f}" for one in found],
        "most memory of the server": [f"{one.most_mb:,.0f} MB" for one in found],
        "lines broken, let go on purpose, or not to be had while the server was down": [
            f"{one.lines_broken:,}" for one in found
        ],
        "requests sent over two lines at once": [f"{one.sent_twice:,}" for one in found],
        "entries answered as known already": [f"{one.already:,}" for one in found],
        "amendments that came before their entry, sent again": [f"{one.early:,}" for one in found],
    }
    head = " | ".join(["", *(one.store for one in found)])
    lines = "\n".join(f"| {name} | {' | '.join(cells)} |" for name, cells in rows.items())
    return f"""
## serve: {found[0].phones} phones at once, and a server that is killed

`python bench/serve_load.py`, {time.strftime("%Y-%m-%d")}. Server, database and phones share {os.cpu_count()} cores of
this machine, on which much other work went on meanwhile; the row "load" says how much. An answer is timed as the phone
sees it, with all phones asking at once. Where the server is killed, phones also wait between, shuffle, repeat and let
go on purpose, so that its entries a second say how long the work took with all restarts (each start is a fork of a
process that has its libraries loaded).

|{head} |
|---|{"---|" * len(found)}
{lines}
"""


def main() -> None:
    given = sys.argv[1:]
    if given[:1] == ["--part"]:
        store, kills, file = given[1:]
        found = measure(store, phones=PHONES, entries=ENTRIES, pictures=PHOTOS, kills=int(kills))
        Path(file).write_text(json.dumps(found._asdict()))
        return
    if given[:1] == ["--parts"]:
        parts = [Measured(**json.loads(Path(file).read_text())) for file in given[1:]]
    else:
        phones, entries, pictures, kills = (
            int(given[i]) if len(given) > i else usual for i, usual in enumerate((PHONES, ENTRIES, PHOTOS, KILLS))
        )
        parts = [
            measure(store, phones=phones, entries=entries, pictures=pictures, kills=times)
            for times in (0, kills)
            for store in ("sqlite", "postgresql")
        ]
    put("serve_load", section(parts))
    if any(one.wrong or one.findings for one in parts):
        raise SystemExit(1)


if __name__ == "__main__":
    main()
