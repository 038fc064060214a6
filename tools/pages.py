"""Make the generated parts of the docs anew: `python tools/pages.py [--check]`.

Each part stands between `<!-- NAME -->` and `<!-- /NAME -->` in its page, and comes from the code that it is about.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from pathlib import Path

from tepal.flora import load
from tepal.reading import fact_types

DOCS = Path(__file__).resolve().parent.parent / "docs"


def facts() -> str:
    """Every fact that a rule may ask for."""
    rows = [
        f"| `{key}` | {kind.replace('_', '/')} | {meaning} |"
        for key, (kind, meaning) in fact_types(load().hunted()).items()
    ]
    return "\n".join(["| key | is | what it means |", "|---|---|---|", *rows])


def commands() -> str:
    """Every command's own help, one level below the page's title."""
    from tepal.cli import _app

    _app._register_once()
    text = _app.app.generate_docs(output_format="markdown")
    # From the first command on: the list before it would only repeat the headings.
    first = re.search(r"^## `?tepal ", text, re.MULTILINE)
    if first is None:
        raise RuntimeError("the command reference has no commands: has its form changed?")
    return "\n".join(line.rstrip() for line in text[first.start() :].strip().splitlines())


PARTS: dict[str, tuple[str, Callable[[], str]]] = {
    "facts": ("rooms/reading.md", facts),
    "commands": ("commands.md", commands),
}


def renewed(text: str, name: str, part: str) -> str:
    """A page with one part made anew."""
    begin, end = f"<!-- {name} -->", f"<!-- /{name} -->"
    before, rest = text.split(begin, 1)
    return f"{before}{begin}\n{part}\n{end}{rest.split(end, 1)[1]}"


def main() -> int:
    stale = 0
    for name, (page, make) in PARTS.items():
        path = DOCS / page
        old = path.read_text(encoding="utf-8")
        new = renewed(old, name, make())
        if old != new and "--check" in sys.argv[1:]:
            print(f"docs/{page} is out of date: run python tools/pages.py", file=sys.stderr)
            stale = 1
        elif old != new:
            path.write_text(new, encoding="utf-8")
    return stale


if __name__ == "__main__":
    sys.exit(main())
