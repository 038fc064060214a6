"""The demo's truth against its readings, misses included: writes docs/demo.md.

Run: python bench/demo_truth.py          (one county, the one of `make demo`, site by site)
     python bench/demo_truth.py --counties 20   (also scores twenty other counties from other seeds)
"""

from __future__ import annotations

import argparse
import json
import tempfile
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from tepal import demo, reading
from tepal.flora import load
from tepal.ledger import Ledger

PAGE = Path(__file__).resolve().parent.parent / "docs" / "demo.md"
HUNTED = ("AMAPA", "AMATU")
SHOWN = {"flowers": "a tenth in flower", "viable_seed": "a tenth with viable seed"}


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
    with Ledger.open(county.ledger) as book:
        for visit in county.visits:
            one = reading.read(book, visit.site, as_of=visit.as_of)
            found += _site(one, truth[visit.site])
    return found


def _site(one: reading.Reading, true: dict) -> list[Line]:
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


def page(here: list[Line], others: dict[str, tuple[int, int]] | None, counties: int) -> str:
    out = [
        "# The demo against its truth",
        "",
        "Larkmoor County is made by a seeded script that knows what truly stands in each field, and does not use the "
        "rooms that have to find it again. So the demo can be wrong. This page is written by `bench/demo_truth.py` "
        "and lists every figure of every site beside the truth. Ranges of numbers hold 90 %, ranges of dates "
        "80 %, so about one number in ten and one date in five should be missed.",
        "",
        "| site | what | told | true | |",
        "|---|---|---|---|---|",
        *(f"| {x.site} | {x.what} | {x.told} | {x.true} | {'' if x.right else '**missed**'} |" for x in here),
        "",
        f"Missed: {sum(not x.right for x in here)} of {len(here)}.",
    ]
    if others:
        out += [
            "",
            f"## {counties} other counties",
            "",
            "The same five stories from other seeds: how often each kind of figure was right.",
            "",
            "| what | right | of | share |",
            "|---|---:|---:|---:|",
            *(f"| {what} | {right} | {of} | {right / of:.2f} |" for what, (right, of) in others.items()),
        ]
    return "\n".join(out) + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--counties", type=int, default=20)
    arguments = parser.parse_args()
    load()
    with tempfile.TemporaryDirectory() as folder:
        here = lines_of(demo.make(Path(folder) / "here"))
        others: dict[str, tuple[int, int]] = {}
        for seed in range(1, arguments.counties + 1):
            for x in lines_of(demo.make(Path(folder) / str(seed), seed=seed)):
                if x.what.startswith("plants that"):
                    continue  # nothing was claimed, so nothing could be right
                right, of = others.get(x.what, (0, 0))
                others[x.what] = right + x.right, of + 1
            print(f"county {seed} of {arguments.counties}", flush=True)
    PAGE.write_text(page(here, others, arguments.counties))
    print(PAGE.read_text())


if __name__ == "__main__":
    main()
