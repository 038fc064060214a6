"""Write the table of all rules into docs/rooms/advice.md: `python tools/rules_table.py [--check]`."""

from __future__ import annotations

import sys
from pathlib import Path

from tepal.advice import rules_for, rules_page
from tepal.advice._page import BEGIN, END
from tepal.flora import load

PAGE = Path(__file__).resolve().parent.parent / "docs" / "rooms" / "advice.md"


def renewed(text: str) -> str:
    """The page with the part between the two marks made anew."""
    before, rest = text.split(BEGIN, 1)
    return before + rules_page(rules_for(load())) + rest.split(END, 1)[1]


def main() -> int:
    old = PAGE.read_text(encoding="utf-8")
    new = renewed(old)
    if "--check" in sys.argv[1:]:
        if old != new:
            print("docs/rooms/advice.md is out of date: run python tools/rules_table.py", file=sys.stderr)
        return int(old != new)
    PAGE.write_text(new, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
