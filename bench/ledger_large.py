"""A county's record after years: 100,000 entries of 500 sites, and what it costs to take in, give out and read.

Run: python bench/ledger_large.py [ENTRIES]. Writes its section of bench/RESULTS.md. Every figure but those of the parts
of a reading is that of the command itself in a new process, from start to exit: nothing is warm but the disk's cache.
"cpu" is the processor time of that process, which other work on the machine does not stretch; "MB" is the most memory
it held. The county is invented and is made from a seed: five seasons, on three weather stations of 26 years each.
"""

from __future__ import annotations

import json
import os
import random
import statistics
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple

ROOT = Path(__file__).resolve().parent.parent
ENTRIES, SITES, SEASONS, STATIONS = 100_000, 500, range(2022, 2027), ("West", "Middle", "East")
AS_OF = "2026-07-20"
READ = 12  # sites read, each in a new process


class Took(NamedTuple):
    wall: float
    cpu: float
    megabytes: float
    out: bytes


def command(*arguments: object) -> Took:
    """One `tepal` command in a new process."""
    with tempfile.TemporaryFile() as out:
        began = time.perf_counter()
        process = subprocess.Popen([sys.executable, "-m", "tepal", *map(str, arguments)], stdout=out)
        _, status, used = os.wait4(process.pid, 0)
        wall = time.perf_counter() - began
        process.returncode = os.waitstatus_to_exitcode(status)
        if process.returncode:
            raise SystemExit(f"tepal {arguments[0]} ended with {process.returncode}")
        out.seek(0)
        return Took(wall, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, out.read())


