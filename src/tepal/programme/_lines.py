"""On which line of a TOML text a value stands: its parser does not say."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

Path = tuple[str | int, ...]
_HEADER = re.compile(r"\s*(\[\[?)\s*([^\]]+?)\s*\]\]?\s*(?:#.*)?\Z")
_KEY = re.compile(r"""\s*((?:[\w-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[\w-]+|"[^"]*"|'[^']*'))*)\s*=""")
_NAME = re.compile(r"""[\w-]+|"[^"]*"|'[^']*'""")
_QUOTED = re.compile(r'"(?:\\.|[^"\\])*"|\'[^\']*\'')


def line_of(text: str, path: Sequence[str | int]) -> int | None:
    """The line, from 1, of the value at `path` in a text that parses; of the nearest part above it, if it has none.

    A value that is missing is told by the header of the table that should have it.
    """
    lines = dict(_positions(text))
    for end in range(len(path), 0, -1):
        if tuple(path[:end]) in lines:
            return lines[tuple(path[:end])]
    return None


def _positions(text: str) -> Iterator[tuple[Path, int]]:
    table: Path = ()
    counts: dict[Path, int] = {}
    depth, quote = 0, ""
    for number, line in enumerate(text.splitlines(), 1):
        if quote or depth:  # inside a value of several lines
            depth, quote = _open(line, depth, quote)
            continue
        header = _HEADER.match(line)
        if header:
            table = _opened(_names(header[2]), header[1] == "[[", counts)
            yield table, number
            continue
        key = _KEY.match(line)
        if key:
            yield (*table, *_names(key[1])), number
            depth, quote = _open(line[key.end() :], 0, "")


def _names(dotted: str) -> list[str]:
    return [name.strip("\"'") for name in _NAME.findall(dotted)]


def _opened(names: list[str], listed: bool, counts: dict[Path, int]) -> Path:
    path: Path = ()
    for i, name in enumerate(names):
        path = (*path, name)
        if listed and i == len(names) - 1:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:  # a list of tables: what follows belongs to its last one
            path = (*path, counts[path])
    return path


def _open(line: str, depth: int, quote: str) -> tuple[int, str]:
    """Brackets and long quotes still open at the end of a line."""
    while line:
        if quote:
            end = line.find(quote)
            if end < 0:
                return depth, quote
            line, quote = line[end + 3 :], ""
            continue
        if line.startswith(('"""', "'''")):
            line, quote = line[3:], line[:3]
        elif line[0] in "\"'":
            found = _QUOTED.match(line)
            line = line[found.end() if found else 1 :]
        elif line[0] == "#":
            return depth, quote
        else:
            depth += (line[0] in "[{") - (line[0] in "]}")
            line = line[1:]
    return depth, quote
