"""Reading what can be looked at: characters, their states, and which of them tell the same thing."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import get_args

from tepal.flora._cells import Folder, choice, unknown, yes
from tepal.flora._records import Character, Kind, Overlap, Tool
from tepal.tables import Refused, Row


def read_characters(folder: Folder) -> Mapping[str, Character]:
    """characters.csv with the states of states.csv."""
    states = _read_states(folder)
    table = folder.table(
        "characters.csv",
        ("name", "kind", "unit", "overlap", "binned_from", "bins", "misread", "reading_cv", "seconds", "tool", "look",
         "label", "question", "basis", "sources"),
    )  # fmt: skip
    characters = {}
    for row in table:
        folder.once(row, row.text("name"))
        character = _character(folder, row, states.pop(row.text("name"), {}))
        characters[character.name] = character
    for name, words in states.items():
        row = next(iter(words.values()))[0]
        raise unknown(row, "character", name, characters, "characters.csv declares the characters")
    for row in table:
        source = row.text("binned_from", "")
        if source and (source not in characters or characters[source].kind != "numeric"):
            numeric = [c.name for c in characters.values() if c.kind == "numeric"]
            raise unknown(row, "binned_from", source, numeric, "A binned character names a numeric one")
        for other, state in characters[row.text("name")].absent_where:
            answers = [f"{c.name}={s}" for c in characters.values() for s in c.states]
            if f"{other}={state}" not in answers:
                rule = "A character is absent where another one has a state"
                raise unknown(row, "absent_where", f"{other}={state}", answers, rule)
    return MappingProxyType(characters)


def _read_states(folder: Folder) -> dict[str, dict[str, tuple[Row, str]]]:
    states: dict[str, dict[str, tuple[Row, str]]] = {}
    for row in folder.table("states.csv", ("character", "state", "words")):
        folder.once(row, row.text("character"), row.text("state"))
        states.setdefault(row.text("character"), {})[row.text("state")] = (row, row.text("words"))
    return states


def _character(folder: Folder, row: Row, states: Mapping[str, tuple[Row, str]]) -> Character:
    name, kind = row.text("name"), choice(row, "kind", get_args(Kind))
    if kind == "categorical" and len(states) < 2:
        raise Refused(
            f"{len(states)} states for {name}",
            where=row.where("name"),
            rule="A categorical character has at least two states in states.csv.",
            step="Add its states there.",
        )
    if kind == "numeric" and states:
        raise Refused(
            f"states for the numeric character {name}",
            where=next(iter(states.values()))[0].where("character"),
            rule="A numeric character has a unit and no states.",
            step="Drop the states, or call it categorical.",
        )
    bins = tuple(_number(row, "bins", part) for part in row.items("bins"))
    if bins and (len(bins) != len(states) - 1 or list(bins) != sorted(set(bins))):
        raise Refused(
            f"bins {row.text('bins')}",
            where=row.where("bins"),
            rule=f"The {len(states)} states need {len(states) - 1} cuts, rising.",
            step="Correct the cell.",
        )
    sources = folder.keys(row)
    return Character(
        name=name,
        kind=kind,
        unit=folder.unit(row) if kind == "numeric" else "",
        states=tuple(states),
        state_words=MappingProxyType({state: words for state, (_, words) in states.items()}),
        overlap=row.text("overlap", "") or None,
        binned_from=row.text("binned_from", "") or None,
        bins=bins,
        absent_where=tuple(_answer(row, part) for part in row.items("absent_where")),
        misread=row.number("misread", low=0, high=0.5) if kind == "categorical" else 0.0,
        reading_cv=row.number("reading_cv", low=0, high=2) if kind == "numeric" else 0.0,
        seconds=row.number("seconds", low=0, high=3600),
        tool=choice(row, "tool", get_args(Tool)),
        look=yes(row, "look"),
        label=row.text("label"),
        question=row.text("question"),
        basis=folder.basis(row, sources),
        sources=sources,
        note=row.text("note", ""),
    )


def _answer(row: Row, text: str) -> tuple[str, str]:
    character, sign, state = text.partition("=")
    if not (character and sign and state):
        raise Refused(
            text,
            where=row.where("absent_where"),
            rule="absent_where is a list of answers.",
            step="Write each as character=state.",
        )
    return character, state


def _number(row: Row, column: str, text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise Refused(
            f"{text!r} is no number",
            where=row.where(column),
            rule=f"{column} is a list of numbers.",
            step="Correct it.",
        ) from None


def read_overlaps(folder: Folder, characters: Mapping[str, Character]) -> Mapping[str, Overlap]:
    """overlaps.csv: every group that a character names is declared, and has at least two members."""
    table = folder.table("overlaps.csv", ("name", "meaning", "basis", "sources"))
    overlaps = {}
    for row in table:
        name = row.text("name")
        folder.once(row, name)
        members = tuple(c.name for c in characters.values() if c.overlap == name)
        if len(members) < 2:
            raise Refused(
                f"overlap group {name!r} has {len(members)} member",
                where=row.where("name"),
                rule="An overlap group has at least two characters.",
                step="Name the group at its characters in characters.csv, or drop it.",
            )
        sources = folder.keys(row)
        overlaps[name] = Overlap(name, members, row.text("meaning"), folder.basis(row, sources), sources)
    for row in folder.table("characters.csv", ("overlap",)):
        group = row.text("overlap", "")
        if group and group not in overlaps:
            raise unknown(row, "overlap", group, overlaps, "overlaps.csv declares the overlap groups")
        binned_from = row.text("binned_from", "")
        if binned_from and (not group or characters[binned_from].overlap != group):
            raise Refused(
                f"{row.text('name')} and {binned_from} in different overlap groups",
                where=row.where("overlap"),
                rule="A binned character shares the overlap group of the one it is binned from.",
                step="Give both the same group.",
            )
    return MappingProxyType(overlaps)
