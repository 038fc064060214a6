"""What hangs on a name: names that nobody can tell apart before a stage, and what acting wrongly costs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from tepal.doubt import Basis
from tepal.flora._cells import Folder, choice
from tepal.flora._records import STAGES, Stage
from tepal.tables import Refused


@dataclass(frozen=True, slots=True)
class Inseparable:
    """Taxa that cannot be told apart with confidence before the stage `before`."""

    codes: tuple[str, ...]
    before: Stage
    basis: Basis
    sources: tuple[str, ...]
    note: str


@dataclass(frozen=True, slots=True)
class Loss:
    """What one way of acting wrongly, or of finding out, costs; `value` in hundredths of a missed hunted plant."""

    name: str
    value: float
    low: float
    high: float
    basis: Basis
    sources: tuple[str, ...]
    note: str


def read_inseparable(folder: Folder) -> tuple[Inseparable, ...]:
    """inseparable.csv; no group where the table is absent."""
    groups = []
    for row in folder.table("inseparable.csv", ("codes", "before", "basis", "sources", "note"), required=False):
        codes = folder.codes(row, "codes")
        folder.once(row, *sorted(codes))
        if len(set(codes)) < 2:
            raise Refused(
                f"{len(set(codes))} taxa",
                where=row.where("codes"),
                rule="A group that cannot be told apart has two taxa or more.",
                step="Add the other, or drop the row.",
            )
        sources = folder.keys(row)
        groups.append(
            Inseparable(codes, choice(row, "before", STAGES), folder.basis(row, sources), sources, row.text("note", ""))
        )
    return tuple(groups)


def read_losses(folder: Folder) -> Mapping[str, Loss]:
    """losses.csv, by name; empty where the table is absent."""
    losses: dict[str, Loss] = {}
    columns = ("name", "value", "low", "high", "basis", "sources", "note")
    for row in folder.table("losses.csv", columns, required=False):
        name = row.text("name")
        folder.once(row, name)
        low, high = row.number("low", low=0), row.number("high", low=0)
        value = row.number("value", low=low, high=high)
        sources = folder.keys(row)
        losses[name] = Loss(name, value, low, high, folder.basis(row, sources), sources, row.text("note", ""))
    return MappingProxyType(losses)
