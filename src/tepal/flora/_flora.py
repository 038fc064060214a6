"""The flora: everything that is published and judged about one weed group, ready to look up."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from types import MappingProxyType

from tepal.flora._acting import Inseparable, Loss
from tepal.flora._crops import CropRow
from tepal.flora._law import LawKey, LawRow, Nesting
from tepal.flora._parameters import Declared, Parameter
from tepal.flora._plates import PlateRow
from tepal.flora._records import (
    ALL_TAXA,
    REGIONS,
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
from tepal.tables import Refused, Where

ShareKey = tuple[str, str, str]


@dataclass(frozen=True, slots=True, eq=False)
class Flora:
    """One weed group's tables, validated. All mappings keep the order of the tables and are read-only.

    `shares` and `measures` are keyed by (code, character, stage); a stage may be `any`. `tables_hash` is the hash of
    the files' bytes: the same hash, the same numbers. `portrait` says which character gives a trait of a drawn plant.
    """

    group: str
    taxa: Mapping[str, Taxon]
    characters: Mapping[str, Character]
    overlaps: Mapping[str, Overlap]
    shares: Mapping[ShareKey, StateShares]
    measures: Mapping[ShareKey, Measure]
    crosses: tuple[Cross, ...]
    declared: Mapping[str, Declared]
    parameters: Mapping[ShareKey, Parameter]
    published: tuple[PublishedFact, ...]
    ingredients: Mapping[str, ActiveIngredient]
    actions: Mapping[str, Action]
    sources: Mapping[str, Source]
    units: Mapping[str, str]
    look_alike_weights: Mapping[str, float]
    inseparable: tuple[Inseparable, ...]
    losses: Mapping[str, Loss]
    law: Mapping[LawKey, LawRow]
    nesting: Mapping[str, Nesting]
    resistance: tuple[ResistanceRow, ...]
    crops: Mapping[str, CropRow]
    plates: Mapping[str, PlateRow]
    portrait: Mapping[str, str]
    tables_hash: str

    def taxon(self, code: str, *, where: Where | str = "command line") -> Taxon:
        """The taxon of a code; case does not matter. Refused with the nearest codes and names when unknown."""
        wanted = code.strip().upper()
        found = self.taxa.get(wanted)
        if found is not None:
            return found
        named = self._named(code.strip().casefold())
        if named:
            step = f"Did you mean {' or '.join(f'{known} ({self.taxa[known].english_name})' for known in named)}?"
        else:
            near = get_close_matches(wanted, self.taxa, n=3, cutoff=0.5)
            step = f"Did you mean {' or '.join(near)}?" if near else "Choose one of these."
        raise Refused(
            f"no taxon {code!r}",
            where=where,
            rule=f"A taxon is named by its code: {', '.join(self.taxa)}.",
            step=step,
        )

    def _named(self, text: str) -> list[str]:
        """Codes of taxa whose English or scientific name holds the text, or comes near it."""
        names = {
            name.casefold(): taxon.code
            for taxon in self.taxa.values()
            for name in (taxon.english_name, taxon.scientific_name, *taxon.other_names)
        }
        holding = [names[name] for name in names if text and text in name]
        near = [names[name] for name in get_close_matches(text, names, n=1, cutoff=0.6)]
        return list(dict.fromkeys(holding or near))[:3]

    def source(self, key: str, *, where: Where | str = "command line") -> Source:
        """The citation of a key; case does not matter. Refused with the nearest keys when unknown."""
        wanted = key.strip()
        folded = {known.casefold(): known for known in self.sources}
        found = self.sources.get(wanted) or self.sources.get(folded.get(wanted.casefold(), ""))
        if found is not None:
            return found
        near = [folded[known] for known in get_close_matches(wanted.casefold(), folded, n=5, cutoff=0.4)]
        raise Refused(
            f"no source {key!r}",
            where=where,
            rule=f"The citation table of {self.group} has {len(self.sources)} keys.",
            step=f"Nearest: {', '.join(near)}." if near else f"Look in the sources.csv of {self.group}.",
        )

    def lead_source(self, key: str) -> str:
        """The leading key where one paper stands under two."""
        return self.sources[key].same_as or key

    def look(self, code: str, character: str, stage: str) -> StateShares | Measure | None:
        """What is known of a character in a taxon at a stage, else at `any` stage, else None."""
        for key in ((code, character, stage), (code, character, "any")):
            found = self.shares.get(key) or self.measures.get(key)
            if found is not None:
                return found
        return None

    def characters_at(self, stage: str) -> tuple[str, ...]:
        """Characters that can be looked at in this stage and are told of some taxon, in the order of the tables."""
        told = {
            character for table in (self.shares, self.measures) for (_, character, at) in table if at in (stage, "any")
        }
        return tuple(name for name, character in self.characters.items() if character.look and name in told)

    def pigweeds(self) -> tuple[str, ...]:
        """Codes of the weed group itself, without look-alikes."""
        return tuple(code for code, taxon in self.taxa.items() if taxon.pigweed)

    def look_alikes(self) -> tuple[str, ...]:
        """Codes of look-alikes."""
        return tuple(code for code, taxon in self.taxa.items() if not taxon.pigweed)

    def hunted(self) -> tuple[str, ...]:
        """Codes of the taxa that are hunted."""
        return tuple(code for code, taxon in self.taxa.items() if taxon.hunted)

    def weights(self, region: str | None) -> Mapping[str, float]:
        """How common each taxon of the group is in a region's crop fields; sums to 1. None: the mean of all regions."""
        if region is not None and region not in REGIONS:
            raise Refused(
                f"no region {region!r}",
                where="region",
                rule=f"A region is one of {', '.join(REGIONS)}.",
                step="Choose one, or leave it out.",
            )
        regions = REGIONS if region is None else (region,)
        return MappingProxyType(
            {code: sum(self.taxa[code].weights[r] for r in regions) / len(regions) for code in self.pigweeds()}
        )

    def law_of(self, state: str | None, code: str) -> LawRow | None:
        """What the law of a state (two letters) says of a taxon; None where the table holds no row."""
        return self.law.get(((state or "").strip().upper(), code))

    def crop(self, name: str | None) -> CropRow | None:
        """A crop by any of its names, whether grown as organic or not; None where the table does not know it."""
        return self.crops.get(" ".join((name or "").split()).casefold().removeprefix("organic "))

    def look_alike_weight(self, stage: str) -> float:
        """The share of look-alikes, all together, among the plants that someone takes for this group at a stage."""
        return self.look_alike_weights.get(stage, 0.0)

    def crossing_pairs(self) -> tuple[tuple[str, str], ...]:
        """Pairs of different taxa of which hybrids are documented, each pair sorted by code."""
        pairs = {
            (min(cross.female, cross.male), max(cross.female, cross.male))
            for cross in self.crosses
            if cross.found and cross.male not in (ALL_TAXA, cross.female)
        }
        return tuple(sorted(pairs))

    def parameter(self, name: str, code: str, condition: str = "") -> Parameter:
        """The parameter of a taxon under a condition, else that of all taxa (`*`) under it.

        Raises
        ------
        KeyError
            If there is none: a model must not go on with a number that nobody gave.
        """
        for key in ((name, code, condition), (name, ALL_TAXA, condition)):
            found = self.parameters.get(key)
            if found is not None:
                return found
        known = [key for key in self.parameters if key[0] == name]
        raise KeyError(f"no parameter {name!r} for {code!r}, condition {condition!r}; there are {known}")

    def rows(self) -> Iterator[tuple[str, object, tuple[str, ...]]]:
        """Every record that names sources, as (table, record, source keys)."""
        for table, records in (
            ("taxa.csv", self.taxa.values()),
            ("characters.csv", self.characters.values()),
            ("overlaps.csv", self.overlaps.values()),
            ("shares.csv", self.shares.values()),
            ("measures.csv", self.measures.values()),
            ("crosses.csv", self.crosses),
            ("parameters", self.parameters.values()),
            ("published.csv", self.published),
            ("inseparable.csv", self.inseparable),
            ("losses.csv", self.losses.values()),
            ("law.csv", self.law.values()),
            ("nesting.csv", self.nesting.values()),
            ("resistance.csv", self.resistance),
            ("crops.csv", {row.crop: row for row in self.crops.values()}.values()),
            ("plates.toml", self.plates.values()),
            ("ingredients.csv", self.ingredients.values()),
            ("actions.csv", self.actions.values()),
        ):
            for record in records:
                yield table, record, record.sources
