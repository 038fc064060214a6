"""Reading plates.toml: with which figure each character is drawn, and with what settings each state."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from types import MappingProxyType
from typing import Any

from tepal.doubt import BASES, Basis
from tepal.flora._cells import Folder
from tepal.flora._records import Character
from tepal.tables import Refused

FILE = "plates.toml"
Setting = str | float | bool
Settings = Mapping[str, Setting]
_KEYS = {"figure", "takes", "with", "states", "basis", "sources", "note"}


@dataclass(frozen=True, slots=True)
class PlateRow:
    """How the character `name` is drawn: the figure, settings of all its plates, and those of each state.

    `takes` names the setting that a measured value fills (numeric characters only). The figures and the settings that
    each of them takes are those of `tepal.plates`. `basis` and `sources` are of the sizes and shapes given here.
    """

    name: str
    figure: str
    takes: str
    settings: Settings
    by_state: Mapping[str, Settings]
    basis: Basis
    sources: tuple[str, ...]
    note: str

    def messages(self) -> tuple[str, ...]:
        """The words that stand on the plates of this character."""
        labels = (settings.get("label") for settings in (self.settings, *self.by_state.values()))
        return tuple(dict.fromkeys(label for label in labels if isinstance(label, str)))


def read_plates(
    folder: Folder, characters: Mapping[str, Character]
) -> tuple[Mapping[str, PlateRow], Mapping[str, str]]:
    """plates.toml: the rows by character, and which character gives which trait of a whole plant; both may be empty."""
    path = folder.path / FILE
    if not path.exists():
        return MappingProxyType({}), MappingProxyType({})
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as problem:
        raise Refused(f"{problem}", where=FILE, rule="Plates are TOML in UTF-8.", step="Correct the line.") from None
    _only(raw, ("character", "plant"), "the file")
    rows = {}
    for name, row in raw.get("character", {}).items():
        if name not in characters:
            raise _undeclared(name, characters, f"[character.{name}]", "characters.csv declares the characters.")
        rows[name] = _row(folder, characters[name], row)
    for trait, name in raw.get("plant", {}).items():
        if name not in characters:
            raise _undeclared(str(name), characters, f"[plant] {trait}", "characters.csv declares the characters.")
    return MappingProxyType(rows), MappingProxyType(dict(raw.get("plant", {})))


def _row(folder: Folder, character: Character, row: Mapping[str, Any]) -> PlateRow:
    name = character.name
    place = f"[character.{name}]"
    _only(row, _KEYS, place)
    states = row.get("states", {})
    for state in states:
        if state not in character.states:
            raise _undeclared(state, character.states, place, f"states.csv declares the states of {name}.")
    sources = tuple(row.get("sources", ()))
    for key in sources:
        if key not in folder.sources:
            raise _undeclared(key, folder.sources, place, "Every source key has a line in sources.csv.")
    basis = row.get("basis", "judgement")
    if basis not in BASES or (basis != "judgement" and not sources):
        raise Refused(
            f"basis {basis!r}",
            where=f"{FILE}, {place}",
            rule=f"It is one of {', '.join(BASES)}; all but judgement name a source.",
            step="Name the source, or call it judgement.",
        )
    takes = row.get("takes", "")
    if (character.kind == "numeric") != bool(takes) or "figure" not in row:
        raise Refused(
            f"figure {row.get('figure', '')!r}, takes {takes!r}",
            where=f"{FILE}, {place}",
            rule="Every character names its figure; a numeric one, and no other, the setting that takes its value.",
            step="Correct the row.",
        )
    return PlateRow(
        name=name,
        figure=row["figure"],
        takes=takes,
        settings=MappingProxyType(dict(row.get("with", {}))),
        by_state=MappingProxyType({state: MappingProxyType(dict(states[state])) for state in states}),
        basis=basis,
        sources=sources,
        note=row.get("note", ""),
    )


def _only(table: Mapping[str, Any], known: Any, place: str) -> None:
    for key in table:
        if key not in known:
            raise _undeclared(key, known, place, f"It may hold {', '.join(sorted(known))}.")


def _undeclared(value: str, known: Any, place: str, rule: str) -> Refused:
    near = get_close_matches(value, list(known), n=1, cutoff=0.5)
    return Refused(
        f"{value!r} in {place}",
        where=FILE,
        rule=rule,
        step=f"Did you mean {near[0]}?" if near else "Correct the name.",
    )
