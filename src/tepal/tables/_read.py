"""Delimited text to rows that know their line, so that every refusal can name it."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from tepal.tables._dates import parse_date
from tepal.tables._file import read_bytes
from tepal.tables._refused import Refused, Where

_DELIMITERS = ",;\t"
# A county's largest honest table (a million counts) stays far below; a file above it is a mistake or an attack.
MAX_BYTES = 200_000_000


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table: cells by column name, and where it stands."""

    cells: Mapping[str, str]
    file: str
    line: int

    def where(self, column: str | None = None) -> Where:
        return Where(self.file, self.line, column)

    def text(self, column: str, default: str | None = None) -> str:
        """The trimmed cell; `default` where it is empty or the column absent.

        Raises
        ------
        Refused
            If the cell is empty and there is no default.
        """
        value = self.cells.get(column, "").strip()
        if value:
            return value
        if default is None:
            raise Refused(
                "an empty cell", where=self.where(column), rule=f"{column} must be given.", step="Fill it in."
            )
        return default

    def number(
        self, column: str, *, low: float = -math.inf, high: float = math.inf, default: float | None = None
    ) -> float:
        """The cell as a finite number within [low, high].

        Raises
        ------
        Refused
            If it is empty without a default, no number, not finite, or outside the range.
        """
        raw = self.cells.get(column, "").strip()
        if not raw and default is not None:
            return default
        raw = self.text(column)
        try:
            value = float(raw)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            raise Refused(
                f"{raw!r} is no number",
                where=self.where(column),
                rule=f"{column} is a number with a decimal point and no thousands mark.",
                step="Correct the cell.",
            )
        if not low <= value <= high:
            raise Refused(
                f"{column} is {raw}",
                where=self.where(column),
                rule=f"It must lie between {low:g} and {high:g}.",
                step="Correct the cell.",
            )
        return value

    def optional_number(self, column: str, *, low: float = -math.inf, high: float = math.inf) -> float | None:
        """The cell as a number, or None where it is empty or the column absent."""
        return self.number(column, low=low, high=high) if self.cells.get(column, "").strip() else None

    def day(self, column: str) -> date:
        """The cell as an ISO date."""
        return parse_date(self.text(column), self.where(column))

    def items(self, column: str, separator: str = ";") -> tuple[str, ...]:
        """The cell as a list; empty where the cell is."""
        return tuple(part.strip() for part in self.cells.get(column, "").split(separator) if part.strip())


@dataclass(frozen=True, slots=True)
class Table:
    """A table as read: its columns in order, its rows, its file name."""

    file: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...] = field(repr=False)

    def __iter__(self) -> Iterator[Row]:
        return iter(self.rows)

    def __len__(self) -> int:
        return len(self.rows)

    def need(self, columns: Sequence[str]) -> None:
        """Refuse the table unless it has all of `columns`."""
        missing = [name for name in columns if name not in self.columns]
        if missing:
            raise Refused(
                f"no column {', '.join(missing)}",
                where=Where(self.file, 1),
                rule=f"The table needs {', '.join(columns)}; it has {', '.join(self.columns) or 'nothing'}.",
                step="Name the columns so in the first line.",
            )


def read_csv(path: Path | str, *, name: str | None = None) -> Table:
    """Read a delimited text file: UTF-8 (with or without a mark), else the encoding that the bytes show.

    Comma, semicolon or tab is found from the header line. Quotes as in RFC 4180.

    Raises
    ------
    Refused
        If the file is missing, empty, too large, binary, or a row has more or fewer cells than the header.
    """
    path = Path(path)
    shown = name or path.name
    raw = read_bytes(path, most=MAX_BYTES, name=shown)
    return read_csv_text(_decode(raw, shown), name=shown)


def read_csv_text(text: str, *, name: str) -> Table:
    """Read delimited text that is already decoded; `name` is what refusals call it."""
    if not text.strip():
        raise Refused("nothing in it", where=name, rule="A table has a header line.", step="Check the export.")
    header = text.lstrip("\n").split("\n", 1)[0]
    delimiter = max(_DELIMITERS, key=header.count)
    # newline="" lets the csv module see the line ends inside quotes, so that line numbers stay true.
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    columns: tuple[str, ...] = ()
    lines: list[tuple[int, list[str]]] = []
    start = first = 1
    try:
        for cells in reader:
            line, start = start, reader.line_num + 1
            if not any(cell.strip() for cell in cells):
                continue
            if not columns:
                columns, first = tuple(cell.strip() for cell in cells), line
                _check_header(columns, name, line)
                continue
            if len(cells) > len(columns) == 1:
                raise _title(columns, name, first)
            if len(cells) != len(columns):
                raise Refused(
                    f"{len(cells)} cells",
                    where=Where(name, line),
                    rule=f"The header has {len(columns)} columns.",
                    step="Look for a torn line or a stray separator.",
                )
            lines.append((line, cells))
    except csv.Error as problem:
        raise Refused(
            f"torn text: {problem}",
            where=Where(name, start),
            rule="Quotes must close and cells may have 131072 signs.",
            step="Look for an open quote.",
        ) from None
    return _table(name, columns, lines)


def _table(name: str, columns: tuple[str, ...], lines: list[tuple[int, list[str]]]) -> Table:
    """The table; a column without a name and with nothing in it is left out: spreadsheets write them at their edge."""
    blank = [n for n, column in enumerate(columns) if not column]
    filled = {n: line for line, cells in reversed(lines) for n in blank if cells[n].strip()}
    if len(filled) > 1:
        raise Refused(
            f"{len(filled)} columns without a name",
            where=Where(name, min(filled.values())),
            rule="Each column has its own name.",
            step="Name them in the first line, or empty them.",
        )
    used = [n for n in range(len(columns)) if columns[n] or n in filled]
    kept = tuple(columns[n] for n in used)
    rows = (Row(dict(zip(kept, (cells[n] for n in used), strict=True)), name, line) for line, cells in lines)
    return Table(name, kept, tuple(rows))


def _title(columns: tuple[str, ...], name: str, line: int) -> Refused:
    said = next(filter(None, columns))
    return Refused(
        f"one cell {said[:60]!r} where the names of the columns should be",
        where=Where(name, line),
        rule="The first line of a table names its columns.",
        step="If it is a title, delete the lines above the names of the columns.",
    )


def _check_header(columns: tuple[str, ...], name: str, line: int) -> None:
    if len(columns) > 1 and columns[0] and not any(columns[1:]):
        raise _title(columns, name, line)
    doubles = sorted({column for column in columns if column and columns.count(column) > 1})
    if doubles:
        raise Refused(
            f"column {doubles[0]!r} twice",
            where=Where(name, line),
            rule="Each column has its own name.",
            step="Rename or drop one.",
        )


def _decode(raw: bytes, name: str) -> str:
    if b"\x00" in raw and not raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise Refused("a NUL byte", where=name, rule="A table is text.", step="Export it as CSV, not as a workbook.")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        pass
    # Imported late: the common case never needs it and it costs start-up time.
    from charset_normalizer import from_bytes

    best = from_bytes(raw).best()
    if best is None:
        raise Refused("unknown encoding", where=name, rule="A table is text.", step="Export it as UTF-8.")
    return str(best)
