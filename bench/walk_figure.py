"""Draws the planning figure of the page `walk`, on invented ground. Run: python bench/walk_figure.py"""

from __future__ import annotations

import tempfile
from pathlib import Path

from tepal.cli import main

TO = Path(__file__).parents[1] / "docs" / "rooms" / "walk-plan.svg"


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        main(["demo", folder, "--json"])
        ledger = str(next(Path(folder).glob("*.ledger")))
        asked = ["--ledger", ledger, "--as-of", "2026-07-01", "--minutes", "60", "--stage", "vegetative"]
        main(["walk", "Creek Bottom", *asked, "--crop", "soybean", "--map", str(TO)])
