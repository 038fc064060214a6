"""What is known, as plain values for programs: one taxon, one source, the list."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tepal.flora._acting import Inseparable, Loss
from tepal.flora._crops import CropRow
from tepal.flora._flora import Flora
from tepal.flora._law import LawRow, Nesting
from tepal.flora._parameters import Parameter
from tepal.flora._plates import PlateRow
from tepal.flora._records import (
    ALL_TAXA,
    STAGES,
    Action,
    ActiveIngredient,
    Character,
    Cross,
    Measure,
    Overlap,
    PublishedFact,
    Source,
    StateShares,
    Taxon,
)
from tepal.flora._resistance import ResistanceRow
from tepal.flora._telling import telling


def taxon_facts(flora: Flora, code: str) -> dict[str, Any]:
    """All that the tables say of one taxon, with sources; the looks by stage, the telling ones first."""
    taxon = flora.taxa[code]
    looks = [row for table in (flora.shares, flora.measures) for key, row in table.items() if key[0] == code]
    crosses = [cross for cross in flora.crosses if code in (cross.female, cross.male)]
    numbers = [
        row
        for (name, of, condition), row in flora.parameters.items()
        # The row of all taxa counts only where the taxon has none of its own.
        if of == code or (of == ALL_TAXA and (name, code, condition) not in flora.parameters)
    ]
    published = [fact for fact in flora.published if code in fact.taxa]
    keys = dict.fromkeys(key for record in (taxon, *looks, *crosses, *numbers, *published) for key in record.sources)
    return {
        "group": flora.group,
        "tables": flora.tables_hash,
        "code": code,
        "scientific_name": taxon.scientific_name,
        "authority": taxon.authority,
        "name_note": taxon.name_note,
        "english_name": taxon.english_name,
        "other_names": taxon.other_names,
        "breeding": taxon.breeding,
        "pigweed": taxon.pigweed,
        "hunted": taxon.hunted,
        "native_range": taxon.native_range,
        "note": taxon.note,
        "sources": taxon.sources,
        "weights": taxon.weights,
        "telling": {
            stage: [
                {"character": item.row.character, "nats": item.nats, "state": item.state, "of_others": item.of_others}
                for item in found
            ]
            for stage in STAGES
            if (found := telling(flora, code, stage))
        },
        "looks": [look_facts(flora, row) for row in looks],
        "crosses": [
            {
                "female": cross.female,
                "male": cross.male,
                "either": cross.either,
                "setting": cross.setting,
                "low": cross.low,
                "high": cross.high,
                "rate": cross.rate_words,
                "fertility": cross.fertility,
                "looks": cross.looks,
                "basis": cross.basis,
                "status": cross.status,
                "sources": cross.sources,
                "note": cross.note,
            }
            for cross in crosses
        ],
        "parameters": [
            {
                "name": row.name,
                "code": row.code,
                "condition": row.condition,
                "meaning": flora.declared[row.name].meaning,
                "mean": row.mean,
                "sd": row.sd,
                "low": row.low,
                "high": row.high,
                "unit": row.unit,
                "basis": row.basis,
                "sources": row.sources,
                "recalled": row.recalled,
                "note": row.note,
            }
            for row in numbers
        ],
        "published": [published_facts(fact) for fact in published],
        "citations": {key: flora.sources[key].citation for key in keys},
    }


def look_facts(flora: Flora, row: StateShares | Measure) -> dict[str, Any]:
    """One look of a taxon at a stage."""
    character = flora.characters[row.character]
    told: dict[str, Any] = {"character": row.character, "stage": row.stage, "kind": character.kind}
    if isinstance(row, StateShares):
        told |= {"shares": row.shares, "estimated": row.estimated, "basis_by_state": row.basis_by_state}
    else:
        told |= {"mean": row.mean, "sd": row.sd, "low": row.low, "high": row.high, "unit": row.unit}
    return told | {
        "basis": row.basis,
        "derived": row.derived,
        "sources": row.sources,
        "recalled": row.recalled,
        "note": row.note,
    }


def published_facts(fact: PublishedFact) -> dict[str, Any]:
    """One published result, empty parts left out."""
    told: dict[str, Any] = {
        "quantity": fact.quantity,
        "taxa": fact.taxa,
        "taxa_words": fact.taxa_words,
        "condition": fact.condition,
        "mean": fact.mean,
        "sd": fact.sd,
        "low": fact.low,
        "high": fact.high,
        "spread": fact.spread,
        "unit": fact.unit,
        "of": fact.of,
        "detail": fact.detail,
        "dates": tuple(f"{day.year or '-'}-{day.month:02}-{day.day:02}" for day in fact.dates),
        "groups": fact.groups,
        "words": fact.words,
        "basis": fact.basis,
        "status": fact.status,
        "sources": fact.sources,
        "note": fact.note,
    }
    return {key: value for key, value in told.items() if value not in (None, "", ())}


def source_facts(flora: Flora, key: str) -> dict[str, Any]:
    """A citation and what stands on it, also under the paper's other key."""
    lead = flora.lead_source(key)
    keys = tuple(known for known in flora.sources if flora.lead_source(known) == lead)
    source = flora.sources[key]
    return {
        "group": flora.group,
        "tables": flora.tables_hash,
        "key": key,
        "keys": keys,
        "citation": source.citation,
        "status": source.status,
        "seen": source.seen,
        "address": source.address,
        "doi": source.doi,
        "facts": [
            {"table": table, "what": what_of(record)}
            for table, record, named in flora.rows()
            if not set(keys).isdisjoint(named)
        ],
    }


