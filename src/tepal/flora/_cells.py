"""Cells of the flora's tables, checked against what the other tables declare."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from itertools import pairwise
from pathlib import Path
from typing import TypeVar, cast

from tepal.doubt import BASES, Basis
from tepal.flora._records import ALL_TAXA
from tepal.tables import Refused, Row, Table, read_csv

T = TypeVar("T", bound=str)


@dataclass(slots=True)
class Folder:
    """A group's folder while it is being read: which codes, keys and units are declared so far."""

    path: Path
    taxa: Collection[str] = ()
    sources: Collection[str] = ()
    units: Collection[str] = ()
    seen: dict[str, dict[Hashable, int]] = field(default_factory=dict)

    def table(self, name: str, columns: Sequence[str], *, required: bool = True) -> Table:
        """The table `name`, with all of `columns`; an empty one where it is absent and not required."""
        path = self.path / name
        if not required and not path.exists():
            return Table(name, tuple(columns), ())
        table = read_csv(path)
        table.need(columns)
        return table

    def once(self, row: Row, *key: Hashable) -> None:
        """Refuse a second row of the same table about the same thing."""
        lines = self.seen.setdefault(row.file, {})
        first = lines.setdefault(key, row.line)
        if first != row.line:
            raise Refused(
                f"{' / '.join(str(part) for part in key if part != '')} again",
                where=row.where(),
                rule=f"One row, one fact; line {first} is about the same.",
                step="Merge the two or drop one.",
            )

    def code(self, row: Row, column: str, *, any_taxon: bool = False) -> str:
        """A taxon code that taxa.csv declares, or `*` where `any_taxon`."""
        return self._declared(row, column, row.text(column), any_taxon)

    def codes(self, row: Row, column: str, *, any_taxon: bool = False) -> tuple[str, ...]:
        return tuple(self._declared(row, column, code, any_taxon) for code in row.items(column))

    def _declared(self, row: Row, column: str, code: str, any_taxon: bool) -> str:
        if code in self.taxa or (any_taxon and code == ALL_TAXA):
            return code
        raise unknown(row, column, code, self.taxa, "taxa.csv declares the codes")

    def keys(self, row: Row, column: str = "sources") -> tuple[str, ...]:
        """Source keys, each with a line in sources.csv; an empty cell or `-` is none."""
        keys = () if row.text(column, "") == "-" else row.items(column)
        for key in keys:
            if key not in self.sources:
                raise unknown(row, column, key, self.sources, "Every source key has a line in sources.csv")
        return keys

    def recalled(self, row: Row, sources: Collection[str]) -> tuple[str, ...]:
        """Those of the row's sources that were recalled, not opened."""
        recalled = row.items("recalled")
        for key in recalled:
            if key not in sources:
                raise Refused(
                    f"recalled {key!r}",
                    where=row.where("recalled"),
                    rule="What was recalled is one of the row's own sources.",
                    step="Add it to sources, or drop it here.",
                )
        return recalled

    def basis(self, row: Row, sources: Collection[str], *, derived: bool = False) -> Basis:
        """The basis of the row; anything but judgement needs a source, or to be derived from other rows."""
        basis = choice(row, "basis", BASES)
        if basis != "judgement" and not sources and not derived:
            raise Refused(
                f"basis {basis!r} without a source",
                where=row.where("sources"),
                rule="Only judgement may stand without a source.",
                step="Name the source, or call it judgement.",
            )
        return basis

    def unit(self, row: Row, column: str = "unit") -> str:
        """A unit that units.csv declares."""
        unit = row.text(column)
        if unit not in self.units:
            raise unknown(row, column, unit, self.units, "units.csv declares the units")
        return unit


def choice(row: Row, column: str, allowed: Sequence[T], *, default: T | None = None) -> T:
    """The cell, one of `allowed`."""
    value = row.text(column, default)
    if value not in allowed:
        raise Refused(
            f"{column} {value!r}",
            where=row.where(column),
            rule=f"It is one of {', '.join(allowed)}.",
            step="Correct the cell.",
        )
    return cast(T, value)


def choices(row: Row, column: str, allowed: Sequence[T]) -> tuple[T, ...]:
    """The cell as a list of words, each one of `allowed`."""
    values = row.items(column)
    for value in values:
        if value not in allowed:
            raise Refused(
                f"{column} {value!r}",
                where=row.where(column),
                rule=f"Each is one of {', '.join(allowed)}.",
                step="Correct the cell.",
            )
    return cast(tuple[T, ...], values)


def yes(row: Row, column: str) -> bool:
    """A cell that says yes or no; empty is no."""
    return choice(row, column, ("yes", "no"), default="no") == "yes"


def whole_numbers(row: Row, column: str) -> tuple[int, ...]:
    """A list of whole numbers."""
    values = row.items(column)
    for value in values:
        if not value.isdecimal():
            raise Refused(
                f"{value!r} in {column}",
                where=row.where(column),
                rule=f"{column} is a list of whole numbers, set apart by semicolons.",
                step="Correct the cell.",
            )
    return tuple(int(value) for value in values)


def in_order(row: Row, *, low: float | None, mean: float | None, high: float | None) -> None:
    """Refuse the row unless low <= mean <= high, as far as they are given."""
    given = [(name, value) for name, value in (("low", low), ("mean", mean), ("high", high)) if value is not None]
    for (first, a), (second, b) in pairwise(given):
        if a > b:
            raise Refused(
                f"{first} {a:g} above {second} {b:g}",
                where=row.where(first),
                rule="low <= mean <= high.",
                step="Correct the row.",
            )


def unknown(row: Row, column: str, value: str, known: Iterable[str], rule: str) -> Refused:
    """The refusal of a name that no other table declares, with the nearest that one does."""
    near = get_close_matches(value, list(known), n=3, cutoff=0.5)
    return Refused(
        f"{column} {value!r} is not declared",
        where=row.where(column),
        rule=f"{rule}.",
        step=f"Declare it there, or use {' or '.join(near)}." if near else "Declare it there.",
    )
