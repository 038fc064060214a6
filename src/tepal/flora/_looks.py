"""Reading what each taxon shows: shares of states and measures, by stage."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from tepal.doubt import Basis, weakest_basis
from tepal.flora._cells import Folder, choice, in_order, unknown, yes
from tepal.flora._records import ROW_STAGES, Character, Kind, Measure, StateShares
from tepal.tables import Refused, Row

ShareKey = tuple[str, str, str]
# Shares are written with up to four decimals, so that a sum of six can be off by rounding of binary fractions only.
SUM_TOLERANCE = 1e-6


def read_shares(folder: Folder, characters: Mapping[str, Character]) -> Mapping[ShareKey, StateShares]:
    """shares.csv: one row one state; the shares of (code, character, stage) sum to 1."""
    table = folder.table(
        "shares.csv",
        (
            "code",
            "character",
            "stage",
            "state",
            "share",
            "basis",
            "estimated",
            "derived",
            "sources",
            "recalled",
            "note",
        ),
    )
    groups: dict[ShareKey, list[Row]] = {}
    for row in table:
        key = (folder.code(row, "code"), _of_kind(row, characters, "categorical"), choice(row, "stage", ROW_STAGES))
        folder.once(row, *key, row.text("state"))
        groups.setdefault(key, []).append(row)
    return MappingProxyType({key: _shares(folder, key, rows, characters[key[1]]) for key, rows in groups.items()})


def _shares(folder: Folder, key: ShareKey, rows: list[Row], character: Character) -> StateShares:
    shares: dict[str, float] = {}
    basis_by_state: dict[str, Basis] = {}
    sources: dict[str, None] = {}
    recalled: dict[str, None] = {}
    notes: dict[str, None] = {}
    derived = any(yes(row, "derived") for row in rows)
    estimated = any(yes(row, "estimated") for row in rows)
    for row in rows:
        state = row.text("state")
        if state not in character.states:
            raise unknown(row, "state", state, character.states, f"states.csv declares the states of {character.name}")
        keys = folder.keys(row)
        shares[state] = row.number("share", low=0, high=1)
        basis_by_state[state] = folder.basis(row, keys, derived=derived)
        sources.update(dict.fromkeys(keys))
        recalled.update(dict.fromkeys(folder.recalled(row, keys)))
        if row.text("note", ""):
            notes[row.text("note")] = None
    total = math.fsum(shares.values())
    if abs(total - 1) > SUM_TOLERANCE:
        raise Refused(
            f"shares of {' / '.join(key)} sum to {total:.9g}",
            where=rows[0].where("share"),
            rule="The shares of one taxon, character and stage sum to 1.",
            step=f"Correct lines {', '.join(str(row.line) for row in rows)}.",
        )
    weakest = weakest_basis(basis_by_state.values())
    assert weakest is not None
    return StateShares(
        code=key[0],
        character=key[1],
        stage=choice(rows[0], "stage", ROW_STAGES),
        # In the order in which the states are declared, whatever the order of the rows.
        shares=MappingProxyType({state: shares[state] for state in character.states if state in shares}),
        basis_by_state=MappingProxyType(basis_by_state),
        basis=weakest,
        estimated=estimated,
        derived=derived,
        sources=tuple(sources),
        recalled=tuple(recalled),
        note="; ".join(notes),
    )


def read_measures(folder: Folder, characters: Mapping[str, Character]) -> Mapping[ShareKey, Measure]:
    """measures.csv: mean, sd and limits of numeric characters, in the character's unit."""
    table = folder.table(
        "measures.csv",
        ("code", "character", "stage", "mean", "sd", "low", "high", "unit", "basis", "derived", "sources", "recalled",
         "note"),
    )  # fmt: skip
    measures: dict[ShareKey, Measure] = {}
    for row in table:
        key = (folder.code(row, "code"), _of_kind(row, characters, "numeric"), choice(row, "stage", ROW_STAGES))
        folder.once(row, *key)
        measures[key] = _measure(folder, row, key, characters[key[1]])
    return MappingProxyType(measures)


def _measure(folder: Folder, row: Row, key: ShareKey, character: Character) -> Measure:
    unit = folder.unit(row)
    if unit != character.unit:
        raise Refused(
            f"unit {unit!r}",
            where=row.where("unit"),
            rule=f"{character.name} is measured in {character.unit}.",
            step="Convert the numbers, or correct the unit.",
        )
    # Nothing that is measured on a plant is negative.
    mean, low, high = (row.number(column, low=0) for column in ("mean", "low", "high"))
    sd = row.number("sd", low=0)
    in_order(row, low=low, mean=mean, high=high)
    if sd == 0:
        raise Refused(
            "sd 0",
            where=row.where("sd"),
            rule="Plants differ: the sd is above 0.",
            step="Give the spread between plants.",
        )
    sources, derived = folder.keys(row), yes(row, "derived")
    return Measure(
        code=key[0],
        character=key[1],
        stage=choice(row, "stage", ROW_STAGES),
        mean=mean,
        sd=sd,
        low=low,
        high=high,
        unit=unit,
        basis=folder.basis(row, sources, derived=derived),
        derived=derived,
        sources=sources,
        recalled=folder.recalled(row, sources),
        note=row.text("note", ""),
    )


def _of_kind(row: Row, characters: Mapping[str, Character], kind: Kind) -> str:
    name = row.text("character")
    if name not in characters:
        raise unknown(row, "character", name, characters, "characters.csv declares the characters")
    if characters[name].kind != kind:
        raise Refused(
            f"{name} is {characters[name].kind}",
            where=row.where("character"),
            rule="Categorical characters stand in shares.csv, numeric ones in measures.csv.",
            step="Move the row, or correct the kind in characters.csv.",
        )
    return name
