"""Loading a weed group: a folder of tables, validated as a whole. A new group is a new folder, no code."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

from tepal.flora._acting import read_inseparable, read_losses
from tepal.flora._cells import Folder, choice, in_order, unknown
from tepal.flora._characters import read_characters, read_overlaps
from tepal.flora._crops import read_crops
from tepal.flora._facts import read_actions, read_crosses, read_ingredients, read_published
from tepal.flora._flora import Flora, ShareKey
from tepal.flora._law import read_law, read_nesting
from tepal.flora._looks import read_measures, read_shares
from tepal.flora._names import read_look_alike_weights, read_sources, read_taxa, read_units
from tepal.flora._parameters import PARAMETER_KINDS, Declared, Parameter
from tepal.flora._plates import read_plates
from tepal.flora._resistance import read_resistance
from tepal.tables import Refused, Row

_HOME = Path(__file__).parent
_PARAMETER_FILES = ("growth.csv", "seed.csv", "labour.csv", "control.csv", "years.csv")
# A column `recalled` may be added, for keys of `sources` that were not opened.
_PARAMETER_COLUMNS = ("name", "code", "condition", "mean", "sd", "low", "high", "unit", "basis", "sources", "note")


def groups() -> tuple[str, ...]:
    """The weed groups that come with the house."""
    return tuple(sorted(path.parent.name for path in _HOME.glob("*/taxa.csv")))


def load(group: str = "pigweeds", *, folder: Path | None = None) -> Flora:
    """The flora of a weed group, read from its folder of tables and validated; cached.

    Parameters
    ----------
    group
        Name of the group: a folder beside this module, unless `folder` is given.
    folder
        A folder of tables anywhere. It needs units, sources, taxa, weights, overlaps, characters, states, shares and
        measures; the other tables may be absent.

    Raises
    ------
    Refused
        At the first fault, naming file, line, rule and next step.
    """
    if folder is not None:
        return _load(group, folder.resolve())
    if group not in groups():
        raise Refused(
            f"no weed group {group!r}",
            where=group,
            rule=f"The groups are {', '.join(groups())}.",
            step="Choose one, or give a folder of tables.",
        )
    return _load(group, _HOME / group)


@lru_cache(maxsize=8)
def _load(group: str, path: Path) -> Flora:
    if not path.is_dir():
        raise Refused(
            "no such folder", where=str(path), rule="A weed group is a folder of tables.", step="Check the name."
        )
    folder = Folder(path)
    folder.units = units = read_units(folder)
    folder.sources = sources = read_sources(folder)
    taxa = read_taxa(folder)
    characters = read_characters(folder)
    overlaps = read_overlaps(folder, characters)
    shares, measures = read_shares(folder, characters), read_measures(folder, characters)
    declared = _read_declared(folder)
    plates, portrait = read_plates(folder, characters)
    return Flora(
        group=group,
        taxa=taxa,
        characters=characters,
        overlaps=overlaps,
        shares=shares,
        measures=measures,
        crosses=read_crosses(folder),
        declared=declared,
        parameters=_read_parameters(folder, declared),
        published=read_published(folder),
        ingredients=read_ingredients(folder),
        actions=read_actions(folder),
        sources=sources,
        units=units,
        look_alike_weights=read_look_alike_weights(folder),
        inseparable=read_inseparable(folder),
        losses=read_losses(folder),
        law=read_law(folder),
        nesting=read_nesting(folder),
        resistance=read_resistance(folder),
        crops=read_crops(folder),
        plates=plates,
        portrait=portrait,
        tables_hash=_hash(path),
    )


def _hash(path: Path) -> str:
    digest = hashlib.sha256()
    # Rules stand beside the tables and decide as much.
    for file in sorted(file for file in path.iterdir() if file.suffix in (".csv", ".toml")):
        raw = file.read_bytes()
        # The length keeps the end of one file apart from the start of the next.
        digest.update(f"{file.name}\0{len(raw)}\0".encode() + raw)
    return digest.hexdigest()


def _read_declared(folder: Folder) -> Mapping[str, Declared]:
    declared = {}
    columns = ("name", "unit", "kind", "meaning")
    for row in folder.table("parameters_declared.csv", columns, required=False):
        name = row.text("name")
        folder.once(row, name)
        declared[name] = Declared(
            name=name,
            unit=folder.unit(row),
            kind=choice(row, "kind", PARAMETER_KINDS),
            least=row.optional_number("least"),
            most=row.optional_number("most"),
            meaning=row.text("meaning"),
        )
    return MappingProxyType(declared)


def _read_parameters(folder: Folder, declared: Mapping[str, Declared]) -> Mapping[ShareKey, Parameter]:
    parameters: dict[ShareKey, Parameter] = {}
    for file in _PARAMETER_FILES:
        for row in folder.table(file, _PARAMETER_COLUMNS, required=False):
            parameter = _parameter(folder, row, declared)
            key = (parameter.name, parameter.code, parameter.condition)
            first = parameters.setdefault(key, parameter)
            if first is not parameter:
                raise Refused(
                    f"{' / '.join(part for part in key if part)} again",
                    where=row.where(),
                    rule=f"One row, one fact; {first.file}, line {first.line} is about the same.",
                    step="Merge the two or drop one.",
                )
    return MappingProxyType(parameters)


def _parameter(folder: Folder, row: Row, declared: Mapping[str, Declared]) -> Parameter:
    name = row.text("name")
    if name not in declared:
        raise unknown(row, "name", name, declared, "parameters_declared.csv declares the parameters")
    what, sources = declared[name], folder.keys(row)
    if folder.unit(row) != what.unit:
        raise Refused(
            f"unit {row.text('unit')!r}",
            where=row.where("unit"),
            rule=f"{name} is given in {what.unit}.",
            step="Convert the numbers, or correct the unit.",
        )
    mean, low, high = (row.optional_number(column) for column in ("mean", "low", "high"))
    sd = row.optional_number("sd", low=0)
    in_order(row, low=low, mean=mean, high=high)
    if mean is None and (low is None or high is None):
        raise Refused(
            f"no number for {name}",
            where=row.where("mean"),
            rule="A parameter has a mean, or both low and high.",
            step="Fill them in.",
        )
    for column, value in (("mean", mean), ("low", low), ("high", high)):
        _within(row, column, value, what)
    return Parameter(
        name=name,
        code=folder.code(row, "code", any_taxon=True),
        condition=row.text("condition", ""),
        mean=mean,
        sd=sd,
        low=low,
        high=high,
        unit=what.unit,
        kind=what.kind,
        least=what.least,
        most=what.most,
        basis=folder.basis(row, sources),
        sources=sources,
        recalled=folder.recalled(row, sources),
        note=row.text("note", ""),
        file=row.file,
        line=row.line,
    )


def _within(row: Row, column: str, value: float | None, what: Declared) -> None:
    if value is None:
        return
    fits, rule = {
        "log_normal": (value > 0, "A log-normal number is above 0."),
        "logit_normal": (0 < value < 1, "A logit-normal share lies between 0 and 1, ends left out."),
        "normal": (
            (what.least is None or what.least <= value) and (what.most is None or value <= what.most),
            f"{what.name} lies between {what.least} and {what.most}.",
        ),
    }[what.kind]
    if not fits:
        raise Refused(f"{column} {value:g}", where=row.where(column), rule=rule, step="Correct the cell.")