class County:
    """The entries of an invented county, as lines; the same seed gives the same lines."""

    def __init__(self, seed: int = 1) -> None:
        self._luck = random.Random(seed)

    def lines(self, entries: int) -> Iterator[str]:
        share = -(-entries // SITES)
        left = entries
        for number in range(SITES):
            here = min(share, left)
            for line, _ in zip(self._site(f"site-{number:03d}", number), range(here), strict=False):
                yield line
            left -= here

    def _line(self, kind: str, site: str, on: date, body: dict[str, Any], amends: str | None = None) -> tuple[str, str]:
        made = datetime(on.year, on.month, on.day, 12, self._luck.randrange(60), self._luck.randrange(60), tzinfo=UTC)
        stamp = int(made.timestamp() * 1000)
        noise = self._luck.getrandbits(74)
        id = str(uuid.UUID(int=stamp << 80 | 7 << 76 | noise >> 62 << 64 | 0b10 << 62 | noise & (1 << 62) - 1))
        whole = {"id": id, "kind": kind, "site": site, "by": "scout", "made_at": made.isoformat(), "amends": amends}
        return id, json.dumps({**whole, "body": {"on": on.isoformat(), **body}})

    def _site(self, site: str, number: int) -> Iterator[str]:
        luck = self._luck
        west, south = -45.2 + 0.02 * (number % 25), 41.3 + 0.02 * (number // 25)
        east, north = west + 0.009, south + 0.007
        ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
        body = {"name": f"Field {number}", "ground": "field", "county": "Larkmoor", "region": "CB",
                "station": STATIONS[number % len(STATIONS)],
                "boundary": {"type": "Polygon", "coordinates": [ring]}}  # fmt: skip
        yield self._line("site", site, date(SEASONS[0], 3, 1), body)[1]
        party = {"name": f"Operator {number}", "roles": ["farms", "may_be_told"], "consent_to_enter": True}
        yield self._line("party", site, date(SEASONS[0], 3, 1), party)[1]
        weedy = luck.random() < 0.7
        while True:
            for year in reversed(SEASONS):
                yield from self._season(site, year, west, south, weedy=weedy)

    def _season(self, site: str, year: int, west: float, south: float, *, weedy: bool) -> Iterator[str]:
        luck = self._luck
        day = date(year, 5, 10)
        crop = {"year": year, "crop": "soybean", "traits": ["glyphosate"], "planted": day.isoformat(), "row_cm": 76}
        yield self._line("crop", site, day, crop)[1]
        for visit in (date(year, 6, 20), date(year, 7, 15)):
            track = [[west + 0.0006 * (i // 2 + 1), south + (0.0005, 0.0065)[(i // 2 + i) % 2]] for i in range(24)]
            walk, line = self._line("walk", site, visit, {"who": "scout", "sigma_m": 5, "found": 3 if weedy else 0,
                "track": {"type": "LineString", "coordinates": track}, "looked_for": ["AMAPA", "AMATU"]})  # fmt: skip
            yield line
            for i in range(12):
                count = luck.randrange(9) if weedy and luck.random() < 0.5 else 0
                stop = {"at": self._place(west, south), "error_m": 5, "walk": walk, "area_m2": 5,
                        "counts": [{"taxon": "pigweed", "size": "10_30_cm" if count else "unknown", "count": count,
                                    **({"tallest_cm": luck.randrange(10, 30)} if count else {})}]}  # fmt: skip
                id, line = self._line("stop", site, visit, stop)
                yield line
                if i == 0:
                    yield self._line("stop", site, visit, {**stop, "words": "counted again"}, id)[1]
            for _ in range(3 if weedy else 0):
                plant = {"at": self._place(west, south), "stage": "vegetative", "height_cm": luck.randrange(8, 40),
                         "looks": {"petiole_blade_ratio_lower": round(luck.uniform(0.4, 1.4), 2),
                                   "stem_hair_upper": luck.choice(["none", "sparse"])}}  # fmt: skip
                yield self._line("plant", site, visit, plant)[1]
        done = {"what": "sprayed", "ingredients": [{"name": "glufosinate", "group": "10"}], "tallest_cm": 8, "share": 1}
        yield self._line("done", site, date(year, 6, 24), done)[1]
        if weedy:
            result = {"step": "result", "what": "leaf", "test": "species", "taxon": "AMATU", "sure": 0.99}
            yield self._line("sample", site, date(year, 7, 18), result)[1]
        note, line = self._line("note", site, date(year, 7, 18), {"words": "gate was open, dog in the yard"})
        yield line
        yield self._line("withdraw", site, date(year, 7, 19), {"reason": "other field"}, note)[1]

    def _place(self, west: float, south: float) -> list[float]:
        away = self._luck.uniform
        return [round(west + away(0.0005, 0.0085), 6), round(south + away(0.0005, 0.0065), 6)]


def weather(folder: Path) -> list[Path]:
    """26 years of made-up days for each station."""
    luck, paths = random.Random(2), []
    for station in STATIONS:
        path = folder / f"{station}.csv"
        rows = ["date,tmin_c,tmax_c,prcp_mm"]
        for n in range((date(2026, 7, 19) - date(2000, 1, 1)).days + 1):
            day = date(2000, 1, 1) + timedelta(days=n)
            warm = 11 - 14 * abs(day.timetuple().tm_yday - 200) / 100 + luck.gauss(0, 3)
            rows.append(f"{day},{warm:.1f},{warm + luck.uniform(4, 14):.1f},{luck.choice((0, 0, 0, 6.4))}")
        path.write_text("\n".join(rows) + "\n")
        paths.append(path)
    return paths


def files(folder: Path, entries: int) -> list[Path]:
    lines = list(County().lines(entries))
    paths = []
    for number, start in enumerate(range(0, len(lines), 10_000)):
        paths.append(folder / f"entries-{number:02d}.jsonl")
        paths[-1].write_text("\n".join(lines[start : start + 10_000]) + "\n")
    return paths + weather(folder)


def row(what: str, n: int, took: Took) -> str:
    return f"| {what} | {n:,} | {took.wall:.2f} | {took.cpu:.2f} | {n / took.cpu:,.0f} | {took.megabytes:.0f} |"


def measure(folder: Path, where: str, entries: int) -> list[str]:
    taken = files(folder, entries)
    first = command("take", *taken, "--ledger", where, "--json")
    told = json.loads(first.out)
    if told["refused"] or told["added"] < entries:
        raise SystemExit(f"not all was taken: {told['added']} of {entries}, {told['refused'][:3]}")
    days = told["added"] - entries
    again = command("take", *taken, "--ledger", where, "--json")
    lines = [f"{entries:,} entries of {SITES} sites, {days:,} days of weather of {len(STATIONS)} stations.", "",
             "| command | n | seconds | cpu | n a cpu second | MB |", "|---|---|---|---|---|---|",
             row("`take` into a new ledger", entries + days, first),
             row("`take` again, all known", entries + days, again)]  # fmt: skip
    one = folder / "one.jsonl"
    one.write_text(json.dumps({"kind": "note", "site": "site-001", "by": "s", "made_at": "2026-07-20T10:00:00Z",
                               "body": {"words": "one more"}}) + "\n")  # fmt: skip
    lines += [row("`take` of one entry more", 1, command("take", one, "--ledger", where, "--json")),
              row("`give`", entries + 1, command("give", folder / "out", "--ledger", where, "--json"))]  # fmt: skip
    read = [command("reading", f"site-{n:03d}", "--ledger", where, "--as-of", AS_OF, "--json")
            for n in random.Random(3).sample(range(SITES), READ)]  # fmt: skip
    walls, cpus = sorted(took.wall for took in read), [took.cpu for took in read]
    lines += ["", f"`reading SITE --json`, {READ} sites, a new process each: median {statistics.median(walls):.2f} s, "
              f"slowest {walls[-1]:.2f} s;", f"of processor time {statistics.median(cpus):.2f} s; most memory "
              f"{max(took.megabytes for took in read):.0f} MB. The aim is under 1 s: "
              f"{sum(wall < 1 for wall in walls)} of {READ} kept it, on a shared machine;",
              f"{sum(cpu < 1 for cpu in cpus)} of {READ} in processor time."]  # fmt: skip
    if "://" not in where:
        size = sum(path.stat().st_size for path in Path(where).parent.glob(Path(where).name + "*") if path.is_file())
        lines.append(f"\nThe ledger has {size / 1e6:.1f} MB, {size / (entries + days):.0f} bytes an entry or day.")
    return lines


PARTS = """
import time, sys
clock = time.process_time  # other work on the machine does not stretch it
began = 0.0
took = {}
def lap(name, since):
    now = clock()
    took[name] = took.get(name, 0.0) + now - since
    return now
from datetime import date
import tepal.cli
at = lap("start: Python and the command line", began)
import numpy, scipy.special, scipy.ndimage, scipy.linalg, scipy.spatial, shapely, pyproj
at = lap("start: libraries for numbers and shapes", at)
import sqlalchemy, pydantic
at = lap("start: libraries for the store", at)
from tepal import advice, reading
import tepal.reading._read as rooms
from tepal.flora import load
from tepal.ledger import Ledger
from tepal.words import Words
at = lap("start: our own modules", at)
flora = load()
at = lap("flora: tables", at)
where, site, as_of = sys.argv[1:]
as_of = date.fromisoformat(as_of)
def timed(name, shown):
    inner = getattr(rooms, name)
    def call(*given, **more):
        since = clock()
        try:
            return inner(*given, **more)
        finally:
            lap(shown, since)
    setattr(rooms, name, call)
for name, shown in {"_station": "ledger: weather", "elsewhere": "ledger: proofs elsewhere",
                    "grounded": "reading: place", "numbers": "stand and walk: how many", "names": "plant: which",
                    "dates": "clock: when"}.items():
    timed(name, shown)
with Ledger.open(where) as ledger:
    at = lap("ledger: opening", at)
    known = ledger.find_site(site).id
    at = lap("ledger: finding the site", at)
    evidence = rooms.gather(ledger, known, as_of=as_of)
    at = lap("gather", at)
    found = rooms.compose(evidence, site=known, as_of=as_of, flora=flora)
    at = lap("compose", at)
    said = advice.advise(found, flora=flora)
    reading.to_json(found) | {"advice": advice.to_json(said, Words(units="us"))}
    lap("advice, and JSON", at)
took["ledger: the site's entries"] = took.pop("gather") - took["ledger: weather"] - took["ledger: proofs elsewhere"]
inside = ("reading: place", "stand and walk: how many", "plant: which", "clock: when")
took["reading: the rest"] = took.pop("compose") - sum(took[name] for name in inside)
import json
print(json.dumps(took))
"""


def parts(where: str, site: str, as_of: str, times: int = 5) -> dict[str, float]:
    """Processor seconds by part of one reading in a new process: of each part the median of several processes."""
    runs = [json.loads(subprocess.run([sys.executable, "-c", PARTS, where, site, as_of], check=True,
                                      capture_output=True).stdout) for _ in range(times)]  # fmt: skip
    return {name: statistics.median(run[name] for run in runs) for name in runs[0]}


def compared(folder: Path, where: str) -> list[str]:
    command("demo", folder / "demo", "--json")
    columns = {
        "the demo's Creek Bottom": parts(str(folder / "demo" / "larkmoor.ledger"), "Creek Bottom", "2026-07-01"),
        "a site of the large ledger": parts(where, "site-003", AS_OF),
    }
    lines = ["", "Where the time of one reading goes (seconds of processor time, median of 5 new processes):", "",
             "| part | " + " | ".join(columns) + " |", "|---|" + "---|" * len(columns)]  # fmt: skip
    names = sorted(next(iter(columns.values())), key=lambda name: -max(column[name] for column in columns.values()))
    shown = {name: [column[name] for column in columns.values()] for name in names}
    shown["all of the ledger"] = [sum(s for n, s in c.items() if n.startswith("ledger:")) for c in columns.values()]
    # A reading is what is reckoned from entries and tables; what starts Python and loads libraries is the command's.
    shown["the reading: all but the start"] = [
        sum(s for n, s in c.items() if not n.startswith("start:")) for c in columns.values()
    ]
    shown["all of it"] = [sum(column.values()) for column in columns.values()]
    lines += [f"| {name} | " + " | ".join(f"{value:.3f}" for value in values) + " |" for name, values in shown.items()]
    return lines


def main() -> None:
    entries = int(sys.argv[1]) if len(sys.argv) > 1 else ENTRIES
    os.environ |= {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    section = ["## ledger: a large one", ""]
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        where = str(folder / "county.ledger")
        section += measure(folder, where, entries)
        section += compared(folder, where)
    text = "\n".join(section)
    print(text)
    path = ROOT / "bench" / "RESULTS.md"
    old = path.read_text() if path.exists() else "# Results\n\nEach part is written by its script.\n"
    begin, end = "<!-- ledger-large -->", "<!-- /ledger-large -->"
    if begin in old:
        head, rest = old.split(begin, 1)
        new = f"{head}{begin}\n{text}\n{end}{rest.split(end, 1)[1]}"
    else:
        new = f"{old.rstrip()}\n\n{begin}\n{text}\n{end}\n"
    path.write_text(new)


if __name__ == "__main__":
    main()
