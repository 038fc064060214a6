"""Refusals that say the same of many lines, told once."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from tepal.tables import Refused, Where

FEW = 20
"""So many of a kind are told one by one; a person reads them."""
_VALUE = re.compile(r"'[^']*'|\"[^\"]*\"|[-+]?\d[\d.,:/-]*")
_MOST_SPANS = 40


@dataclass(frozen=True, slots=True)
class Alike:
    """Refusals of one file that differ only in line and value: the first of them, how many, and their lines."""

    first: Refused
    count: int
    lines: str
    """`2-4001, 4010`; empty where it is one refusal alone."""

    def __str__(self) -> str:
        if self.count == 1:
            return str(self.first)
        told = self.first.at(Where(self.first.where.file, None, self.first.where.column))
        return f"{self.count:,} times, on lines {self.lines}, as on line {self.first.where.line}: {told}"


def grouped(refusals: Iterable[Refused], *, few: int = FEW) -> list[Alike]:
    """Refusals in their order; more than `few` of one kind are one, in the place of its first.

    Of one kind are those of one file, column, rule and remedy whose reasons differ only in numbers and quoted values.
    """
    told = list(refusals)
    keys = [_kind(one) for one in told]
    kinds: dict[tuple[object, ...], list[Refused]] = {}
    for one, key in zip(told, keys, strict=True):
        kinds.setdefault(key, []).append(one)
    out = []
    for one, key in zip(told, keys, strict=True):
        members = kinds[key]
        if len(members) <= few:
            out.append(Alike(one, 1, ""))
        elif one is members[0]:
            out.append(Alike(one, len(members), spans(members)))
    return out


def _kind(one: Refused) -> tuple[object, ...]:
    if one.where.line is None:
        return (id(one),)  # without a line it stands for itself
    # A rule or a remedy may repeat the value.
    return (one.where.file, one.where.column, *(_VALUE.sub("…", text) for text in (one.what, one.rule, one.step)))


def spans(members: Iterable[Refused]) -> str:
    """Lines as a person writes them: 2-9, 12."""
    lines = sorted({one.where.line for one in members if one.where.line is not None})
    out: list[list[int]] = []
    for line in lines:
        if out and line == out[-1][1] + 1:
            out[-1][1] = line
        else:
            out.append([line, line])
    told = [str(a) if a == b else f"{a}-{b}" for a, b in out[:_MOST_SPANS]]
    return ", ".join(told) + (", …" if len(out) > _MOST_SPANS else "")
