"""A programme written down from what is known of one field, with a remark wherever something was assumed."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Line:
    """`key = value` with a remark for who reads the file. A value that is None leaves the remark alone."""

    key: str
    value: str | float | int | Range | tuple[int, ...] | None
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Block:
    """A tactic, such as `season.post`, and its lines; `listed`: one of several of its kind."""

    name: str
    lines: tuple[Line, ...]
    remark: str = ""
    listed: bool = True


@dataclass(frozen=True, slots=True)
class DraftSeason:
    lines: tuple[Line, ...]
    blocks: tuple[Block, ...] = ()
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Draft:
    """What is known of a field, in the order of the programme's form."""

    remarks: tuple[str, ...]
    head: tuple[Line, ...]
    field: tuple[Line, ...]
    start: tuple[Line, ...]
    resistance: tuple[tuple[str, tuple[Line, ...]], ...] = ()
    seasons: Sequence[DraftSeason] = ()


def draft_text(draft: Draft) -> str:
    """The programme as TOML text; texts from a record are quoted, so that none can break out of its line."""
    return "\n".join(_lines(draft)) + "\n"


def _lines(draft: Draft) -> Iterator[str]:
    for remark in draft.remarks:
        yield f"# {_one_line(remark)}"
    yield from map(_line, draft.head)
    yield "[field]"
    yield from map(_line, draft.field)
    yield "[start]"
    yield from map(_line, draft.start)
    for group, lines in draft.resistance:
        yield f"[resistance.{group}]"
        yield from map(_line, lines)
    for season in draft.seasons:
        yield "[[season]]"
        for remark in season.remarks:
            yield f"# {_one_line(remark)}"
        yield from map(_line, season.lines)
        for block in season.blocks:
            if block.remark:
                yield f"  # {_one_line(block.remark)}"
            yield f"  [[{block.name}]]" if block.listed else f"  [{block.name}]"
            yield from (f"  {_line(line)}" for line in block.lines)


def _line(line: Line) -> str:
    remark = f"# {_one_line(line.remark)}" if line.remark else ""
    if line.value is None:
        return remark
    text = f"{line.key} = {_value(line.value)}"
    return f"{text}  {remark}" if remark else text


def _value(value: str | float | int | Range | tuple[int, ...]) -> str:
    if isinstance(value, str):
        # JSON's escapes are TOML's, but for DEL, which TOML wants escaped too.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, tuple):
        return f"[{', '.join(_value(each) for each in value)}]"
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def _one_line(text: str) -> str:
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())
