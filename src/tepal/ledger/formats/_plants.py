"""Plants with looks from a table: one plant a row, one column a character."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from typing import Any, get_args

from tepal.ledger._values import Stage
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
    LookForm,
    TableDrafts,
    Vocabulary,
    entry_shown,
    head,
    in_us,
    one_of,
    place,
    present,
    yes_no,
)
from tepal.ledger.formats._units import UNITS
from tepal.tables import Refused, Row, Table, near

_STAGE = Wanted("stage", "growth stage", ("stage", "growth stage", "plant stage"))
_HEIGHT = Wanted("height_cm", "height", ("height", "plant height", "tall"), "cm")
_FLOWERING = Wanted("flowering", "in flower", ("flowering", "in flower", "flowers"))
_SEED = Wanted("seed_dark", "dark seed", ("seed dark", "dark seed"))
_COUNT = Wanted("count", "how many such plants", ("count", "how many", "n"))
_SEEN = Wanted("seen_by", "seen by eye or on a photo", ("seen by", "seen on"))
PLANT_COLUMNS = (
    ENTRY,
    DATE,
    SITE,
    BY,
    LON,
    LAT,
    PLACE,
    ERROR,
    _STAGE,
    _HEIGHT,
    _FLOWERING,
    _SEED,
    _COUNT,
    _SEEN,
    WORDS,
)
_STAGES = {words_of(stage): stage for stage in get_args(Stage)} | {
    "seedling": "seedling_2-4_leaf",
    "flowering": "reproductive",
    "mature": "mature_seed",
}
_SEVERAL = re.compile(r"[;|]")


def look_columns(words: Vocabulary) -> tuple[Wanted, ...]:
    """The characters that a table could have columns for."""
    return tuple(
        Wanted(
            form.name,
            form.name,
            (words_of(form.name),),
            None if form.states or form.unit not in UNITS else form.unit,
            True,
        )
        for form in words.looks.values()
    )


def plants_from_table(table: Table, words: Vocabulary, defaults: Defaults) -> TableDrafts:
    """One plant a row; a cell with several leaves has them apart by ``;`` or ``|``; an empty cell was not looked at."""
    wanted = (*PLANT_COLUMNS, *look_columns(words))
    columns = understand(table, wanted)
    columns = columns.dated("date", in_us=in_us(columns, defaults))
    out = TableDrafts("plants with looks", [], [], [*columns.said(kept=True), *_hints(columns, words)])
    for row in table:
        try:
            out.drafts.append(_plant(columns, row, words, defaults))
        except Refused as problem:
            out.refused.append(problem)
    return out


def near_looks(headers: Iterable[str], words: Vocabulary) -> dict[str, list[str]]:
    """Header → the characters that it may mean, of headers that nothing was made of."""
    found = {}
    for header in headers:
        plain = words_of(header)
        starts = [name for name in words.looks if len(plain) > 4 and words_of(name).startswith(plain)]
        one = near(plain, words.looks)
        if meant := starts or ([one] if one else []):
            found[header] = meant
    return found


def _hints(columns: Understood, words: Vocabulary) -> list[str]:
    return [
        f"column '{header}' may mean {' or '.join(meant)}; name it so if it does"
        for header, meant in near_looks(columns.rest, words).items()
    ]


def _plant(columns: Understood, row: Row, words: Vocabulary, defaults: Defaults) -> Draft:
    site, by, on = head(columns, row, defaults)
    looks: dict[str, Any] = {}
    for name, form in words.looks.items():
        raw = columns.text(row, name)
        if raw is not None:
            parts = [part for part in _SEVERAL.split(raw) if part.strip()]
            values = [_look(columns, row, form, part) for part in parts]
            looks[name] = values[0] if len(values) == 1 else values
    body = present(
        on=on,
        at=place(columns, row),
        error_m=columns.number(row, "error_m", low=1e-3, high=1e5),
        stage=one_of(columns, row, "stage", _STAGES) or "unknown",
        looks=looks,
        height_cm=columns.number(row, "height_cm", low=0, high=500),
        flowering=yes_no(columns, row, "flowering"),
        seed_dark=yes_no(columns, row, "seed_dark"),
        count=columns.count(row, "count"),
        seen_by=one_of(columns, row, "seen_by", {"eye": "eye", "photo": "photo"}),
        words=columns.text(row, "words"),
    )
    return Draft("plant", site, by, on, body, row.where(), columns.kept(row), entry_shown(columns, row))


def _look(columns: Understood, row: Row, form: LookForm, part: str) -> str | float:
    said = words_of(part)
    if said == "cannot tell":
        return "cannot_tell"
    where = columns.where(row, form.name)
    if not form.states:
        header = columns.columns[form.name].header
        value = columns.number(Row({header: part}, row.file, row.line), form.name, low=0, high=1e6)
        if value is None or not math.isfinite(value):
            raise Refused(
                f"{part.strip()!r} is no number", where=where, rule=f"{form.name} is one.", step="Correct it."
            )
        return value
    states = {words_of(state): state for state in form.states}
    if {"present", "absent"} == set(form.states):
        states |= {"yes": "present", "no": "absent"}
    state = states.get(said)
    if state is None:
        raise Refused(
            f"{form.name} is {part.strip()!r}",
            where=where,
            rule=f"It is one of {', '.join(form.states)}, or cannot_tell.",
            step="Correct the cell, or leave it empty where nobody looked.",
        )
    return state
