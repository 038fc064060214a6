"""Reading crosses, published results, active ingredients and actions."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal, get_args

from tepal.flora._cells import Folder, choice, choices, in_order, whole_numbers, yes
from tepal.flora._records import STATUSES, Action, ActiveIngredient, Cross, PartialDay, PublishedFact, Use
from tepal.tables import Refused, Row

_SETTINGS = ("field", "greenhouse", "natural", "herbarium", "isozymes")
_PARTIAL_DAY = re.compile(r"(?:(\d{4})|-)-(\d{2})-(\d{2})")
_DAYS_IN_MONTH = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
CROPS = ("corn", "soybean", "cotton", "sorghum", "wheat_stubble", "fallow")


def read_crosses(folder: Folder) -> tuple[Cross, ...]:
    """crosses.csv: hybrids found or looked for."""
    crosses = []
    columns = ("female", "male", "either", "setting", "low", "high", "rate_words", "fertility", "looks", "telling",
               "basis", "status", "sources", "note")  # fmt: skip
    for row in folder.table("crosses.csv", columns, required=False):
        female, male = folder.code(row, "female"), folder.code(row, "male", any_taxon=True)
        sources = folder.keys(row)
        folder.once(row, female, male, row.text("setting"), sources)
        low, high = (row.optional_number(column, low=0, high=1) for column in ("low", "high"))
        in_order(row, low=low, mean=None, high=high)
        crosses.append(
            Cross(
                female=female,
                male=male,
                either=yes(row, "either"),
                setting=choices(row, "setting", _SETTINGS),
                low=low,
                high=high,
                rate_words=row.text("rate_words", ""),
                fertility=row.text("fertility", ""),
                looks=row.text("looks", ""),
                telling=row.text("telling", ""),
                basis=folder.basis(row, sources),
                status=choice(row, "status", STATUSES),
                sources=sources,
                note=row.text("note", ""),
            )
        )
    return tuple(crosses)


def read_published(folder: Folder) -> tuple[PublishedFact, ...]:
    """published.csv: results as found, typed."""
    columns = ("quantity", "taxa", "taxa_words", "condition", "mean", "sd", "low", "high", "spread", "unit", "of",
               "detail", "dates", "groups", "words", "basis", "status", "sources", "note")  # fmt: skip
    return tuple(_published(folder, row) for row in folder.table("published.csv", columns, required=False))


def _published(folder: Folder, row: Row) -> PublishedFact:
    taxa = folder.codes(row, "taxa", any_taxon=True)
    if not taxa and not row.text("taxa_words", ""):
        raise Refused("no taxon", where=row.where("taxa"), rule="A fact is about some plant.", step="Name the taxon.")
    folder.once(row, row.text("quantity"), taxa, row.text("condition", ""))
    mean, low, high = (row.optional_number(column) for column in ("mean", "low", "high"))
    in_order(row, low=low, mean=mean, high=high)
    spread: Literal["range", "cases", ""] = choice(row, "spread", ("range", "cases", ""), default="")
    if (spread == "") != (low is None and high is None):
        raise Refused(
            f"spread {spread!r}",
            where=row.where("spread"),
            rule="spread says what low and high are (range, cases), and is empty where both are.",
            step="Correct the cell.",
        )
    dates = tuple(_partial_day(row, text) for text in row.items("dates"))
    groups, words = whole_numbers(row, "groups"), row.text("words", "")
    numbers = not (mean is None and low is None and high is None)
    if not (numbers or dates or groups or words):
        raise Refused(
            "no result",
            where=row.where(),
            rule="A fact has a number, a date, groups or words.",
            step="Fill in one of them, or drop the row.",
        )
    sources = folder.keys(row)
    return PublishedFact(
        quantity=row.text("quantity"),
        taxa=taxa,
        taxa_words=row.text("taxa_words", ""),
        condition=row.text("condition", ""),
        mean=mean,
        sd=row.optional_number("sd", low=0),
        low=low,
        high=high,
        spread=spread,
        unit=folder.unit(row) if numbers else "",
        of=row.text("of", ""),
        detail=row.text("detail", ""),
        dates=dates,
        groups=groups,
        words=words,
        basis=folder.basis(row, sources),
        status=choice(row, "status", STATUSES),
        sources=sources,
        note=row.text("note", ""),
        line=row.line,
    )


def _partial_day(row: Row, text: str) -> PartialDay:
    match = _PARTIAL_DAY.fullmatch(text)
    if match and 1 <= int(match[2]) <= 12 and 1 <= int(match[3]) <= _DAYS_IN_MONTH[int(match[2]) - 1]:
        return PartialDay(int(match[1]) if match[1] else None, int(match[2]), int(match[3]))
    raise Refused(
        f"date {text!r}",
        where=row.where("dates"),
        rule="A date is written YYYY-MM-DD, or --MM-DD where the year is not known.",
        step="Write it so.",
    )


def read_ingredients(folder: Folder) -> Mapping[str, ActiveIngredient]:
    """ingredients.csv: active ingredients by common name, never by brand."""
    ingredients = {}
    columns = ("name", "groups", "former_groups", "hrac_letter", "mode", "timing", *CROPS, "max_height_cm",
               "height_note", "label_governs", "resistance_known", "basis", "sources", "recalled", "note")  # fmt: skip
    for row in folder.table("ingredients.csv", columns, required=False):
        name = row.text("name")
        folder.once(row, name)
        sources = folder.keys(row)
        groups = whole_numbers(row, "groups")
        if not groups:
            raise Refused(
                f"no group for {name}",
                where=row.where("groups"),
                rule="An active ingredient has at least one WSSA/HRAC group.",
                step="Fill it in.",
            )
        ingredients[name] = ActiveIngredient(
            name=name,
            groups=groups,
            former_groups=whole_numbers(row, "former_groups"),
            hrac_letter=row.text("hrac_letter", ""),
            mode=row.text("mode"),
            timing=row.items("timing"),
            crops=MappingProxyType({crop: choice(row, crop, get_args(Use)) for crop in CROPS}),
            max_height_cm=row.optional_number("max_height_cm", low=0, high=30),
            height_note=row.text("height_note", ""),
            label_governs=yes(row, "label_governs"),
            resistance_known=folder.codes(row, "resistance_known"),
            note=row.text("note", ""),
            basis=folder.basis(row, sources),
            sources=sources,
            recalled=folder.recalled(row, sources),
        )
    return MappingProxyType(ingredients)


def read_actions(folder: Folder) -> Mapping[str, Action]:
    """actions.csv: what can be done, in prose."""
    actions = {}
    columns = ("id", "action", "when", "limits", "fails", "cautions", "evidence", "status", "sources", "note")
    for row in folder.table("actions.csv", columns, required=False):
        name = row.text("id")
        folder.once(row, name)
        actions[name] = Action(
            id=name,
            action=row.text("action"),
            when=row.text("when"),
            limits=row.text("limits", ""),
            fails=row.text("fails", ""),
            cautions=row.text("cautions", ""),
            evidence=row.text("evidence", ""),
            status=choice(row, "status", STATUSES),
            sources=folder.keys(row),
            note=row.text("note", ""),
        )
    return MappingProxyType(actions)
