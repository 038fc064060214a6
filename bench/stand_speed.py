"""How long `tepal stand` takes as a command of its own: processor seconds of the whole process, start included.

Writes its section of bench/RESULTS.md. Run: python bench/stand_speed.py
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from results import put

SQUARE = [[0, 0], [400, 0], [400, 400], [0, 400], [0, 0]]


def table(rng, n, name):
    places = rng.uniform(0, 400, (n, 2))
    count = rng.poisson(3 * np.exp(-((places - 120) ** 2).sum(axis=1) / 5000) + 0.1)
    lines = (f"{x:.2f},{y:.2f},1,{k}\n" for (x, y), k in zip(places, count, strict=True))
    name.write_text("x,y,area_m2,count\n" + "".join(lines))


def seconds(*command):
    """Processor seconds and wall seconds, the least of three runs each."""
    found = []
    for _ in range(3):
        before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        busy = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        found.append((busy, time.perf_counter() - start))
    return tuple(min(column) for column in zip(*found, strict=True))


def main():
    rng = np.random.default_rng(3)
    tepal = (sys.executable, "-m", "tepal", "stand")
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        here = Path(folder)
        (here / "b.geojson").write_text(json.dumps({"type": "Polygon", "coordinates": [SQUARE]}))
        x, y = np.meshgrid(np.linspace(1, 399, 400), np.linspace(1, 399, 250))
        grid = "".join(f"{a:.2f},{b:.2f},1\n" for a, b in zip(x.ravel(), y.ravel(), strict=True))
        (here / "p.csv").write_text("x,y,area_m2\n" + grid)
        site = ("--boundary", str(here / "b.geojson"))
        for n, more, asked, limit in (
            (30, site, "total and patches", 1),
            (100, site, "total and patches", None),
            (3000, site, "total and patches", 5),
            (30, ("--at", str(here / "p.csv")), "100,000 places", 2),
            (100, ("--at", str(here / "p.csv")), "100,000 places", 2),
            (100, (*site, "--at", str(here / "p.csv"), "--covariates", "edge"), "100,000 places, with the edge", None),
        ):
            table(rng, n, here / "c.csv")
            busy, wall = seconds(*tepal, str(here / "c.csv"), *more, "--json")
            rows.append((n, asked, busy, wall, "–" if limit is None else f"{limit} s"))
    text = ["## How long an estimate takes (`bench/stand_speed.py`)", "",
            "Processor seconds of the command from its start to its last line (wall time beside it depends on what "
            "else the machine did), least of three.", "",
            "| counts | asked | processor s | wall s | asked for |", "|---|---|---|---|---|"]  # fmt: skip
    text += [f"| {n} | {asked} | {busy:.2f} | {wall:.2f} | {limit} |" for n, asked, busy, wall, limit in rows]
    print("\n".join(text))
    put("stand speed", "\n".join(text))


if __name__ == "__main__":
    main()
