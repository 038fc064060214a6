"""Which pigweeds, and how many, in plain sentences. Screen and letter say the same: both say it through here."""

from __future__ import annotations

from collections.abc import Sequence

from tepal.reading._records import Reading, TaxonReading
from tepal.words import Words

# Below this expected share a name is not worth a tired reader's time, unless it is one that we hunt.
_NAMED_SHARE = 0.1
_NAMED_CHANCE = 0.05


def who(reading: Reading, words: Words) -> str:
    """Which pigweeds and how sure, as the one sentence that answers."""
    facts = reading.facts
    if facts["none_seen"]:
        return _none_seen(reading, words)
    leading = reading.taxa.get(str(facts["leading"]))
    if leading is None:
        return _unnamed(reading, words)
    if leading.proved:
        return words.t("{name}, proved by a laboratory.", name=capital(called(leading, words)))
    if facts["named_by_sight"]:
        return words.t(
            "Called {name} by those who counted, and not looked at closely: {chance} that the name is right.",
            name=called(leading, words),
            chance=words.chance(leading.p_seen),
        )
    parts = [_name_sentence(reading, words)]
    if not facts["named_plants"]:
        # Plants of an earlier season: their seed is here, and nobody has looked at this year's.
        parts = [words.t("Nobody has looked here yet this year. In an earlier year it was this:"), *parts]
    for taxon in reading.taxa.values():
        if taxon.code == facts["leading"] or not _hunted(reading, taxon.code):
            continue
        if taxon.proved:
            # The looks of this season say another name: the two may speak of different plants.
            parts.append(
                words.t(
                    "{name} was proved here by a laboratory: ask whether its sample was of these plants.",
                    name=capital(called(taxon, words)),
                )
            )
        elif taxon.p_seen >= _NAMED_CHANCE:
            parts.append(
                words.t(
                    "{name} may be among the plants looked at: {chance}.",
                    name=capital(called(taxon, words)),
                    chance=words.chance(taxon.p_seen),
                )
            )
        elif taxon.p_any >= _NAMED_CHANCE:
            parts.append(
                words.t(
                    "No {name} among the plants looked at. Some may stand among the rest: {chance}.",
                    name=called(taxon, words),
                    chance=words.chance(taxon.p_any),
                )
            )
        else:
            parts.append(words.t("{name} is very unlikely.", name=capital(called(taxon, words))))
    if facts["reported_only"] and facts["named_plants"]:
        parts.append(words.t("This is by the photos; nobody of the office has been there."))
    return " ".join(parts)


def called(taxon: TaxonReading, words: Words) -> str:
    """The plant's name in the language of the sentence; of a cross the names of both its parents."""
    if len(taxon.parents) < 2:
        return words.t(taxon.english_name)
    one, other = (words.t(name) for name in taxon.parents)
    return words.t("a cross of {one} and {other}", one=one, other=other)


def _unnamed(reading: Reading, words: Words) -> str:
    if reading.facts["reported_only"]:
        if reading.facts["photos"]:
            return words.t(
                "Pigweeds were told of, and there are photos; nobody of the office has been there, and no plant has a "
                "name yet."
            )
        return words.t("Pigweeds were told of; nobody of the office has been there, and no plant has a name yet.")
    if reading.facts["seen_any"]:
        return words.t("Pigweeds were seen, but no plant was looked at closely enough to name.")
    if reading.facts["looked_this_season"]:
        return words.t("Somebody was here, but what was found is not on record.")
    return words.t("Nobody has looked here yet this year.")


def how_many(reading: Reading, words: Words) -> str | None:
    """How many plants of the taxa hunted, with the range that doubt leaves; None where nothing can be said."""
    told, part = _how_many(reading, words), reading.stand.of_hectares
    return told if told is None or part is None else f"{told} {only_where(part, words)}"


def only_where(hectares: float, words: Words) -> str:
    """That a number speaks of a part of the site alone."""
    return words.t(
        "That is for the {area} where counts were made, and every stop there had plants; the rest was not counted.",
        area=words.area(1e4 * hectares),
    )


