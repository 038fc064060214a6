"""Treatments from a table: what was done, when, with what."""

from __future__ import annotations

import math
import re
from datetime import date, datetime, time, timedelta
from typing import Any

from tepal.ledger._values import LATEST_ZONE
from tepal.ledger.formats._columns import Understood, Wanted, understand
from tepal.ledger.formats._drafts import (
    BY,
    DATE,
    ENTRY,
    SITE,
    WORDS,
    Defaults,
    Draft,
    TableDrafts,
    entry_shown,
    head,
    need_site,
    one_of,
    present,
    yes_no,
)
from tepal.tables import Refused, Row, Table, parse_date

WHAT = Wanted(
    "what", "what was done", ("what", "what was done", "done", "action", "treatment", "operation", "practice")
)
INGREDIENT = Wanted(
    "ingredient",
    "active ingredients",
    ("ingredient", "ingredients", "active ingredient", "active ingredients", "ai", "herbicide", "herbicides"),
)
TREATMENT_COLUMNS = (
    ENTRY,
    DATE,
    SITE,
    BY,
    WHAT,
    INGREDIENT,
    Wanted("rate", "rate", ("rate",)),
    Wanted("unit", "unit of the rate", ("unit", "rate unit", "units")),
    Wanted("group", "site of action group", ("group", "groups", "site of action", "wssa group", "hrac group")),
    Wanted("volume_l_ha", "spray volume", ("volume", "spray volume", "carrier", "carrier volume", "water"), "l_ha"),
    Wanted("nozzle", "nozzle", ("nozzle", "nozzles", "nozzle type", "droplet size")),
    Wanted("adjuvant", "adjuvant", ("adjuvant", "adjuvants", "surfactant", "additive", "additives")),
    Wanted("tallest_cm", "tallest weed", ("tallest", "tallest weed", "weed height", "height"), "cm"),
    Wanted("weather", "weather", ("weather", "conditions")),
    Wanted("cut_height_cm", "height of cut", ("cut height", "cutting height", "height of cut", "mowing height"), "cm"),
    Wanted("share", "share of the plants reached", ("share", "share reached", "reached", "covered"), "share", True),
    Wanted("plants", "plants dealt with", ("plants", "plants dealt with", "number pulled", "count")),
    Wanted("hours", "hours of work", ("hours", "work", "time", "labor", "labour"), "h", True),
    Wanted("people", "people at work", ("people", "crew", "workers", "crew size")),
    Wanted("re_entry_until", "no entry before", ("re entry until", "no entry before", "reentry until")),
    Wanted("re_entry", "re-entry time", ("re entry", "reentry", "rei", "re entry interval", "reentry interval"), "h"),
    Wanted("pre_harvest_until", "no harvest before", ("pre harvest until", "no harvest before")),
    Wanted("survivors", "alive afterwards", ("survivors", "survivors seen", "alive afterwards")),
    WORDS,
)
_DONE = {
    word: what
    for what, words in {
        "sprayed": ("sprayed", "spray", "spraying", "herbicide", "application", "applied"),
        "pulled": ("pulled", "pull", "pulling", "hand pulled", "hand pulling", "hoed", "hand weeded", "rogued"),
        "cut": ("cut", "cutting", "hand cut", "chopped"),
        "bagged": ("bagged", "bag", "bagging", "pulled and bagged"),
        "mowed": ("mowed", "mow", "mowing", "mown"),
        "cultivated": ("cultivated", "cultivate", "cultivation", "tilled", "tillage"),
        "harvested": ("harvested", "harvest", "combined", "harvesting"),
        "other": ("other",),
    }.items()
    for word in words
}
_APART = re.compile(r"\s*[;+&]\s*")


def is_treatments(columns: Understood) -> bool:
    """Does a table look like treatments?"""
    return "what" in columns or "ingredient" in columns


def treatments_from_table(table: Table, defaults: Defaults) -> TableDrafts:
    """One thing done a row; several ingredients stand in one cell, apart by ``;`` or ``+``, and so do their groups."""
    columns = understand(table, TREATMENT_COLUMNS)
    out = TableDrafts("treatments", [], [], list(columns.said()))
    for row in table:
        try:
            out.drafts.append(_done(columns, row, defaults))
        except Refused as problem:
            out.refused.append(problem)
    return out


