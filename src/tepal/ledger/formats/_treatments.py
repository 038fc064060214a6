"""Treatments from a table: what was done, when, with what."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Any

from tepal.ledger._values import LATEST_ZONE
from tepal.ledger.formats._columns import Column, Understood, Wanted, understand, words_of
from tepal.ledger.formats._drafts import (
    BY,
    DATE,
    ENTRY,
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
    present,
    yes_no,
)
from tepal.tables import Refused, Row, Table

WHAT = Wanted(
    "what", "what was done", ("what", "what was done", "done", "action", "treatment", "operation", "practice")
)
INGREDIENT = Wanted(
    "ingredient",
    "active ingredients",
    ("ingredient", "ingredients", "active ingredient", "active ingredients", "ai", "a i"),
)
# What people write there may be an active ingredient or a brand.
HERBICIDE = Wanted("herbicide", "herbicide", ("herbicide", "herbicides", "chemical", "chemicals", "chemistry"))
PRODUCT = Wanted(
    "product",
    "product",
    ("product", "products", "product name", "trade name", "trade names", "brand", "brand name", "product used",
     "products used", "tank mix", "tankmix", "material"),
)  # fmt: skip
RATE = Wanted("rate", "rate", ("rate", "rate applied", "use rate", "application rate"))
TREATMENT_COLUMNS = (
    ENTRY,
    DATE,
    SITE,
    replace(BY, says="who did it or wrote it down"),
    WHAT,
    INGREDIENT,
    HERBICIDE,
    PRODUCT,
    RATE,
    Wanted("unit", "unit of the rate", ("unit", "rate unit", "units")),
    Wanted("group", "site of action group", ("group", "groups", "site of action", "wssa group", "hrac group")),
    Wanted(
        "volume_l_ha",
        "spray volume",
        ("volume", "spray volume", "carrier", "carrier volume", "water", "water volume"),
        "l_ha",
    ),
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
_RATE = re.compile(r"(?P<rate>\d+\.?\d*|\.\d+)\s*(?P<unit>[A-Za-z%][^\d;+&]*)?", re.ASCII)
_RATE_IN = re.compile(
    r"\s*(?:application |use )?rate\s*[\s,(\[_-]\s*(?:in )?(?P<unit>[A-Za-z%][^()\[\]]*?)\s*[)\]]?\s*", re.IGNORECASE
)
_APART = re.compile(r"\s*[;+&]\s*")


def is_treatments(columns: Understood) -> bool:
    """Does a table look like treatments?"""
    return any(key in columns for key in ("what", "ingredient", "herbicide", "product"))


def treatments_from_table(table: Table, words: Vocabulary, defaults: Defaults) -> TableDrafts:
    """One thing done a row; several ingredients stand in one cell, apart by ``;`` or ``+``, and so do their groups.

    A product's name is kept as words: what is in it stands on its label, and labels change.
    """
    columns = understand(table, TREATMENT_COLUMNS)
    headed = next((header for header in columns.rest if _RATE_IN.fullmatch(header)), None)
    if headed is not None and "rate" not in columns:
        rest = tuple(header for header in columns.rest if header != headed)
        columns = replace(columns, columns={**columns.columns, "rate": Column(RATE, headed, None)}, rest=rest)
    days = ("date", "pre_harvest_until")
    columns = columns.dated(*days, in_us=in_us(columns, defaults))
    out = TableDrafts("treatments", [], [], list(columns.said(kept=True)))
    out.said += _products(columns, words)
    for row in table:
        try:
            out.drafts.append(_done(columns, row, words, defaults))
        except Refused as problem:
            out.refused.append(problem)
    return out


def _products(columns: Understood, words: Vocabulary) -> list[str]:
    """What is told of names that are no active ingredients."""
    remedy = "name active ingredients from the label in a column 'active ingredient'"
    said = []
    if "product" in columns:
        header = columns.columns["product"].header
        said.append(f"column '{header}' holds names of products: kept as words; {remedy}")
    if "herbicide" in columns:
        header = columns.columns["herbicide"].header
        cells = dict.fromkeys(text for row in columns.table if (text := columns.text(row, "herbicide")))
        other = [text for text in cells if not _are_ingredients(text, words)]
        if other:
            listed = ", ".join(f"'{text}'" for text in other[:5]) + (", …" if len(other) > 5 else "")
            said.append(f"column '{header}': {listed} taken for names of products and kept as words; {remedy}")
    if "ingredient" in columns and words.ingredients:
        cells = dict.fromkeys(name for row in columns.table for name in _names(columns.text(row, "ingredient")))
        other = [name for name in cells if words_of(name) not in words.ingredients]
        if other:
            listed = ", ".join(f"'{text}'" for text in other[:5]) + (", …" if len(other) > 5 else "")
            said.append(f"not known as active ingredients, kept as they are named: {listed}")
    return said


def _are_ingredients(text: str, words: Vocabulary) -> bool:
    names = _names(text)
    return bool(names) and (not words.ingredients or all(words_of(name) in words.ingredients for name in names))


def _names(text: str | None) -> list[str]:
    return [name for name in _APART.split(text or "") if name]


def _done(columns: Understood, row: Row, words: Vocabulary, defaults: Defaults) -> Draft:
    site, by, on = head(columns, row, defaults)
    need_site(site, columns, row)
    named = columns.text(row, "ingredient")
    herbicide = columns.text(row, "herbicide")
    if herbicide and named is None and _are_ingredients(herbicide, words):
        named, herbicide = herbicide, None
    ingredients = _ingredients(columns, row, _names(named))
    # Without an active ingredient its rate is one of the product, and is kept beside it.
    alone = not ingredients
    keep = {"product": True, "herbicide": herbicide is not None, "rate": alone, "unit": alone}
    told = [(columns.columns[key].header, columns.text(row, key)) for key in keep if keep[key] and key in columns]
    kept = "\n".join(f"{header}: {text}" for header, text in told if text) or None
    sprayed = ingredients or herbicide or (columns.text(row, "product") and _is_spraying(columns))
    what = one_of(columns, row, "what", _DONE) or ("sprayed" if sprayed else None)
    if what is None:
        raise Refused("nothing done", where=columns.where(row, "what"), rule="Each row says what.", step="Fill it in.")
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
        pre_harvest_until=columns.day(row, "pre_harvest_until"),
        survivors=yes_no(columns, row, "survivors"),
        words="\n".join(text for text in (columns.text(row, "words"), kept) if text) or None,
    )
    return Draft("done", site, by, on, body, row.where(), columns.kept(row), entry_shown(columns, row))


def _is_spraying(columns: Understood) -> bool:
    """Does a table with a column of products tell of spraying, and not of seed or of feed?"""
    spray = ("volume_l_ha", "nozzle", "adjuvant", "re_entry", "re_entry_until", "herbicide")
    says = words_of(" ".join(columns.table.columns))
    return any(key in columns for key in spray) or "spray" in says or "applicator" in says


def _ingredients(columns: Understood, row: Row, names: list[str]) -> list[dict[str, Any]]:
    if not names:
        return []
    groups = [group for group in _APART.split(columns.text(row, "group") or "") if group]
    rates = [rate for rate in _APART.split(columns.text(row, "rate") or "") if rate]
    header = _RATE_IN.fullmatch(columns.columns["rate"].header) if "rate" in columns else None
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
    if header and not units:
        units = [" ".join(header["unit"].split())]
    each = units if len(units) == len(names) else units * len(names)
    out = []
    for i, name in enumerate(names):
        rate, unit = _rate(columns, row, rates[i]) if rates else (None, None)
        unit = unit or (each[i] if each else None)
        out.append(present(name=name, rate=rate, unit=unit, group=groups[i] if groups else None))
    return out


def _rate(columns: Understood, row: Row, text: str) -> tuple[float, str | None]:
    """A rate and the unit that stands behind it in the cell ("32 oz/ac")."""
    found = _RATE.fullmatch(text)
    rate = float(found["rate"]) if found else math.nan
    if not found or not 1e-9 <= rate <= 1e6:
        raise Refused(
            f"rate {text!r}",
            where=columns.where(row, "rate"),
            rule="A rate is a number above 0, with its unit behind it, in the header or in a column for units.",
            step="Correct the cell.",
        )
    return rate, found["unit"] or None


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
