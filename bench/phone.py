"""The app for the field: how large it is, how soon it starts without signal on a slow phone, what a stop costs.

Run: python bench/phone.py. Writes its section of bench/RESULTS.md. Needs Chromium and the built app. "Slow" is Chromium
with its processor slowed four times by its own debugging protocol; what other work does on the machine makes times
longer, never shorter: the least of several starts is the machine's own.
"""

from __future__ import annotations

import gzip
import json
import os
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))

from _chromium import ARGUMENTS, executable  # noqa: E402
from phone._office import Office, fill  # noqa: E402
from phone._steps import has_worker, key, main_key, more, opened  # noqa: E402
from phone.conftest import PROFILE, builder, let_in  # noqa: E402
from phone.plants._botanist import Botanist, leaf_photo  # noqa: E402
from results import put  # noqa: E402

STARTS, SLOWER = 9, 4
PLANTS = {
    "Palmer amaranth": ("AMAPA", "vegetative"),
    "waterhemp": ("AMATU", "vegetative"),
    "spiny amaranth": ("AMASP", "vegetative"),
    "redroot pigweed": ("AMARE", "reproductive"),
    "common lambsquarters": ("CHEAL", "seedling_2-4_leaf"),
}
CGROUP = Path("/sys/fs/cgroup/cpu.stat")


def throttled() -> tuple[int, float]:
    """How often, and for how many seconds in all, the machine's owner has held these processes back (cgroup)."""
    told = dict(line.split() for line in CGROUP.read_text().splitlines()) if CGROUP.is_file() else {}
    return int(told.get("nr_throttled", 0)), int(told.get("throttled_usec", 0)) / 1e6


def plants(page: Any, office: Office, tables: Path) -> list[tuple[str, int, int, float, str]]:
    """What a person taps who sees what such plants mostly show: name, taps, looks, seconds, what it says."""
    found = []
    for number, (name, (kind, stage)) in enumerate(PLANTS.items()):
        page.goto(f"{office.phone}#/plant?site=north-eighty")
        page.locator(".answers").wait_for()
        since = time.monotonic()
        person = Botanist(page, tables, kind, stage)
        person.photograph(leaf_photo(0.7, seed=number, size=(600, 800))[0])
        page.get_by_role("img", name="Photo 1").wait_for()
        said = person.look()
        person.tap(person.button("Keep this plant"))
        page.get_by_text("Kept on this phone.").wait_for()
        found.append((name, person.taps, len(person.asked), time.monotonic() - since, said))
    return found


def sizes(app: Path) -> list[tuple[str, int, int]]:
    """What the phone holds, by kind: files, plain bytes, gzipped bytes."""
    kinds = {".js": "script", ".css": "styles", ".woff2": "fonts", ".json": "tables and texts"}
    found: dict[str, list[bytes]] = {}
    for path in app.rglob("*"):
        if path.is_file():
            found.setdefault(kinds.get(path.suffix, "pages and pictures"), []).append(path.read_bytes())
    return [
        (kind, sum(map(len, files)), sum(len(gzip.compress(one, 9)) for one in files))
        for kind, files in sorted(found.items())
    ]


def starts(context: Any, office: Office, rate: int) -> tuple[list[float], list[float]]:
    """Seconds from the opening to the list on the screen, each in a new page, with no server to ask.

    Beside them the seconds that the page's own thread was at work until then, by its processor clock.
    """
    taken, worked = [], []
    for _ in range(STARTS):
        page = context.new_page()
        session = context.new_cdp_session(page)
        session.send("Performance.enable", {"timeDomain": "threadTicks"})
        session.send("Emulation.setCPUThrottlingRate", {"rate": rate})
        page.goto(office.phone)
        page.wait_for_function("() => performance.getEntriesByName('tepal-today').length > 0")
        told = {one["name"]: one["value"] for one in session.send("Performance.getMetrics")["metrics"]}
        worked.append(told["TaskDuration"])
        taken.append(page.evaluate("performance.getEntriesByName('tepal-today')[0].startTime") / 1000)
        page.close()
    return taken, worked


