"""Make the pictures of README and docs from the demo's letters: `python tools/pictures.py`. Needs `pdftoppm`."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from tepal import demo

PICTURES = Path(__file__).resolve().parent.parent / "docs" / "pictures"
# Which page of which letter, and how fine.
PAGES = {"letter": ("creek-bottom", 1, 110), "creek-bottom": ("creek-bottom", 2, 90)}


def main() -> int:
    PICTURES.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        county = demo.make(Path(folder) / "larkmoor")
        for name, (site, page, dpi) in PAGES.items():
            pdf = next(visit.pdf for visit in county.visits if visit.site == site)
            place = ["-f", str(page), "-l", str(page), "-r", str(dpi), "-singlefile", "-png"]
            subprocess.run(["pdftoppm", *place, str(pdf), str(PICTURES / name)], check=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
