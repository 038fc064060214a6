"""The demo's truth against its readings, misses included: writes docs/demo.md.

Run: python bench/demo_truth.py          (one county, the one of `make demo`, site by site)
     python bench/demo_truth.py --counties 20   (also scores twenty other counties from other seeds)
"""

from __future__ import annotations

import argparse
import json
import math
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from tepal import demo, reading
from tepal.flora import load
from tepal.ledger import Ledger, trace

PAGE = Path(__file__).resolve().parent.parent / "docs" / "demo.md"
# What ranges of numbers claim to hold; said aloud where they hold less than that by more than chance.
CLAIMED = 0.9
TOO_NARROW = (
    "Ranges of numbers hold less than the 90 % that they claim: where a walk counted only a few plants they are too "
    "narrow."
)
HUNTED = ("AMAPA", "AMATU")
SHOWN = {"flowers": "a tenth in flower", "viable_seed": "a tenth with viable seed"}


STORIES = """\
Eleven sites, as an office would meet them:

- **North Eighty**: a first find, a few tall plants near the gate in August soybean.
- **Schoolhouse Quarter**: a call with a picture of seedlings. Nobody has been there.
- **Creek Bottom**: a heavy patch along a waterway; some of it lived through a spraying.
- **Gravel Pit Forty**: a false alarm.
- **Cottonwood Sixty**: walked, and nothing seen.
- **Roads 12 and K**: a texted photo and a link to a map. The text that went back asked for three photos
  (`letters/roads-12-and-k-…-sent-back.txt`); they came, and the answer fits a text again (`….txt`).
- **Windmill Quarter**: the owner lives away and decides, a tenant farms. Leave to enter came from the owner. Each has a
  letter of their own, and neither is named to the other.
- **Station Ditch**: mowed in June, grown again from the stumps; water, and the drainage district in charge.
- **Elevator Wheat**: stubble three weeks after the combine took the tops.
- **Depot Yards** and **Sandhill Alfalfa**: hay with seed in it, fed at a feedlot, whose manure went to North Eighty.

![The owner's letter: what waiting costs, who does what](pictures/owner.png)

![A ditch: where the plants stand along the water, what to do, what not](pictures/ditch.png)""".splitlines()


@dataclass(frozen=True)
class Line:
    """One figure of one site: what was told, what is true, whether the told range holds the truth."""

    site: str
    what: str
    told: str
    true: str
    right: bool


def lines_of(county: demo.County) -> list[Line]:
    truth = json.loads(county.truth.read_text())
    found: list[Line] = []
    for visit in county.visits:
        found += _site(visit.reading, truth[visit.site])
    return found + _moved(county, truth)


def _moved(county: demo.County, truth: dict[str, dict[str, Any]]) -> list[Line]:
    """Where seed may have gone or come from, by the movements on record, against where it truly did."""
    lines = []
    with Ledger.open(county.ledger) as book:
        names = {site.id: site.name for site in book.sites()}
        for site, true in truth.items():
            for key, back, what in (
                ("seed_went_to", False, "places its seed may have reached"),
                ("seed_came_from", True, "places its seed may have come from"),
            ):
                if key not in true:
                    continue
                first = date.fromisoformat(true["from"]) if "from" in true else None
                told = [one.place for one in trace(book, site, back=back, first=first).reached]
                lines.append(
                    Line(
                        names[site],
                        what,
                        "; ".join(names.get(place, place) for place in told),
                        "; ".join(names[place] for place in true[key]),
                        set(true[key]) <= set(told),
                    )
                )
    return lines


def _followed(county: demo.County) -> list[str]:
    """What `tepal trace` prints of the demo's hay, forwards and backwards."""
    out = []
    for arguments in (
        ["sandhill-alfalfa", "--from", "2025-08-01"],
        ["north-eighty", "--back", "--to", "2026-08-12"],
    ):
        typed = ["tepal", "trace", *arguments]
        run = [sys.executable, "-m", *typed, "--ledger", str(county.ledger)]
        said = subprocess.run(run, capture_output=True, text=True, check=True).stdout
        out += ["```", "$ " + " ".join([*typed, "--ledger", "larkmoor.ledger"]), *said.rstrip().splitlines(), "```", ""]
    return out


