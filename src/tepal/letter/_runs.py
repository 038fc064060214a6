"""Text with few kinds of weight: what typst and the page both know how to set."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

from tepal.words import Words

# plain; strong = bold; name = a scientific name, in the serif's italic; accent = bold in madder.
Kind = Literal["plain", "strong", "name", "accent"]


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of text of one kind."""

    text: str
    kind: Kind = "plain"


Line = tuple[Run, ...]


def line(*parts: str | Run) -> Line:
    """Parts joined by spaces, empty ones left out."""
    runs: list[Run] = []
    for part in parts:
        run = Run(part) if isinstance(part, str) else part
        if not run.text:
            continue
        if runs:
            runs.append(Run(" "))
        runs.append(run)
    return tuple(runs)


def with_names(runs: Line, scientific: Iterable[str]) -> Line:
    """The same text with scientific names set apart wherever they stand."""
    names = sorted({name for name in scientific if name}, key=len, reverse=True)
    if not names:
        return runs
    pattern = re.compile("(" + "|".join(re.escape(name) for name in names) + ")")
    found: list[Run] = []
    for run in runs:
        if run.kind != "plain":
            found.append(run)
            continue
        pieces = pattern.split(run.text)
        found += [Run(piece, "name" if i % 2 else "plain") for i, piece in enumerate(pieces) if piece]
    return tuple(found)


def plain(runs: Line) -> str:
    """The text alone."""
    return "".join(run.text for run in runs)


def capital(text: str) -> str:
    """The first letter large, the rest as it is ("Palmer amaranth" keeps its own)."""
    return text[:1].upper() + text[1:]


def sentences(text: str) -> list[str]:
    """The sentences of a text; none is cut at a decimal point or an abbreviation followed by a small letter."""
    return re.split(r"(?<=[.!?])\s+(?=[A-Z“\"])", " ".join(text.split()))


def clip(text: str, most: int) -> str:
    """One line of at most `most` signs, cut at a word where it is longer."""
    flat = " ".join(text.split())
    if len(flat) <= most:
        return flat
    cut = flat[: most - 1]
    # A word's end far back would lose more than it saves.
    space = cut.rfind(" ")
    return (cut[:space] if space > most * 0.6 else cut).rstrip(" ,;:.") + "…"


def dated(words: Words, day: date) -> str:
    """A day as a letter is dated."""
    return words.t("{day_month}, {year}", day_month=words.day_month(day), year=day.year) if words.units == "us" else (
        words.t("{day_month} {year}", day_month=words.day_month(day), year=day.year)
    )  # fmt: skip
