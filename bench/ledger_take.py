"""How fast files go into a ledger and out of it, on SQLite, and on PostgreSQL where TEPAL_BENCH_PG names one.

Run: python bench/ledger_take.py [ROWS]. Writes its section of bench/RESULTS.md. Each figure is the time of one whole
call (reading, checking, writing, commit to disk), the second time with everything known already. "cpu" is the time of
this process alone, which other work on the machine does not stretch (the server's own time is not in it).
"""

from __future__ import annotations

import os
import random
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import NamedTuple

from tepal.ledger import Ledger, Vocabulary, give, take

ROOT = Path(__file__).resolve().parent.parent
DEFAULT_ROWS = 20_000


class Took(NamedTuple):
    wall: float
    cpu: float


def timed(call: Callable[[], object]) -> Took:
    wall, cpu = time.perf_counter(), time.process_time()
    call()
    return Took(time.perf_counter() - wall, time.process_time() - cpu)


def stops(path: Path, rows: int) -> Path:
    luck = random.Random(1)
    lines = ["date,site,lon,lat,area_m2,AMAPA,AMATU"]
    for _ in range(rows):
        day = date(2026, 5, 1) + timedelta(days=luck.randrange(100))
        place = f"{-98 - luck.random():.6f},{40 + luck.random():.6f}"
        lines.append(f"{day},site {luck.randrange(300)},{place},0.25,{luck.randrange(9)},{luck.randrange(9)}")
    path.write_text("\n".join(lines) + "\n")
    return path


def weather(path: Path, years: int) -> Path:
    luck = random.Random(2)
    days = (date(1985, 1, 1) + timedelta(days=n) for n in range(years * 365))
    lines = [f"{day},{low:.1f},{low + luck.uniform(1, 15):.1f},{luck.choice((0, 0, 4.2))}" for day in days
             if (low := luck.uniform(-20, 20)) is not None]  # fmt: skip
    path.write_text("date,tmin_c,tmax_c,prcp_mm\n" + "\n".join(lines) + "\n")
    return path


def measure(where: str, folder: Path, rows: int) -> list[tuple[str, int, Took]]:
    words = Vocabulary(taxa={"amapa": "AMAPA", "amatu": "AMATU"})
    table, days = stops(folder / "stops.csv", rows), weather(folder / "station.csv", 30)
    out = [("stops from CSV, new", rows, timed(lambda: take([table], where, words=words)))]
    out.append(("stops from CSV, all known", rows, timed(lambda: take([table], where, words=words))))
    n_days = 30 * 365
    out.append(("days of weather, new", n_days, timed(lambda: take([days], where))))
    out.append(("days of weather, all known", n_days, timed(lambda: take([days], where))))
    with Ledger.open(where) as ledger:
        out.append(("entries given out", rows, timed(lambda: give(ledger, folder / "out"))))
        out.append(("entries read back", rows, timed(ledger.entries)))
        out.append(("one site's standing (all of 300 sites in turn)", 300, timed(lambda: [
            ledger.standing(site) for site in ledger.site_ids()])))  # fmt: skip
    out.append(("entries from entries.jsonl, new", rows, timed(lambda: take([folder / "out"], folder / "again"))))
    return out


def main() -> None:
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else DEFAULT_ROWS
    lines = ["## ledger", "", "| store | what | n | seconds | cpu | n a cpu second |", "|---|---|---|---|---|---|"]
    stores = {"SQLite": None, "PostgreSQL": os.environ.get("TEPAL_BENCH_PG")}
    for store, url in stores.items():
        if store == "PostgreSQL" and not url:
            lines.append("| PostgreSQL | not measured: TEPAL_BENCH_PG names no database | | | | |")
            continue
        with tempfile.TemporaryDirectory() as temporary:
            folder = Path(temporary)
            for what, n, took in measure(url or str(folder / "county.ledger"), folder, rows):
                lines.append(f"| {store} | {what} | {n:,} | {took.wall:.2f} | {took.cpu:.2f} | {n / took.cpu:,.0f} |")
    section = "\n".join(lines)
    print(section)
    path = ROOT / "bench" / "RESULTS.md"
    old = path.read_text() if path.exists() else "# Results\n\nEach part is written by its script.\n"
    begin, end = "<!-- ledger -->", "<!-- /ledger -->"
    if begin in old:
        head, rest = old.split(begin, 1)
        new = f"{head}{begin}\n{section}\n{end}{rest.split(end, 1)[1]}"
    else:
        new = f"{old.rstrip()}\n\n{begin}\n{section}\n{end}\n"
    path.write_text(new)


if __name__ == "__main__":
    main()
