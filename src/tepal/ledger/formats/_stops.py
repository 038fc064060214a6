"""Stops with counts from a table: one count a row, or one column a taxon."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from typing import Any, get_args

from tepal.ledger._bodies import SizeClass
from tepal.ledger.formats._columns import Understood, Wanted, understand, words_of
from tepal.ledger.formats._drafts import (
    BY,
    DATE,
    ENTRY,
    ERROR,
    LAT,
    LON,
    PLACE,
    SITE,
    WORDS,
    Defaults,
    Draft,
    TableDrafts,
    Vocabulary,
    entry_shown,
    head,
    in_us,
    need_site,
    one_of,
    place,
    present,
)
from tepal.ledger.formats._places import AREA, COUNT, ROW, ROW_WIDTH
from tepal.tables import Refused, Row, Table, Where

_TAXON = Wanted("taxon", "taxon", ("taxon", "species", "weed", "plant", "name", "weed name", "species code", "code"))
_SIZE = Wanted("size", "size class", ("size", "size class", "class"))
_TALLEST = Wanted(
    "tallest_cm", "tallest plant", ("tallest", "tallest plant", "height", "max height", "plant height"), "cm"
)
_STOP = Wanted("stop", "stop", ("stop", "stop id", "stop no", "stop number", "quadrat id", "id", "point", "point id"))
_HEAD = (ENTRY, DATE, SITE, BY, _STOP, LON, LAT, PLACE, ERROR)
STOP_COLUMNS = (*_HEAD, AREA, ROW, ROW_WIDTH, _TAXON, _SIZE, COUNT, _TALLEST, WORDS)
_SIZES = {words_of(size): size for size in get_args(SizeClass)} | {"seedlings": "seedling"}
_COUNTED = re.compile(
    r"(?:^(?:count|number|n|no|#|num)(?:\s+of)?\s+)|(?:\s+(?:count|counts|plants|number|n|no|#|ct|found|seen)$)"
)


def taxon_columns(columns: Understood, words: Vocabulary) -> dict[str, str]:
    """Header → code of the columns that hold the counts of one taxon."""
    found = {header: words.code(_COUNTED.sub("", words_of(header))) for header in columns.rest}
    return {header: code for header, code in found.items() if code is not None}


def stops_from_table(table: Table, words: Vocabulary, defaults: Defaults) -> TableDrafts:
    """One stop a row; rows of one site and day with the same label in a `stop` column are one stop together.

    A stop of which one row is refused is refused as a whole: half its counts would be a wrong count.
    """
    columns = understand(table, STOP_COLUMNS)
    wide = taxon_columns(columns, words)
    if wide:
        # Read once more with the taxon columns known, so that what is said of them is what is done with them.
        more = tuple(
            Wanted(f"count of {header}", f"count of {code}", (words_of(header),)) for header, code in wide.items()
        )
        columns = understand(table, (*STOP_COLUMNS, *more))
        _no_counts_left(columns)
    if not wide:
        columns.need("count", wanted=STOP_COLUMNS)
    try:
        columns = columns.dated("date", in_us=in_us(columns, defaults))
    except Refused as problem:
        # Nothing can be taken before the days are put right; what else is wrong is told along with them.
        beside = _wrong_beside_the_days(columns, wide, words, defaults)
        return TableDrafts("stops with counts", [], [problem, *beside], list(columns.said(kept=True)))
    drafts: dict[object, Draft] = {}
    refused: list[Refused] = []
    torn: set[object] = set()
    for row in table:
        label = columns.text(row, "stop") or entry_shown(columns, row)
        key: object = row.line if label is None else (columns.text(row, "site"), columns.text(row, "date"), label)
        try:
            draft = _stop(columns, row, wide, words, defaults)
            drafts[key] = _joined(drafts[key], draft) if key in drafts else draft
        except Refused as problem:
            refused.append(problem)
            torn.add(key)
    return TableDrafts(
        "stops with counts", [d for k, d in drafts.items() if k not in torn], refused, list(columns.said(kept=True))
    )


def _wrong_beside_the_days(
    columns: Understood, wide: dict[str, str], words: Vocabulary, defaults: Defaults
) -> list[Refused]:
    """What is wrong with the rows of a table whose days contradict each other, the days themselves apart."""
    days = columns.columns["date"].header
    undated = replace(columns, columns={key: one for key, one in columns.columns.items() if key != "date"})
    anyday = replace(defaults, on=date.min)
    refused = []
    for row in columns.table:
        try:
            _stop(undated, row, wide, words, anyday)
        except Refused as problem:
            if problem.where.column != days:
                refused.append(problem)
    return refused


def _no_counts_left(columns: Understood) -> None:
    """Refuse a table that has a column of counts under two letters, as WH, beside those of taxa: they would be lost."""
    for header in columns.rest:
        cells = [row.cells[header].strip() for row in columns.table]
        if re.fullmatch(r"[A-Z]{2}", header.strip()) and any(cells) and all(re.fullmatch(r"\d*", one) for one in cells):
            raise Refused(
                f"column {header!r} has whole numbers, and {header.strip()} is no taxon that is known",
                where=Where(columns.table.file, 1, header),
                rule="A column of counts is named by the taxon's code or name, as waterhemp or AMATU.",
                step="Name it so; or in full words if it is no count, and it is kept as a remark.",
            )


def _stop(columns: Understood, row: Row, wide: dict[str, str], words: Vocabulary, defaults: Defaults) -> Draft:
    site, by, on = head(columns, row, defaults)
    need_site(site, columns, row)
    area = columns.number(row, "area_m2", low=1e-6, high=1e8)
    body: dict[str, Any] = present(
        on=on,
        at=place(columns, row),
        error_m=columns.number(row, "error_m", low=1e-3, high=1e5),
        area_m2=area,
        row_m=columns.number(row, "row_m", low=1e-3, high=1e5),
        row_cm=columns.number(row, "row_cm", low=1, high=1000),
        words=columns.text(row, "words"),
    )
    body["counts"] = _tallies(columns, row, wide, words)
    return Draft("stop", site, by, on, body, row.where(), columns.kept(row), entry_shown(columns, row))


def _tallies(columns: Understood, row: Row, wide: dict[str, str], words: Vocabulary) -> list[dict[str, Any]]:
    size = one_of(columns, row, "size", _SIZES) or "unknown"
    tallest = columns.number(row, "tallest_cm", low=0, high=500)
    out = []
    for header, code in wide.items():
        count = columns.count(row, f"count of {header}")
        if count is not None:
            # The tallest plant of the stop is of one of the taxa that are there.
            out.append(present(taxon=code, size=size, count=count, tallest_cm=tallest if count else None))
    if "count" in columns:
        count = columns.count(row, "count")
        if count is None and not out:
            raise Refused(
                "no count",
                where=columns.where(row, "count"),
                rule="A stop where nothing was found has a 0.",
                step="Fill it in, or leave the line out.",
            )
        if count is not None and not wide:
            out.append(present(taxon=_taxon(columns, row, words), size=size, count=count, tallest_cm=tallest))
    if not out:
        raise Refused("no count", where=row.where(), rule="A stop has a count, if only a 0.", step="Fill it in.")
    return out


def _taxon(columns: Understood, row: Row, words: Vocabulary) -> str:
    raw = columns.text(row, "taxon")
    if raw is None:
        return "pigweed"
    code = words.code(raw)
    if code is None:
        raise Refused(
            f"taxon {raw!r} was not understood",
            where=columns.where(row, "taxon"),
            rule="A plant is named by its code or name, or pigweed where it was not told apart, or other.",
            step="Correct the cell.",
        )
    return code


def _joined(first: Draft, second: Draft) -> Draft:
    """Two rows of one stop as one."""
    alike = ("at", "area_m2", "row_m", "row_cm")
    for key in alike:
        if first.body.get(key) != second.body.get(key):
            raise Refused(
                f"{key} differs from line {first.where.line}",
                where=second.where,
                rule="Rows with one stop label are one place and one area.",
                step="Correct the label or the row.",
            )
    body = {**first.body, "counts": [*first.body["counts"], *second.body["counts"]]}
    remarks = [text for text in (first.body.get("words"), second.body.get("words")) if text]
    if remarks:
        body["words"] = "\n".join(dict.fromkeys(remarks))
    kept = dict.fromkeys(text for text in (first.kept, second.kept) if text)
    return replace(first, body=body, kept="\n".join(kept) or None)
