"""One section of RESULTS.md, between its markers: replaced where it stands, else put at the end."""

from __future__ import annotations

from pathlib import Path

RESULTS = Path(__file__).with_name("RESULTS.md")


def put(section: str, text: str) -> None:
    """Write a section; the others stay as they are."""
    old = RESULTS.read_text() if RESULTS.exists() else "# What was measured\n"
    begin, end = f"<!-- {section} -->", f"<!-- /{section} -->"
    block = f"{begin}\n{text.strip()}\n{end}"
    if begin in old:
        head, rest = old.split(begin, 1)
        new = head + block + rest.split(end, 1)[1]
    else:
        new = f"{old.rstrip()}\n\n{block}\n"
    RESULTS.write_text(new)