def _site(one: reading.Reading, true: dict[str, Any]) -> list[Line]:
    lines = []
    up = true["up_by_taxon"]
    if one.facts["none_seen"]:
        there = true["up"]
        seen = one.stand.seen_share
        told = "none seen" + ("" if seen is None else f"; {seen:.0%} of plants would have been seen")
        # Nothing is claimed of what was not seen, so nothing can be wrong; the truth is told all the same.
        return [Line(one.name, "plants that were missed", told, str(there), True)]
    commonest = max(up, key=lambda code: up[code])
    leading = one.taxa[str(one.facts["leading"])]
    # Names that nobody can tell apart at the stage seen are told together, and are right together.
    names = one.alike or (leading.code,)
    sure = one.alike_chance if one.alike else leading.p_seen
    lines.append(
        Line(one.name, "which", f"{' or '.join(names)}, {sure:.2f}", " + ".join(sorted(up)), commonest in names)
    )
    for code in HUNTED:
        chance = one.taxa[code].p_any
        is_there = up.get(code, 0) > 0
        lines.append(
            Line(one.name, f"any {code}", f"{chance:.3f}", "yes" if is_there else "no", (chance >= 0.5) == is_there)
        )
    if one.stand.all_total is not None:
        low, middle, high = (one.stand.all_total[key] for key in ("q05", "q50", "q95"))
        lines.append(
            Line(one.name, "pigweeds up", f"{middle:,.0f} ({low:,.0f} to {high:,.0f})", f"{true['up']:,}",
                 low <= true["up"] <= high)
        )  # fmt: skip
    for window in one.windows:
        if window.name in SHOWN and window.taxon == one.windows[0].taxon and true[window.name]:
            day = date.fromisoformat(true[window.name])
            early, late = window.q10, window.q90
            told = f"{early or 'never'} to {late or 'never'}"
            right = early is not None and early <= day and (late is None or day <= late)
            lines.append(Line(one.name, SHOWN[window.name], told, day.isoformat(), right))
    return lines


def page(here: list[Line], followed: list[str], others: dict[str, tuple[int, int]] | None, counties: int) -> str:
    out = [
        "# The demo against its truth",
        "",
        "Larkmoor County is made by a seeded script that knows what truly stands in each field, and does not use the "
        "rooms that have to find it again. So the demo can be wrong. This page is written by `bench/demo_truth.py` "
        "and lists every figure of every site beside the truth. Ranges of numbers hold 90 %, ranges of dates "
        "80 %, so about one number in ten and one date in five should be missed.",
        "",
        *STORIES,
        "",
        "## Told and true",
        "",
        "| site | what | told | true | |",
        "|---|---|---|---|---|",
        *(f"| {x.site} | {x.what} | {x.told} | {x.true} | {'' if x.right else '**missed**'} |" for x in here),
        "",
        f"Missed: {sum(not x.right for x in here)} of {len(here)}.",
        "",
        "## The road that the hay took",
        "",
        "The first find at North Eighty in August was followed back by the movements on record, and then forwards from "
        "where they began. A load of manure that left the yards before the hay came is not among them.",
        "",
        *followed[:-1],
    ]
    if others:
        out += [
            "",
            f"## {counties} other counties",
            "",
            "The same stories from other seeds: how often each kind of figure was right.",
            "",
            "| what | right | of | share |",
            "|---|---:|---:|---:|",
            *(f"| {what} | {right} | {of} | {right / of:.2f} |" for what, (right, of) in others.items()),
        ]
        right, of = others.get("pigweeds up", (1, 1))
        if right / of < CLAIMED - 2 * math.sqrt(CLAIMED * (1 - CLAIMED) / of):
            out += ["", TOO_NARROW]
    return "\n".join(out) + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--counties", type=int, default=20)
    arguments = parser.parse_args()
    load()
    with tempfile.TemporaryDirectory() as folder:
        county = demo.make(Path(folder) / "here")
        here, followed = lines_of(county), _followed(county)
        others: dict[str, tuple[int, int]] = {}
        for seed in range(1, arguments.counties + 1):
            for x in lines_of(demo.make(Path(folder) / str(seed), seed=seed)):
                if x.what.startswith(("plants that", "places its")):
                    continue  # nothing was claimed, or nothing was drawn
                right, of = others.get(x.what, (0, 0))
                others[x.what] = right + x.right, of + 1
            print(f"county {seed} of {arguments.counties}", flush=True)
    PAGE.write_text(page(here, followed, others, arguments.counties))
    print(PAGE.read_text())


if __name__ == "__main__":
    main()
