"""The county's page after years: 500 sites, 100,000 entries; how long a coordinator waits for it.

Run: python bench/desk_county.py [ENTRIES] [FOLDER]. Writes its section of bench/RESULTS.md. The county is that of
`ledger_large`, with 200 calls of the season more. A ledger in FOLDER is used again, with the readings that are kept in
it. The page is asked for in the server's own process, and over loopback of a server in another process: when all
readings hold, and while they are being made anew.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from multiprocessing import get_context
from pathlib import Path

import httpx
import uvicorn

from ledger_large import SITES, files
from results import put
from tepal.ledger import Entry, Ledger, WeatherBatch, WeatherDay, entry, take
from tepal.serve import Settings, app
from tepal.serve.desk._reckoner import Wanted, reckon

NOW = datetime(2026, 7, 20, 15, 0, tzinfo=UTC)
CALLS, TIMES, READ = 200, 200, 24
AIM_S = 0.3


def build(folder: Path, entries: int) -> Path:
    """The ledger of the county; made where it is not there."""
    where = folder / "county.ledger"
    if where.exists():
        return where
    taken = take(files(folder, entries), where)
    if taken.refused:
        raise SystemExit(str(taken.refused[0]))
    with Ledger.open(where) as ledger:
        ledger.add([call(n) for n in range(CALLS)])
    return where


def call(n: int) -> Entry:
    made = datetime(2026, 6, 1, 9, tzinfo=UTC) + timedelta(hours=5 * n)
    body = {"how": ("call", "text")[n % 2], "words": f"Pigweeds by the gate, call {n}", "who": f"caller {n}",
            "answer_by": (made + timedelta(days=3)).date().isoformat()}  # fmt: skip
    return entry("report", body, by="office", site=f"site-{(7 * n) % SITES:03d}", made_at=made)


def settings() -> Settings:
    return Settings(office="Larkmoor County Extension", now=lambda: NOW, zone="UTC", hosts=("127.0.0.1",))


def token(ledger: Ledger) -> str:
    """A coordinator's device."""
    made = app(ledger, settings())
    office = made.state.office
    name = f"Coordinator {time.time_ns()}"
    code = office.invite(office.add_person(name, "coordinator", now=NOW).id, now=NOW, lasts=timedelta(days=1)).code
    return str(office.join(str(code), "bench", now=NOW)[0])


def serve(where: str, port: int) -> None:
    with Ledger.open(where) as ledger:
        uvicorn.run(app(ledger, settings()), host="127.0.0.1", port=port, log_level="warning")


def asked(get: Callable[[], httpx.Response], times: int) -> list[float]:
    """Seconds of each of some requests, one after the other."""
    took = []
    for _ in range(times):
        began = time.perf_counter()
        answer = get()
        took.append(time.perf_counter() - began)
        if answer.status_code != 200:
            raise SystemExit(f"the page answered {answer.status_code}")
    return took


def row(what: str, took: list[float], cpu: float | None = None) -> str:
    ordered = sorted(took)
    p95 = ordered[int(0.95 * len(ordered))]
    used = "" if cpu is None else f"{1000 * cpu / len(took):.0f}"
    kept = "kept" if p95 <= AIM_S else "missed"
    return (
        f"| {what} | {len(took)} | {1000 * statistics.median(took):.0f} | {1000 * p95:.0f} "
        f"| {1000 * ordered[-1]:.0f} | {used} | {kept} |"
    )


