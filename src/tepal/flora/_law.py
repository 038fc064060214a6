"""What a state's law says of a taxon, and when its conservation ground is closed: dated, replaceable by the office."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal, get_args

from tepal.flora._cells import Folder, choice
from tepal.tables import Refused, Row, read_csv

if TYPE_CHECKING:
    from tepal.flora._flora import Flora

# yes: by the state; county: counties may enforce it; seed: only as seed for sale; no: the whole list was read, it is
# not on it.
Listed = Literal["yes", "county", "seed", "no"]
LISTED: tuple[Listed, ...] = get_args(Listed)
LawStatus = Literal["read", "recalled", "office"]
_OURS: tuple[LawStatus, ...] = ("read", "recalled")
_COLUMNS = ("state", "code", "listed", "class", "tell", "how_soon", "must", "transport", "checked", "sources", "status",
            "note")  # fmt: skip
_OFFICE_COLUMNS = ("state", "code", "listed", "checked")
_NESTING_COLUMNS = ("state", "first", "last", "sources", "note")
_LEAP = 2024  # 29 February is a day of the table too


@dataclass(frozen=True, slots=True)
class LawRow:
    """One taxon in the law of one state, as somebody read it on `checked`.

    `tell`: whom to tell; `how_soon`, `must`, `transport`: sentences, empty where the source says nothing of it.
    `status`: `read` (the source was opened), `recalled` (nobody has checked it), `office` (the office's own row).
    """

    state: str
    code: str
    listed: Listed
    class_words: str
    tell: str
    how_soon: str
    must: str
    transport: str
    checked: date
    sources: tuple[str, ...]
    status: LawStatus
    note: str

    def messages(self) -> tuple[str, ...]:
        """The row's texts that people read."""
        return tuple(text for text in (self.class_words, self.tell, self.how_soon, self.must, self.transport) if text)


@dataclass(frozen=True, slots=True)
class Nesting:
    """The days on which conservation ground of a state is closed for birds: (month, day), both ends included."""

    state: str
    first: tuple[int, int]
    last: tuple[int, int]
    sources: tuple[str, ...]
    note: str

    def days(self, year: int) -> tuple[date, date]:
        """First and last day in a year."""
        return date(year, *self.first), date(year, *self.last)


LawKey = tuple[str, str]


def read_law(folder: Folder) -> Mapping[LawKey, LawRow]:
    """law.csv, by state and code; empty where the table is absent."""
    rows: dict[LawKey, LawRow] = {}
    for row in folder.table("law.csv", _COLUMNS, required=False):
        code = folder.code(row, "code")
        folder.once(row, row.text("state"), code)
        sources = folder.keys(row)
        status: LawStatus = choice(row, "status", _OURS)
        if status == "read" and not sources:
            raise Refused(
                "read, without a source",
                where=row.where("sources"),
                rule="A row of the law that was read names what was read.",
                step="Name the source, or call the row recalled.",
            )
        found = _law(row, code, sources, status)
        rows[found.state, code] = found
    return MappingProxyType(rows)


def read_nesting(folder: Folder) -> Mapping[str, Nesting]:
    """nesting.csv, by state; empty where the table is absent."""
    rows: dict[str, Nesting] = {}
    for row in folder.table("nesting.csv", _NESTING_COLUMNS, required=False):
        state = _state(row)
        folder.once(row, state)
        first, last = month_day(row, "first"), month_day(row, "last")
        if first > last:
            raise Refused(
                f"first {row.text('first')} after last {row.text('last')}",
                where=row.where("first"),
                rule="A nesting season lies within one year.",
                step="Correct the row.",
            )
        rows[state] = Nesting(state, first, last, folder.keys(row), row.text("note", ""))
    return MappingProxyType(rows)


def replace_law(flora: Flora, path: Path) -> Flora:
    """The flora with the rows of an office's own law table in place of those of the same state and taxon.

    Columns state, code, listed, checked; class, tell, how_soon, must, transport, note where known. The hash of the
    tables changes with the file, so that a reading can say on what it stood.

    Raises
    ------
    Refused
        At the first fault, naming file, line, rule and next step.
    """
    table = read_csv(path)
    table.need(_OFFICE_COLUMNS)
    rows: dict[LawKey, LawRow] = {}
    for row in table:
        code = flora.taxon(row.text("code"), where=row.where("code")).code
        found = _law(row, code, (), "office")
        if (found.state, code) in rows:
            raise Refused(
                f"{found.state} / {code} again",
                where=row.where(),
                rule="One row a state and taxon.",
                step="Merge the two or drop one.",
            )
        rows[found.state, code] = found
    digest = hashlib.sha256(f"{flora.tables_hash}\0law\0".encode() + path.read_bytes()).hexdigest()
    return replace(flora, law=MappingProxyType({**flora.law, **rows}), tables_hash=digest)


def _law(row: Row, code: str, sources: tuple[str, ...], status: LawStatus) -> LawRow:
    return LawRow(
        state=_state(row),
        code=code,
        listed=choice(row, "listed", LISTED),
        class_words=row.text("class", ""),
        tell=row.text("tell", ""),
        how_soon=row.text("how_soon", ""),
        must=row.text("must", ""),
        transport=row.text("transport", ""),
        checked=row.day("checked"),
        sources=sources,
        status=status,
        note=row.text("note", ""),
    )


def _state(row: Row) -> str:
    state = row.text("state")
    if len(state) != 2 or not state.isalpha() or not state.isupper():
        raise Refused(
            f"state {state!r}",
            where=row.where("state"),
            rule="A state is written with its two capital letters.",
            step="Correct the cell.",
        )
    return state


def month_day(row: Row, column: str) -> tuple[int, int]:
    """A day of any year, written 05-15."""
    text = row.text(column)
    try:
        day = date.fromisoformat(f"{_LEAP}-{text}")
    except ValueError:
        raise Refused(
            f"{text!r}",
            where=row.where(column),
            rule="A day of the year is written MM-DD, such as 05-15.",
            step="Correct the cell.",
        ) from None
    return day.month, day.day
