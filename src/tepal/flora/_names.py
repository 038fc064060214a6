"""Reading what the other tables name: units, sources, taxa with their regional weights."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from types import MappingProxyType
from typing import get_args

from tepal.flora._cells import Folder, choice
from tepal.flora._records import (
    REGIONS,
    STAGES,
    STATUSES,
    Breeding,
    Role,
    Source,
    Taxon,
)
from tepal.tables import Refused, Row


def read_units(folder: Folder) -> Mapping[str, str]:
    """units.csv: every unit that the group's tables use, with words (none for a pure number)."""
    units = {}
    for row in folder.table("units.csv", ("unit", "words")):
        folder.once(row, row.text("unit"))
        units[row.text("unit")] = row.text("words", "")
    return MappingProxyType(units)


def read_sources(folder: Folder) -> Mapping[str, Source]:
    """sources.csv: one citation table; one paper has one DOI, whatever the keys it stands under."""
    sources: dict[str, Source] = {}
    rows: dict[str, Row] = {}
    for row in folder.table("sources.csv", ("key", "citation", "status", "seen", "address", "doi", "same_as")):
        key = row.text("key")
        folder.once(row, key)
        sources[key], rows[key] = _source(row), row
    by_doi: dict[str, str] = {}
    for key, source in sources.items():
        lead = sources.get(source.same_as) if source.same_as else source
        if lead is None or lead.same_as or source.same_as == key:
            raise Refused(
                f"same_as {source.same_as!r}",
                where=rows[key].where("same_as"),
                rule="same_as names the leading key of the same paper, itself without a same_as.",
                step="Correct the cell.",
            )
        first = by_doi.setdefault(source.doi.casefold(), lead.key) if source.doi else lead.key
        if source.doi != lead.doi or first != lead.key:
            raise Refused(
                f"DOI {source.doi!r}",
                where=rows[key].where("doi"),
                rule=f"One paper has one DOI and one leading key; see {first if first != lead.key else lead.key!r}.",
                step="Correct the DOI, or set same_as.",
            )
    return MappingProxyType(sources)


def _source(row: Row) -> Source:
    doi = row.text("doi", "")
    if doi and not re.fullmatch(r"10\.\d{4,9}/\S+", doi):
        raise Refused(
            f"DOI {doi!r}",
            where=row.where("doi"),
            rule="A DOI begins with 10., without an address.",
            step="Correct it.",
        )
    return Source(
        key=row.text("key"),
        citation=row.text("citation"),
        status=choice(row, "status", STATUSES),
        seen=row.text("seen", ""),
        address=row.text("address", ""),
        doi=doi,
        same_as=row.text("same_as", ""),
    )


def read_taxa(folder: Folder) -> Mapping[str, Taxon]:
    """taxa.csv with the regional weights of weights.csv."""
    table = folder.table(
        "taxa.csv",
        ("code", "scientific_name", "authority", "english_name", "breeding", "role", "native_range", "note", "sources"),
    )
    for row in table:
        folder.once(row, row.text("code"))
    folder.taxa = frozenset(row.text("code") for row in table)
    roles = {row.text("code"): choice(row, "role", get_args(Role)) for row in table}
    weights = _read_weights(folder, roles)
    taxa = {}
    for row in table:
        code = row.text("code")
        taxa[code] = Taxon(
            code=code,
            scientific_name=row.text("scientific_name"),
            authority=row.text("authority", ""),
            name_note=row.text("name_note", ""),
            english_name=row.text("english_name"),
            other_names=row.items("other_names"),
            breeding=choice(row, "breeding", get_args(Breeding)),
            pigweed=roles[code] != "look_alike",
            hunted=roles[code] == "hunted",
            weights=MappingProxyType(weights.get(code, {})),
            native_range=row.text("native_range", ""),
            note=row.text("note", ""),
            sources=folder.keys(row),
        )
    return MappingProxyType(taxa)


def _read_weights(folder: Folder, roles: Mapping[str, Role]) -> dict[str, dict[str, float]]:
    table = folder.table("weights.csv", ("code", "region", "weight", "basis", "sources"))
    weights: dict[str, dict[str, float]] = {}
    for row in table:
        code, region = folder.code(row, "code"), choice(row, "region", REGIONS)
        folder.once(row, code, region)
        folder.basis(row, folder.keys(row))
        if roles[code] == "look_alike":
            raise Refused(
                f"a weight for {code}",
                where=row.where("code"),
                rule="Look-alikes have no regional weight; all together they have one in lookalikes.csv.",
                step="Drop the row, or change the role in taxa.csv.",
            )
        weights.setdefault(code, {})[region] = row.number("weight", low=0, high=1)
    members = [code for code, role in roles.items() if role != "look_alike"]
    for region in REGIONS:
        missing = [code for code in members if region not in weights.get(code, {})]
        total = math.fsum(weights[code][region] for code in members if code not in missing)
        if missing or abs(total - 1) > 1e-6:
            raise Refused(
                f"weights of {region}: {'none for ' + ', '.join(missing) if missing else f'sum {total:.9g}'}",
                where=table.file,
                rule="In each region the group's taxa all have a weight and the weights sum to 1.",
                step=f"Correct the rows of {region}.",
            )
    return weights


def read_look_alike_weights(folder: Folder) -> Mapping[str, float]:
    """lookalikes.csv: what share look-alikes take, all together, at a stage; stages not named have none."""
    weights: dict[str, float] = {}
    for row in folder.table("lookalikes.csv", ("stage", "weight", "basis", "sources"), required=False):
        stage = choice(row, "stage", STAGES)
        folder.once(row, stage)
        folder.basis(row, folder.keys(row))
        weights[stage] = row.number("weight", low=0, high=0.99)
    return MappingProxyType(weights)