def _how_many(reading: Reading, words: Words) -> str | None:
    stand, facts = reading.stand, reading.facts
    if facts["none_seen"] or (stand.total is None and stand.density_per_m2 is None):
        return None
    # Without a name on any plant, only a region's habit would make them "the kind we hunt".
    hunted = facts["leading"] is not None and _number(facts["p_hunted"]) >= 0.5
    density = stand.density_per_m2 if hunted else stand.all_density_per_m2
    total = stand.total if hunted else stand.all_total
    what = words.t("plants of the kind we hunt") if hunted else words.t("pigweeds of all kinds")
    if stand.after_work and total is not None:
        return words.t(
            "After what was pulled or cut, about {middle} {what} may be left; 9 chances in 10 that it is {range}.",
            middle=words.about(total["q50"]),
            what=what,
            range=words.between(total["q05"], total["q95"]),
        )
    if stand.basis == "plants" and total is not None:
        return words.t(
            "{seen}, and nobody has counted: there may be {range} {what}.",
            seen=words.plural("{count} was seen", "{count} were seen", stand.counted_plants),
            range=words.between(total["q05"], total["q95"]),
            what=what,
        )
    # Under a hundred plants a density says less than the number itself.
    if total is not None and density is not None and total["q50"] >= 100:
        return words.t(
            "About {middle} {what} in all; 9 chances in 10 that it is {range} ({density}).",
            middle=words.about(total["q50"]),
            what=what,
            range=words.between(total["q05"], total["q95"]),
            density=words.density(density["q50"]),
        )
    if total is not None:
        return words.t(
            "About {middle} {what} in all; 9 chances in 10 that it is {range}.",
            middle=words.about(total["q50"]),
            what=what,
            range=words.between(total["q05"], total["q95"]),
        )
    assert density is not None
    return words.t(
        "About {density}; 9 chances in 10 that it is between {low} and {high}. How many in all cannot be said "
        "without the boundary.",
        density=words.density(density["q50"]),
        low=words.density(density["q05"]),
        high=words.density(density["q95"]),
    )


def looked_at(code: str, reading: Reading) -> bool:
    """Whether any plant that was looked at, or a laboratory, speaks for this taxon."""
    taxon = reading.taxa.get(code)
    return taxon is not None and (taxon.proved or taxon.p_seen > 0)


def names(codes: Sequence[str], reading: Reading, words: Words) -> str:
    return words.listing([called(reading.taxa[code], words) for code in codes], last="or")


def _none_seen(reading: Reading, words: Words) -> str:
    share = reading.stand.seen_share
    if share is None:
        return words.t("None were seen. How much of the site was looked at is not on record, so this proves little.")
    return words.t(
        "None were seen. Of plants standing there on the day, the walk would have shown about {share} in 100; it says "
        "nothing of seedlings that came up later.",
        share=round(100 * share),
    )


def _name_sentence(reading: Reading, words: Words) -> str:
    facts = reading.facts
    if reading.alike:
        return words.t(
            "{names}, {sure}. Before they flower these cannot be told apart. Not the one we hunt; still control it.",
            names=capital(names(reading.alike, reading, words)),
            sure=words.sureness(reading.alike_chance),
        )
    leading = reading.taxa[str(facts["leading"])]
    sure = leading.p_seen
    others = [
        called(taxon, words)
        for taxon in sorted(reading.taxa.values(), key=lambda item: -_share(item))
        if taxon.code not in (leading.code, "other")
        and not _hunted(reading, taxon.code)
        and _share(taxon) >= _NAMED_SHARE
        and taxon.p_seen >= _NAMED_CHANCE
    ]
    how = words.t("proved by a laboratory") if leading.proved else words.sureness(sure)
    text = words.t("{name}, {sure}.", name=capital(called(leading, words)), sure=how)
    if others:
        text += " " + words.t("It could still be, or be mixed with, {others}.", others=words.listing(others, last="or"))
    if not _hunted(reading, leading.code) and _number(facts["p_hunted"]) < 0.2:
        text += " " + words.t("Not the one we hunt; still control it.")
    return text


def _share(taxon: TaxonReading) -> float:
    return taxon.share["mean"] if taxon.share else 0.0


def _hunted(reading: Reading, code: str) -> bool:
    return f"p_any.{code}" in reading.facts


def _number(value: object) -> float:
    return float(value) if isinstance(value, (int, float)) else 0.0


def capital(text: str) -> str:
    """A sentence begun with a capital."""
    return text[:1].upper() + text[1:]
