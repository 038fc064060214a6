"""Columns as people name them, matched to what is wanted; and cells read in the unit that header or cell gives."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from tepal.ledger.formats._days import Order, order_of, read_day
from tepal.ledger.formats._units import UNITS, Unit
from tepal.tables import Refused, Row, Table, Where

MISSING = frozenset({"", "na", "n/a", "nan", "null", "none", "-", ".", "m", "-9999", "-9999.0", "-999", "-999.0"})
_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*\Z")
_CONTROL = re.compile(r"[\x00-\x1f\x7f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
_UNITS_ALONE = frozenset({"m2", "share", "l_ha"})


@dataclass(frozen=True, slots=True)
class Wanted:
    """A column that a format can use: `names` as people write it (words in small letters), `unit` one of `UNITS`.

    `plain` says that a bare number is in `unit`; otherwise header or cell must say the unit.
    """

    key: str
    says: str
    names: tuple[str, ...]
    unit: str | None = None
    plain: bool = False


@dataclass(frozen=True, slots=True)
class Column:
    """A wanted column as found: its header, and the unit that the header gives (None: the cells must)."""

    wanted: Wanted
    header: str
    unit: Unit | None


@dataclass(frozen=True, slots=True)
class Understood:
    """The columns of one table as understood; `rest` are the headers that nothing was made of."""

    table: Table
    columns: Mapping[str, Column]
    rest: tuple[str, ...]
    orders: Mapping[str, Order] = field(default_factory=dict)
    """Of columns of days: does the month or the day come first?"""
    decided: tuple[str, ...] = ()

    def __contains__(self, key: str) -> bool:
        return key in self.columns

    def said(self, *, kept: bool = False) -> tuple[str, ...]:
        """One sentence for each column that was not simply named as we name it; `kept`: the rest is kept as words."""
        out = []
        for key, column in self.columns.items():
            unit = f" in {column.unit.says}" if column.unit else ""
            if words_of(column.header) not in {words_of(key), column.wanted.says}:
                out.append(f"column '{column.header}' read as {column.wanted.says}{unit}")
        if self.rest:
            named = ", ".join(f"'{header}'" for header in self.rest)
            out.append(f"nothing was made of {named}: kept as words" if kept else f"not used: {named}")
        return (*out, *self.decided)

    def need(self, *keys: str, wanted: Sequence[Wanted]) -> None:
        """Refuse the table unless each of `keys` was found."""
        says = {w.key: w for w in wanted}
        missing = [says[key] for key in keys if key not in self.columns]
        if missing:
            raise Refused(
                "no column for " + ", ".join(w.says for w in missing),
                where=Where(self.table.file, 1),
                rule=f"The columns are {', '.join(self.table.columns)}.",
                step="Name it " + ", ".join(w.key for w in missing) + " in the first line.",
            )

    def text(self, row: Row, key: str) -> str | None:
        """The trimmed cell; None where it is empty or the column absent."""
        column = self.columns.get(key)
        return row.cells[column.header].strip() or None if column else None

    def day(self, row: Row, key: str) -> date | None:
        """The cell as a day; None where it is empty.

        Raises
        ------
        Refused
            If it is no day, or could be two and the column does not say which.
        """
        text = self.text(row, key)
        return None if text is None else read_day(text, self.where(row, key), self.orders.get(key))

    def kept(self, row: Row) -> str | None:
        """What stands in the columns that nothing was made of: `Header: cell` a line."""
        found = ((header, " ".join(row.cells[header].split())) for header in self.rest)
        lines = [f"{header}: {_CONTROL.sub('', text)[:500]}" for header, text in found if text]
        return "\n".join(lines)[:5000] or None

    def dated(self, *keys: str, in_us: bool) -> Understood:
        """The same with its columns of days decided.

        Raises
        ------
        Refused
            If days of one column contradict each other.
        """
        orders, said = {}, []
        for key in keys:
            if key in self.columns:
                header = self.columns[key].header
                cells = ((row.cells[header], row.where(header)) for row in self.table)
                order, sentence = order_of(cells, in_us=in_us)
                if order is not None and sentence is not None:
                    orders[key] = order
                    said.append(f"column '{header}': {sentence}")
        return replace(self, orders=orders, decided=tuple(said))

    def where(self, row: Row, key: str) -> Where:
        column = self.columns.get(key)
        return row.where(column.header if column else key)

    def number(self, row: Row, key: str, *, low: float = -math.inf, high: float = math.inf) -> float | None:
        """The cell in our unit; None where it is empty or says that nothing was measured.

        Raises
        ------
        Refused
            If it is no number, its unit is unknown or nowhere said, or it lies outside [low, high] (in our unit).
        """
        column = self.columns.get(key)
        if column is None:
            return None
        raw = row.cells[column.header]
        if raw.strip().casefold() in MISSING:
            return None
        value = _value(raw, column, row)
        if not (math.isfinite(value) and low <= value <= high):
            ours = f" {column.wanted.unit}" if column.wanted.unit else ""
            raise Refused(
                f"{column.wanted.says} is {raw.strip()}",
                where=row.where(column.header),
                rule=f"It must lie between {low:.10g} and {high:.10g}{ours}.",
                step="Correct the cell.",
            )
        # 15 figures: 12 in are 30.48 cm, not 30.479999999999997.
        return float(f"{value:.15g}")

    def count(self, row: Row, key: str, *, most: int = 10_000_000) -> int | None:
        """The cell as a whole number from 0 up."""
        value = self.number(row, key, low=0, high=most)
        if value is None:
            return None
        if value != int(value):
            column = self.columns[key]
            raise Refused(
                f"{column.wanted.says} is {row.cells[column.header].strip()}",
                where=row.where(column.header),
                rule="It is a whole number.",
                step="Correct the cell.",
            )
        return int(value)


def understand(table: Table, wanted: Sequence[Wanted]) -> Understood:
    """Match the headers of a table to what is wanted, by name and unit.

    Raises
    ------
    Refused
        If two headers mean the same.
    """
    found: dict[str, Column] = {}
    rest = []
    for header in table.columns:
        column = _match(header, wanted)
        if column is None:
            rest.append(header)
            continue
        old = found.get(column.wanted.key)
        if old is not None:
            raise Refused(
                f"columns {old.header!r} and {header!r} both mean {column.wanted.says}",
                where=Where(table.file, 1),
                rule="One column says one thing.",
                step="Drop or rename one of them.",
            )
        found[column.wanted.key] = column
    # In the order in which they are wanted: what is said is the same however the table is laid out.
    ordered = {w.key: found[w.key] for w in wanted if w.key in found}
    return Understood(table, ordered, tuple(rest))


def words_of(header: str) -> str:
    """A header as plain words: 'Row_Length(ft)' becomes 'row length ft'."""
    apart = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", header)
    return " ".join(re.sub(r"[\s_\-.,:()\[\]]+", " ", apart).casefold().split())


def _match(header: str, wanted: Sequence[Wanted]) -> Column | None:
    words = words_of(header)
    for want in wanted:
        if words in (want.key, words_of(want.key)):
            # Our own names carry our own units (tmin_c), or none.
            units = UNITS.get(want.unit or "", {})
            carried = bool(want.unit) and words_of(want.key).rsplit(" ", 1)[-1] in units
            return Column(want, header, Unit(*_ours(want.unit)) if want.unit and carried else None)
    for want in wanted:
        units = UNITS.get(want.unit or "", {})
        for name in want.names:
            if words == name:
                return Column(want, header, None)
            tail = words[len(name) + 1 :] if words.startswith(name + " ") else ""
            if tail in units:
                return Column(want, header, units[tail])
        if want.unit in _UNITS_ALONE and words in units:
            return Column(want, header, units[words])
    return None


def _ours(unit: str) -> tuple[str, float]:
    return next((u.says, u.factor) for u in UNITS[unit].values() if u.factor == 1.0)


def _value(raw: str, column: Column, row: Row) -> float:
    """The number of a cell in our unit."""
    unit = column.unit
    try:
        # Nearly every cell of a large file is a bare number in the header's unit.
        value = math.nan if "_" in raw else float(raw)
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or (unit is None and column.wanted.unit is not None and not column.wanted.plain):
        found = _NUMBER.match(raw)
        if found is None:
            raise Refused(
                f"{raw.strip()!r} is no number",
                where=row.where(column.header),
                rule=f"{column.wanted.says.capitalize()} is a number with a decimal point and no thousands mark.",
                step="Correct the cell.",
            )
        if found[2] and column.wanted.unit is None:
            raise Refused(
                f"{raw.strip()!r}: {found[2]!r} after the number",
                where=row.where(column.header),
                rule="Only a number with a decimal point is meant here.",
                step="Correct the cell.",
            )
        value, unit = float(found[1]), _unit_of_cell(found[2], column, row.where(column.header))
    return value if unit is None else value * unit.factor + unit.offset


def _unit_of_cell(text: str, column: Column, where: Where) -> Unit | None:
    if column.wanted.unit is None:
        return None
    units = UNITS[column.wanted.unit]
    if text:
        unit = units.get(text.casefold())
        if unit is None:
            known = dict.fromkeys(u.says for u in units.values())
            raise Refused(
                f"unit {text!r} was not understood",
                where=where,
                rule=f"{column.wanted.says.capitalize()} can be in {', '.join(known)}.",
                step="Correct the cell.",
            )
        return unit
    if column.unit is None and not column.wanted.plain:
        short = next(iter(units))
        raise Refused(
            f"{column.wanted.says} without a unit",
            where=where,
            rule="The header or the cell says the unit; a foot is not guessed from a metre.",
            step=f"Name the column '{column.header} ({short})' or whatever unit it is in.",
        )
    return column.unit