def list_facts(flora: Flora) -> dict[str, Any]:
    """The group's taxa in short."""
    return {
        "group": flora.group,
        "tables": flora.tables_hash,
        "taxa": [
            {
                "code": taxon.code,
                "english_name": taxon.english_name,
                "scientific_name": taxon.scientific_name,
                "pigweed": taxon.pigweed,
                "hunted": taxon.hunted,
            }
            for taxon in flora.taxa.values()
        ],
        "sources": len(flora.sources),
    }


def what_of(record: object) -> str:  # noqa: PLR0912 - one line for each kind of record
    """What a record is about, in one short line: names of the tables, not sentences."""
    match record:
        case Taxon():
            parts: tuple[str, ...] = (record.code, record.english_name)
        case Character() | Overlap() | Loss() | ActiveIngredient() | PlateRow():
            parts = (record.name,)
        case Action():
            parts = (record.id, record.action)
        case StateShares() | Measure():
            parts = (record.code, record.character, record.stage, _numbers(record))
        case Cross():
            parts = (f"{record.female} x {record.male}", ", ".join(record.setting), record.rate_words)
        case Parameter():
            parts = (record.name, record.code, record.condition, _range(record), record.unit)
        case PublishedFact():
            taxa = ", ".join(record.taxa) or record.taxa_words
            parts = (record.quantity, taxa, record.condition, _range(record), record.unit, record.of, record.words)
        case Inseparable():
            parts = (", ".join(record.codes), f"before {record.before}")
        case LawRow():
            parts = (record.state, record.code, f"listed: {record.listed}", record.class_words, f"{record.checked}")
        case Nesting():
            first, last = record.days(2024)
            parts = (record.state, f"{first:%m-%d} to {last:%m-%d}")
        case ResistanceRow():
            groups, where = ", ".join(map(str, record.groups)), ", ".join(record.states) or "everywhere"
            parts = (record.code, f"{record.kind}: groups {groups}", where)
        case CropRow():
            parts = (record.crop, record.kind)
        case _:
            raise TypeError(f"no short line for {type(record).__name__}")
    return "; ".join(part for part in parts if part)


def _numbers(row: StateShares | Measure) -> str:
    if isinstance(row, StateShares):
        return ", ".join(f"{state} {share:g}" for state, share in row.shares.items())
    return f"{row.mean:g} ({row.low:g} to {row.high:g}) {row.unit}"


def _range(row: Parameter | PublishedFact) -> str:
    low, high = ("" if value is None else f"{value:g}" for value in (row.low, row.high))
    around = f"{low} to {high}" if low and high else f"from {low}" if low else f"to {high}" if high else ""
    if row.mean is None:
        return around
    return f"{row.mean:g} ({around})" if around else f"{row.mean:g}"


def citation_line(source: Source) -> str:
    """A citation as it is printed, with its DOI."""
    return f"{source.citation}. doi:{source.doi}" if source.doi else f"{source.citation}."


def region_weights(taxon: Taxon) -> Mapping[str, float]:
    """Regions where the taxon is met with, the commonest first."""
    return dict(sorted(taxon.weights.items(), key=lambda item: -item[1]))