def stop(page: Any, counts: dict[str, int]) -> tuple[int, float]:
    """Taps, and seconds of the machine, from the walk's screen to the walk's screen."""
    page.evaluate("window.taps = 0")
    since = time.monotonic()
    main_key(page, "Stop here")
    for size, count in counts.items():
        more(page, size, count)
    main_key(page, "Keep" if counts else "None here")
    page.locator(".key.main", has_text="Stop here").wait_for()
    return page.evaluate("window.taps"), time.monotonic() - since


def main() -> None:
    from playwright.sync_api import sync_playwright

    hook = builder()
    if not hook.is_built():
        hook.build()
    rows = sizes(hook.folder())
    loads, before = [os.getloadavg()[0]], throttled()
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        ledger = Path(folder) / "county.ledger"
        fill(ledger)
        office = Office(ledger)
        office.start()
        browser = driver.chromium.launch(executable_path=executable(), args=ARGUMENTS)
        try:
            office.invitation("Coordinator", "coordinator")
            context = browser.new_context(**PROFILE)
            let_in(context, office.invitation("Scout One", "scout", "north-eighty", "creek-bottom"))
            page = opened(context, office.phone)
            has_worker(page)
            key(page, "North Eighty", exact=False)
            main_key(page, "Walk it")
            page.locator(".key.main", has_text="Stop here").wait_for()
            page.evaluate("window.taps = 0; addEventListener('click', () => window.taps++, true)")
            none = [stop(page, {}) for _ in range(5)]
            some = [stop(page, {"Seedlings": 3, "4 to 12 in": 1}) for _ in range(5)]
            looked = plants(page, office, hook.folder() / "data")
            page.close()
            office.kill()
            context.set_offline(True)
            slow, _ = starts(context, office, SLOWER)
            fast, worked = starts(context, office, 1)
            version = browser.version
        finally:
            browser.close()
            office.kill()
    loads.append(os.getloadavg()[0])
    times, held = (after - at for after, at in zip(throttled(), before, strict=True))
    lines = [
        "## phone",
        "",
        f"{os.cpu_count()} cores; load {min(loads):.0f} to {max(loads):.0f} meanwhile: wall times are longer "
        f"than the machine's own; held back by its owner {times:.0f} times for {held:.1f} s in all.",
        "",
    ]
    lines += ["| kind | bytes | gzipped |", "|---|---|---|"]
    lines += [f"| {kind} | {plain:,} | {small:,} |" for kind, plain, small in rows]
    lines += [
        "",
        "Start without signal and without a server, from the opening of the page to the list of sites, "
        f"Chromium {version}, {STARTS} starts each, on a machine that others used at the same time:",
        "",
        "| processor | least s | median s | most s |",
        "|---|---|---|---|",
    ]
    for name, took in (("slowed 4 times", slow), ("as it is", fast)):
        lines.append(f"| {name} | {min(took):.2f} | {statistics.median(took):.2f} | {max(took):.2f} |")
    lines += [
        "",
        f"At full speed the page's own thread was at work for {statistics.median(worked):.2f} s of processor time "
        f"until then (median; most {max(worked):.2f} s): a processor four times as slow would need four times that.",
        "",
        "A stop, from the walk's screen back to it. Time is the machine's alone (the taps follow each other at once); "
        "a person's tap takes about a second more; looking and counting come on top. No person's time was measured.",
        "",
        "| stop | taps | median s of machine |",
        "|---|---|---|",
    ]
    for name, took in (("none here", none), ("3 seedlings and 1 of 4 to 12 in", some)):
        lines.append(f"| {name} | {took[0][0]} | {statistics.median(one for _, one in took):.2f} |")
    lines += [
        "",
        "A plant, from its first question to where it is kept, with a photo, answered as such plants mostly look; "
        "the region unknown and no prior of the place. Time is the machine's.",
        "",
        "| plant | taps | looks | s of machine | what it says |",
        "|---|---|---|---|---|",
        *(f"| {name} | {taps} | {looks} | {took:.1f} | {said} |" for name, taps, looks, took, said in looked),
    ]
    put("phone", "\n".join(lines))
    print(json.dumps({"sizes": rows, "slow": slow, "fast": fast, "worked": worked}))


if __name__ == "__main__":
    main()
