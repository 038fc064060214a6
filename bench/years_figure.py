"""The figure of docs/rooms/years.md: the two example programmes side by side. Run: python bench/years_figure.py"""

from __future__ import annotations

from pathlib import Path

from tepal.flora import load
from tepal.letter._outlook_charts import seed_plate
from tepal.programme import read_programme
from tepal.words import Words
from tepal.years import project

ROOMS = Path(__file__).parent.parent / "docs" / "rooms"


def main() -> None:
    read = [read_programme(ROOMS / "years" / name) for name in ("one-site.toml", "every-way.toml")]
    done = project(read, flora=load(), years=10, replicates=1000, seed=1)
    svg = seed_plate(done, Words()).svg
    paper = '<rect width="100%" height="100%" fill="#ffffff"/>'  # a page in the dark would swallow the ink
    start = svg.index(">") + 1
    (ROOMS / "years-two.svg").write_text(svg[:start] + paper + svg[start:])


if __name__ == "__main__":
    main()