def _done(columns: Understood, row: Row, defaults: Defaults) -> Draft:
    site, by, on = head(columns, row, defaults)
    need_site(site, columns, row)
    ingredients = _ingredients(columns, row)
    what = one_of(columns, row, "what", _DONE) or ("sprayed" if ingredients else None)
    if what is None:
        raise Refused("nothing done", where=columns.where(row, "what"), rule="Each row says what.", step="Fill it in.")
    until = columns.text(row, "pre_harvest_until")
    body = present(
        on=on,
        what=what,
        ingredients=ingredients or None,
        volume_l_ha=columns.number(row, "volume_l_ha", low=1e-3, high=1e5),
        nozzle=columns.text(row, "nozzle"),
        adjuvant=columns.text(row, "adjuvant"),
        tallest_cm=columns.number(row, "tallest_cm", low=0, high=500),
        weather=columns.text(row, "weather"),
        cut_height_cm=columns.number(row, "cut_height_cm", low=0, high=500),
        share=columns.number(row, "share", low=0, high=1),
        plants=columns.count(row, "plants"),
        hours=columns.number(row, "hours", low=0, high=1e5),
        people=columns.count(row, "people", most=10_000),
        re_entry_until=_re_entry(columns, row, on),
        pre_harvest_until=parse_date(until, columns.where(row, "pre_harvest_until")) if until else None,
        survivors=yes_no(columns, row, "survivors"),
        words=columns.text(row, "words"),
    )
    return Draft("done", site, by, on, body, row.where(), entry_shown(columns, row))


def _ingredients(columns: Understood, row: Row) -> list[dict[str, Any]]:
    names = [name for name in _APART.split(columns.text(row, "ingredient") or "") if name]
    groups = [group for group in _APART.split(columns.text(row, "group") or "") if group]
    rates = [rate for rate in _APART.split(columns.text(row, "rate") or "") if rate]
    units = [unit for unit in _APART.split(columns.text(row, "unit") or "") if unit]
    if groups and len(groups) != len(names):
        raise Refused(
            f"{len(groups)} groups for {len(names)} ingredients",
            where=columns.where(row, "group"),
            rule="Each ingredient has its group, in the same order.",
            step="Correct the row.",
        )
    if rates and len(rates) != len(names):
        raise Refused(
            f"{len(rates)} rates for {len(names)} ingredients",
            where=columns.where(row, "rate"),
            rule="Each ingredient has its rate, in the same order, apart by ; or +.",
            step="Correct the row, or write one row an ingredient.",
        )
    if len(units) > 1 and len(units) != len(names):
        raise Refused(
            f"{len(units)} units for {len(names)} ingredients",
            where=columns.where(row, "unit"),
            rule="There is one unit for all rates, or one for each.",
            step="Correct the row.",
        )
    each = units if len(units) == len(names) else units * len(names)
    return [
        present(
            name=name,
            rate=_rate(columns, row, rates[i]) if rates else None,
            unit=each[i] if each else None,
            group=groups[i] if groups else None,
        )
        for i, name in enumerate(names)
    ]


def _rate(columns: Understood, row: Row, text: str) -> float:
    try:
        rate = float(text)
    except ValueError:
        rate = math.nan
    if not 1e-9 <= rate <= 1e6:
        raise Refused(
            f"rate {text!r}",
            where=columns.where(row, "rate"),
            rule="A rate is a number above 0, its unit in the column for units.",
            step="Correct the cell.",
        )
    return rate


def _re_entry(columns: Understood, row: Row, on: date) -> datetime | None:
    raw = columns.text(row, "re_entry_until")
    if raw is not None:
        try:
            until = datetime.fromisoformat(raw)
        except ValueError:
            raise Refused(
                f"{raw!r}",
                where=columns.where(row, "re_entry_until"),
                rule="A moment is written 2026-06-14T09:30:00-05:00.",
                step="Correct the cell.",
            ) from None
        return until if until.tzinfo else until.replace(tzinfo=LATEST_ZONE)
    hours = columns.number(row, "re_entry", low=0, high=10_000)
    if hours is None:
        return None
    # The hour of spraying is not in the table: counted from the end of that day, so that nobody is sent in too early.
    return datetime.combine(on + timedelta(days=1), time(0), LATEST_ZONE) + timedelta(hours=hours)
