"""What the law table and the nesting table say of a site: facts that rules ask for. No row is no fact."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from tepal.doubt import Provenance
from tepal.flora import Flora, LawRow
from tepal.reading._records import Fact, Place, TaxonReading

# From this chance on that a hunted taxon is here, its law is worth a sentence.
_MAY_BE_HERE = 0.2
# How the keys of these facts begin.
LAW_KEYS = ("law.", "nesting.")
_KEYS = ("law.listed", "law.taxon", "law.class", "law.tell", "law.how_soon", "law.must", "law.transport",
         "law.checked", "law.status")  # fmt: skip
_WEIGHT = {"yes": 3, "county": 2, "seed": 1, "no": 0}


def law_facts(place: Place, taxa: Mapping[str, TaxonReading], as_of: date, flora: Flora) -> dict[str, Fact]:
    """Facts of the taxon that may be here and that the law is strictest about; of none where no row is held."""
    row = _strictest(place, taxa, flora)
    season = flora.nesting.get((place.state or "").upper())
    first, last = season.days(as_of.year) if season else (None, None)
    nesting: dict[str, Fact] = {
        "nesting.open": None if first is None or last is None else first <= as_of <= last,
        "nesting.until": last,
    }
    if row is None:
        return dict.fromkeys(_KEYS) | nesting
    values: tuple[Fact, ...] = (row.listed, row.code, row.class_words, row.tell, row.how_soon, row.must, row.transport,
                                row.checked, row.status)  # fmt: skip
    return {key: value or None for key, value in zip(_KEYS, values, strict=True)} | nesting


def law_sources(place: Place, taxa: Mapping[str, TaxonReading], flora: Flora) -> Provenance:
    """What the law and nesting facts stand on."""
    row, season = _strictest(place, taxa, flora), flora.nesting.get((place.state or "").upper())
    keys = (row.sources if row else ()) + (season.sources if season else ())
    return Provenance(keys, "review") if keys else Provenance()


def _strictest(place: Place, taxa: Mapping[str, TaxonReading], flora: Flora) -> LawRow | None:
    here = sorted(
        (taxon for taxon in taxa.values() if taxon.code in flora.hunted() and taxon.p_any >= _MAY_BE_HERE),
        key=lambda taxon: (-taxon.p_any, taxon.code),
    )
    rows = [row for taxon in here if (row := flora.law_of(place.state, taxon.code)) is not None]
    # "no" is an answer only where it was read for every taxon that may be here.
    if rows and all(row.listed == "no" for row in rows) and len(rows) < len(here):
        return None
    return max(rows, key=lambda row: _WEIGHT[row.listed], default=None)