def reckoned(ledger: Ledger) -> str:
    """Keep a reading of every site. `READ` of them are made; the others are those again under another name and place:
    the page is as large and as varied, and the bench does not take an hour."""
    readings = app(ledger, settings()).state.desk.readings
    missing = [shown.site for shown in readings.all(NOW.date()) if not shown.holds]
    if not missing:
        return ""
    made, began = [], time.process_time()
    for site in missing[:READ]:
        made.append(reckon(ledger.where, None, Wanted(site, NOW.date(), ledger.last_seq)))
    each = (time.process_time() - began) / len(made)
    for n, site in enumerate(missing):
        told, page = made[n % len(made)]
        lon, lat = -45.2 + 0.02 * (int(site[-3:]) % 25), 41.3 + 0.02 * (int(site[-3:]) // 25)
        own = told | {"site": site, "name": f"Field {int(site[-3:])}", "centre": [lon, lat]}
        readings._made(Wanted(site, NOW.date(), ledger.last_seq), (own, page))
    return (
        f"{len(made)} readings were made for it, at {each:.2f} s of processor time each; the other "
        f"{len(missing) - len(made)} are those again under other names and places."
    )


def in_process(ledger: Ledger, secret: str) -> list[str]:
    from starlette.testclient import TestClient

    headers = {"authorization": f"Bearer {secret}"}
    client = TestClient(app(ledger, settings()), base_url="http://127.0.0.1", headers=headers)
    began = time.perf_counter()
    size = len(client.get("/").content)
    cold = time.perf_counter() - began
    asked(lambda: client.get("/"), 5)
    at = time.process_time()
    took = asked(lambda: client.get("/"), TIMES)
    cpu = time.process_time() - at
    told = f"The page has {size / 1000:.0f} kB. The first one after a start took {1000 * cold:.0f} ms."
    return [told, row("in the server's process", took, cpu)]


def over_loopback(where: Path, secret: str, port: int) -> list[str]:
    server = get_context("spawn").Process(target=serve, args=(str(where), port))
    server.start()
    try:
        with httpx.Client(
            base_url=f"http://127.0.0.1:{port}", headers={"authorization": f"Bearer {secret}"}, timeout=60
        ) as client:
            for _ in range(300):
                try:
                    client.get("/")
                    break
                except httpx.ConnectError:
                    time.sleep(0.2)
            asked(lambda: client.get("/"), 5)
            at = processor(server.pid or 0)
            took = asked(lambda: client.get("/"), TIMES)
            rows = [row("over loopback", took, processor(server.pid or 0) - at)]
            at = processor(server.pid or 0)
            together = several(port, secret)
            rows.append(row("over loopback, 8 at once", together, processor(server.pid or 0) - at))
            rows += arrival(where, client)
        peak = memory(server.pid or 0)
        rows.append(f"\nMemory of the server at its most: {peak:.0f} MB.")
        return rows
    finally:
        server.terminate()
        server.join()


def arrival(where: Path, client: httpx.Client) -> list[str]:
    """Weather of a station comes: a third of the sites are made anew while the page is asked for."""
    with Ledger.open(where) as ledger:
        station = ledger.stations()[0]
        table = ledger.weather(station)
        day = table.dates[-1].astype(object) + timedelta(days=1)
        ledger.add([], weather=[WeatherBatch(station, (WeatherDay(day, 14.0, 27.0, 0.0),))])
    took, busy = [], 0
    while len(took) < TIMES:
        took += asked(lambda: client.get("/"), 1)
        busy += bool(client.get("/desk/state").json()["busy"])
        time.sleep(0.05)
    return [row(f"over loopback, readings being made anew ({busy} of {TIMES} times)", took)]


def several(port: int, secret: str) -> list[float]:
    """Eight browsers at once."""
    took: list[float] = []
    lock = threading.Lock()

    def one() -> None:
        headers = {"authorization": f"Bearer {secret}"}
        with httpx.Client(base_url=f"http://127.0.0.1:{port}", headers=headers, timeout=60) as client:
            found = asked(lambda: client.get("/"), 25)
        with lock:
            took.extend(found)

    threads = [threading.Thread(target=one) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return took


def processor(process: int) -> float:
    """Processor seconds of a process so far."""
    told = Path(f"/proc/{process}/stat")
    if not told.exists():
        return float("nan")
    fields = told.read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def memory(process: int) -> float:
    """The most memory that a process held, in MB."""
    told = Path(f"/proc/{process}/status")
    if not told.exists():
        return float("nan")
    line = next(line for line in told.read_text().splitlines() if line.startswith("VmHWM"))
    return int(line.split()[1]) / 1024


def main() -> None:
    entries = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as made:
        folder = Path(sys.argv[2]) if len(sys.argv) > 2 else Path(made)
        folder.mkdir(exist_ok=True)
        where = build(folder, entries)
        with Ledger.open(where) as ledger:
            made_anew = reckoned(ledger)
            secret = token(ledger)
            told, first = in_process(ledger, secret)
        rows = [first, *over_loopback(where, secret, 8397)]
    cores, load = os.cpu_count(), os.getloadavg()[0]
    head = (
        f"{entries:,} entries of {SITES} sites, {CALLS} calls of the season; {cores} cores, load {load:.0f} meanwhile."
    )
    head += " Wall times are stretched by what else ran; processor time is not."
    table = ["| the county's page | times | median ms | p95 ms | most ms | cpu ms each | p95 of 300 ms |"]
    table += ["|---|---|---|---|---|---|---|", *rows]
    put("desk_county", "\n".join(["## The county's page", "", f"{head} {told} {made_anew}".strip(), "", *table]))


if __name__ == "__main__":
    main()
