"""Make the pictures of README and docs from the demo's letters: `python tools/pictures.py`. Needs `pdftoppm`."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from tepal import demo

PICTURES = Path(__file__).resolve().parent.parent / "docs" / "pictures"
# Which page of which letter (a file's beginning and end), and how fine.
PAGES = {
    "letter": ("creek-bottom-*[0-9]", 1, 110),
    "creek-bottom": ("creek-bottom-*[0-9]", 2, 90),
    "owner": ("windmill-quarter-*-owner", 1, 80),
    "ditch": ("station-ditch-*[0-9]", 1, 80),
}


def main() -> int:
    PICTURES.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        county = demo.make(Path(folder) / "larkmoor")
        for name, (letter, page, dpi) in PAGES.items():
            (pdf,) = county.letters.glob(f"{letter}.pdf")
            place = ["-f", str(page), "-l", str(page), "-r", str(dpi), "-singlefile", "-png"]
            subprocess.run(["pdftoppm", *place, str(pdf), str(PICTURES / name)], check=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
