"""What is known, as sentences for people. Every text goes through the catalogue."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tepal.flora._describe import citation_line, region_weights, what_of
from tepal.flora._flora import Flora
from tepal.flora._parameters import Parameter
from tepal.flora._records import STAGES, Measure, Taxon
from tepal.flora._telling import Telling, telling
from tepal.words import Words

REGION_WORDS = {
    "SE": "the Southeast",
    "CB": "the Corn Belt",
    "UM": "the Upper Midwest",
    "SP": "the Southern Plains",
    "NE": "the Northeast",
}
STAGE_WORDS = {
    "cotyledon": "With seed leaves only",
    "seedling_2-4_leaf": "With two to four true leaves",
    "vegetative": "Grown, not yet in flower",
    "reproductive": "In flower",
    "mature_seed": "With ripe seed",
}
_BREEDING_WORDS = {
    "dioecious": "Male and female flowers stand on different plants, so only some of the plants set seed.",
    "monoecious": "Male and female flowers stand on one plant, so every plant can set seed.",
    "perfect": "Each flower is both male and female, so every plant can set seed.",
    "not_applicable": "",
}
_STATUS_WORDS = {
    "read": "It was read.",
    "quoted": "It was seen only as another page quotes it.",
    "recalled": "It is named from memory and was not opened: check before you quote it.",
    "derived": "It was worked out from other numbers.",
    "judgement": "It is judgement.",
}
BASIS_WORDS = {
    "measured": "measured",
    "flora_range": "from floras",
    "fact_sheet": "from fact sheets",
    "review": "from reviews",
    "judgement": "judgement",
}
_GROWTH = (
    "dd_to_10_cm",
    "height_rate",
    "final_height_cm",
    "flower_dd",
    "flower_to_seed_days",
    "seeds_per_female",
)


def messages(flora: Flora) -> Iterator[str]:
    """Texts of the tables that people read, for the message catalogue; each once, in the order of the tables."""
    texts: dict[str, None] = {}
    for taxon in flora.taxa.values():
        texts.update(dict.fromkeys((taxon.english_name, *taxon.other_names, taxon.native_range, taxon.note)))
    for character in flora.characters.values():
        texts.update(dict.fromkeys((character.label, character.question, *character.state_words.values())))
    texts.update(dict.fromkeys(flora.units.values()))
    for told in (STAGE_WORDS, REGION_WORDS, BASIS_WORDS, _STATUS_WORDS, _BREEDING_WORDS):
        texts.update(dict.fromkeys(told.values()))
    texts.update(dict.fromkeys(_meaning(row.meaning) for row in flora.declared.values()))
    texts.update(dict.fromkeys(_plain(row.condition) for row in flora.parameters.values()))
    texts.update(dict.fromkeys(text for row in flora.law.values() for text in row.messages()))
    texts.update(dict.fromkeys(text for row in flora.crops.values() for text in row.messages()))
    texts.update(dict.fromkeys(text for row in flora.plates.values() for text in row.messages()))
    return (text for text in texts if text)


def tell_list(flora: Flora, words: Words) -> Iterator[str]:
    """The group's taxa, one a line."""
    for code in (*flora.pigweeds(), *flora.look_alikes()):
        taxon = flora.taxa[code]
        line = f"{code:<10} {words.t(taxon.english_name)}, {taxon.scientific_name}"
        if taxon.hunted:
            line += words.t(" (hunted)")
        elif not taxon.pigweed:
            line += words.t(" (a look-alike while small)")
        yield line
    yield ""
    yield words.t("`tepal flora CODE` tells what is known of one; `tepal flora --source KEY` what stands on a source.")


def tell_taxon(flora: Flora, code: str, words: Words) -> Iterator[str]:
    """What is known of one taxon, as short paragraphs."""
    taxon = flora.taxa[code]
    yield words.t(
        "{name} ({code}), {scientific} {authority}.",
        name=_capital(words.t(taxon.english_name)),
        code=code,
        scientific=taxon.scientific_name,
        authority=taxon.authority.rstrip("."),
    )
    yield " ".join(
        part for part in (_standing(taxon, words), words.t(_BREEDING_WORDS[taxon.breeding] or " ").strip()) if part
    )
    if taxon.name_note:
        yield words.t("The scientific name is used here so: {note}.", note=taxon.name_note)
    if taxon.other_names:
        yield words.t("Also called {names}.", names=words.listing([words.t(name) for name in taxon.other_names]))
    if taxon.native_range:
        yield words.t("Home: {range}.", range=words.t(taxon.native_range))
    yield from _commonness(taxon, words)
    yield from _looks(flora, code, words)
    yield from _hard_to_tell(flora, code, words)
    yield from _growth(flora, code, words)
    yield from _crosses(flora, code, words)
    yield ""
    yield words.t("The words in brackets are keys of sources; `tepal flora --source KEY` tells what each one is.")


def tell_source(flora: Flora, key: str, words: Words) -> Iterator[str]:
    """A citation and what stands on it."""
    source = flora.sources[key]
    lead = flora.lead_source(key)
    keys = [known for known in flora.sources if flora.lead_source(known) == lead]
    yield f"{key}: {citation_line(source)}"
    status = words.t(_STATUS_WORDS[source.status])
    yield words.t("{status} What was seen: {seen}.", status=status, seen=source.seen) if source.seen else status
    if source.address:
        yield words.t("Found at: {address}.", address=source.address)
    if len(keys) > 1:
        others = [known for known in keys if known != key]
        yield words.t("The same paper also stands under {keys}.", keys=words.listing(others))
    facts = [(table, record) for table, record, named in flora.rows() if not set(keys).isdisjoint(named)]
    yield ""
    if not facts:
        yield words.t("Nothing in the tables stands on it.")
        return
    yield words.plural("{count} fact stands on it:", "{count} facts stand on it:", len(facts))
    for table, record in facts:
        yield f"  {table}: {what_of(record)}"


def _standing(taxon: Taxon, words: Words) -> str:
    if taxon.hunted:
        return words.t("It is one of those that are hunted.")
    if taxon.pigweed:
        return words.t("Not one that is hunted; still control it.")
    return words.t("It is none of this group, but its seedlings are taken for it; still control it.")


def _commonness(taxon: Taxon, words: Words) -> Iterator[str]:
    weights = region_weights(taxon)
    if weights:
        yield ""
        yield words.t(
            "Where it is common, out of 100 plants of the group in crop fields ({basis}):", basis=words.t("judgement")
        )
        for region, weight in weights.items():
            yield words.t(
                "  {n} in {region}",
                n=words.t("fewer than 1") if 0 < weight < 0.01 else words.number(round(100 * weight)),
                region=words.t(REGION_WORDS[region]),
            )
    if taxon.note:
        yield words.t("  Note: {note}.", note=words.t(taxon.note)) + _keys(taxon.sources)


def _looks(flora: Flora, code: str, words: Words) -> Iterator[str]:
    told = {stage: telling(flora, code, stage) for stage in STAGES}
    if not any(told.values()):
        return
    yield ""
    yield words.t("How to tell it from the others, the best looks first:")
    for stage, found in told.items():
        if found:
            yield words.t(STAGE_WORDS[stage])
        for item in found:
            yield f"  - {_look(flora, item, words)}" + _keys(item.row.sources, item.row.basis, words)


def _look(flora: Flora, item: Telling, words: Words) -> str:
    character = flora.characters[item.row.character]
    if isinstance(item.row, Measure):
        unit = words.t(flora.units[item.row.unit] or " ")
        return words.t(
            "{label}: about {mean}, from {low} to {high} {unit}; the others about {others}",
            label=words.t(character.label),
            mean=words.number(item.row.mean),
            low=words.number(item.row.low),
            high=words.number(item.row.high),
            unit=unit,
            others=words.number(item.of_others),
        ).replace("  ;", ";")
    return words.t(
        "{state}: about {n} plants in 100; of the others about {others}",
        state=words.t(character.state_words[item.state]),
        n=words.number(round(100 * item.row.shares.get(item.state, 0.0))),
        others=words.number(round(100 * item.of_others)),
    )


def _hard_to_tell(flora: Flora, code: str, words: Words) -> Iterator[str]:
    for group in flora.inseparable:
        if code in group.codes:
            others = [words.t(flora.taxa[other].english_name) for other in group.codes if other != code]
            yield words.t(
                "Nobody can tell it from {others} with confidence before this stage: {stage}.",
                others=words.listing(others, last="or"),
                stage=words.t(STAGE_WORDS[group.before]).lower(),
            ) + _keys(group.sources)


def _growth(flora: Flora, code: str, words: Words) -> Iterator[str]:
    own = [row for key, row in flora.parameters.items() if key[0] in _GROWTH and key[1] == code]
    if own:
        yield ""
        yield words.t("How it grows:")
    for row in sorted(own, key=lambda row: _GROWTH.index(row.name)):
        meaning = words.t(_meaning(flora.declared[row.name].meaning))
        if row.condition:
            meaning += f", {words.t(_plain(row.condition))}"
        yield f"  - {meaning}: {_amount(flora, row, words)}" + _keys(row.sources, row.basis, words)


def _amount(flora: Flora, row: Parameter, words: Words) -> str:
    unit = words.t(flora.units[row.unit])
    if row.low is None or row.high is None:
        return words.t("about {n} {unit}", n=words.number(row.mean or 0.0), unit=unit)
    low, high = words.number(row.low), words.number(row.high)
    if row.mean is None:
        return words.t("{low} to {high} {unit}", low=low, high=high, unit=unit)
    return words.t("about {n}, mostly {low} to {high} {unit}", n=words.number(row.mean), low=low, high=high, unit=unit)


def _crosses(flora: Flora, code: str, words: Words) -> Iterator[str]:
    partners = [
        words.t(flora.taxa[b if a == code else a].english_name) for a, b in flora.crossing_pairs() if code in (a, b)
    ]
    if partners:
        yield ""
        yield words.t("Crosses are on record with {partners}.", partners=words.listing(partners))


def _keys(sources: Sequence[str], basis: str = "", words: Words | None = None) -> str:
    parts = [words.t(BASIS_WORDS[basis])] if basis and words else []
    if sources:
        parts.append(", ".join(sources))
    return f" [{'; '.join(parts)}]" if parts else ""


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _meaning(text: str) -> str:
    # What follows a semicolon tells how the table is laid out.
    return text.partition(";")[0]


def _plain(condition: str) -> str:
    return condition.replace("_", " ")
