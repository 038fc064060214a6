"""Letters by reader: what each needs beside the advice that is meant for him, and what is left out.

A tenant gets the full letter. The others get less of it and a part of their own, through the same `LetterData`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from typing import Literal, get_args

from tepal.advice import Advice, Item, hours, seeds
from tepal.letter._asked import asked
from tepal.letter._data import Done, LetterData, Part, Said, Task, Visit
from tepal.letter._runs import dated
from tepal.reading import DoneLine, Reading, Unknown, done_in_words, on_plants, unknown_in_words
from tepal.words import Words

Reader = Literal["tenant", "owner", "applicator", "harvester"]
READERS: tuple[Reader, ...] = get_args(Reader)
# Nothing above this is advised for spraying.
_TOO_TALL_CM = 10.0
# As the cautions of the rules have it: 50 ft.
_BYSTANDERS_M = 15.24
# From this chance on that a plant we hunt is among them, the place is treated as if it were.
_MAY_BE = 0.2
_HARVESTS = ("harvest_last", "leave_patch_standing", "clean_the_combine", "cut_forage_before_flower")
# Open questions that the reader can settle, or that change what he does.
_ASKED: dict[Reader, tuple[str, ...]] = {
    "owner": ("taxon", "consent", "number"),
    "applicator": ("trait", "resistance", "crop_part", "replanted"),
    "harvester": (),
}


def for_reader(data: LetterData, reader: Reader, reading: Reading, advice: Advice) -> LetterData:
    """The letter's data for one reader. `advice` is that reader's own already (`tepal.advice.for_reader`)."""
    if reader == "tenant":
        return data
    parts = {"owner": _owner, "applicator": _applicator, "harvester": _harvester}[reader](reading, advice)
    unknowns = tuple(_unknown(item) for item in reading.unknowns if item.what in _ASKED[reader])
    short = replace(
        data,
        tasks=data.tasks or (Task(_wait(reader, reading)),),
        parts=tuple(part for part in parts if part.lines),
        unknowns=unknowns,
    )
    if reader == "owner":
        # What went into the tank is between those who farm and those who spray.
        told = tuple(Done(line.on, _without_the_tank(line)) for line in reading.done)
        return replace(short, done=told + data.done[len(told) :])
    # What was done by others, and how sure each name is, belong to those who farm and own the place.
    short = replace(short, done=(), names_shown=False, visit=Visit(), leaf=None)
    if reader == "applicator":
        return short
    return replace(short, closings=(), record=replace(short.record, sources=()))


def _without_the_tank(line: DoneLine) -> Said:
    detail = {key: value for key, value in line.detail.items() if key != "ingredients"}
    bare = replace(line, detail=detail)
    return lambda words: done_in_words(bare, words, dated=False)


def _unknown(item: Unknown) -> Said:
    return lambda words: unknown_in_words(item, words)


_WAIT: dict[Reader, Said] = {
    "owner": lambda words: words.t("Keep in touch with whoever farms the ground; nothing is asked of you now."),
    "applicator": lambda words: words.t("Wait: nothing is asked of you here now."),
    "harvester": lambda words: words.t("Nothing is asked of you here now."),
}


def _wait(reader: Reader, reading: Reading) -> Said:
    if reader == "harvester" and _hunted_may_be_here(reading) and reading.facts["ground"] in ("field", "pasture"):
        return lambda words: words.t("Wait for word before harvest, and plan to take this place last.")
    return _WAIT[reader]


def _hunted_may_be_here(reading: Reading) -> bool:
    chance = _number(reading, "p_hunted")
    return bool(reading.facts["seen_any"]) and (chance is None or chance >= _MAY_BE)


# ------------------------------------------------------------------------------------------------------------ owner


def _owner(reading: Reading, advice: Advice) -> tuple[Part, ...]:
    best = next((item for item in advice.actions if item.seed_kept_out and item.hours), None)
    costs: list[Said] = [] if advice.waiting is None else [advice.waiting.text]
    if best is not None and best.seed_kept_out and best.hours and best.seed_kept_out["q50"] >= 1:
        kept, work = best.seed_kept_out["q50"], best.hours["q50"]
        costs.append(
            lambda words: words.t(
                "Work now keeps something like {seeds} seeds out of the soil, for {hours} of work. Both are rough.",
                seeds=seeds(kept, words),
                hours=hours(work, words),
            )
        )
    if reading.facts["seen_any"]:
        if advice.waiting is None:
            costs.append(lambda words: words.t("Each week of waiting makes the plants taller and the work longer."))
        costs += [
            lambda words: words.t(
                "Once seed falls, most of it is gone only after three or four years in which none is added."
            ),
        ]
    return (
        Part(lambda words: words.t("What it costs to wait"), tuple(costs)),
        Part(
            lambda words: words.t("Who does what"),
            tuple(_who_does(i, item) for i, item in enumerate(asked(advice), 1)),
        ),
    )


def _who_does(number: int, item: Item) -> Said:
    def said(words: Words) -> str:
        if item.id in _HARVESTS:
            who = words.t("whoever harvests")
        elif "chemical" in item.tags:
            who = words.t("a licensed applicator, asked by whoever farms it")
        elif "enter" in item.tags or "machine" in item.tags:
            who = words.t("whoever farms it, with as many hands as it takes")
        else:
            who = words.t("you, or whoever you name")
        return words.t("Step {n}: {who}.", n=number, who=who)

    return said


# ------------------------------------------------------------------------------------------------------- applicator


def _applicator(reading: Reading, advice: Advice) -> tuple[Part, ...]:
    del advice
    needs: list[Said] = [_height(reading)]
    if reading.facts["ground"] == "field":
        needs.append(_crop(reading))
    needs += [
        _sprayed(line, on_plants(line, reading.place.planted))
        for line in reading.done
        if line.what == "sprayed" and line.on.year == reading.as_of.year
    ]
    failed = _failed(reading)
    if failed:
        needs.append(failed)
    reasons = [said for holds, said in _REASONS if holds(reading)]
    return (
        Part(lambda words: words.t("What the sprayer has to know"), tuple(needs)),
        Part(lambda words: words.t("Why not to spray now"), tuple(reasons)),
    )


def _height(reading: Reading) -> Said:
    seen, likely = _number(reading, "tallest_seen_cm"), _number(reading, "tallest_cm_q90")

    def said(words: Words) -> str:
        if seen is None:
            return words.t("Nobody has measured the tallest plants. Measure them first.")
        told = words.t("Tallest plant when last seen: {height}.", height=words.length(seen / 100))
        if likely is None:
            return told
        return f"{told} " + words.t(
            "By now up to {height}, nine chances in ten.", height=words.length(max(likely, seen) / 100)
        )

    return said


def _crop(reading: Reading) -> Said:
    place, facts = reading.place, reading.facts

    def said(words: Words) -> str:
        if place.crop is None:
            return words.t("No crop is on record.")
        told = words.t("Crop: {crop}", crop=words.t(place.crop))
        if facts["harvested"]:
            return words.t("{told}, already off.", told=told)
        if place.planted is not None:
            same_year = place.planted.year == reading.as_of.year
            day = words.day_month(place.planted) if same_year else dated(words, place.planted)
            told = words.t("{told}, planted {day}", told=told, day=day)
        if place.traits is None:
            return words.t("{told}. Its herbicide traits are not on record.", told=told)
        traits = words.listing([words.t(trait) for trait in place.traits]) or words.t("none")
        return words.t("{told}. Herbicide traits of the seed: {traits}.", told=told, traits=traits)

    return said


def _sprayed(line: DoneLine, on_plants: bool) -> Said:
    detail = line.detail

    def said(words: Words) -> str:
        parts = [_ingredient(item, words) for item in detail.get("ingredients", ())]
        day = words.day_month(line.on)
        told = (
            words.t("Sprayed {day} with {what}", day=day, what=words.listing(parts))
            if parts
            else words.t("Sprayed {day}; with what is not on record", day=day)
        )
        more = [
            words.t("tallest then {height}", height=words.length(detail["tallest_cm"] / 100))
            if "tallest_cm" in detail
            else "",
            *(str(detail[key]) for key in ("nozzle", "adjuvant", "weather") if key in detail),
        ]
        told = ", ".join([told, *(text for text in more if text)])
        if not detail.get("survivors"):
            return f"{told}."
        lived = (
            words.t("Plants lived through it.")
            if on_plants
            else words.t("What came up since, when it had worn off, proves no resistance.")
        )
        return f"{told}. {lived}"

    return said


def _ingredient(item: Mapping[str, object], words: Words) -> str:
    rate = f" {item['rate']:g} {item.get('unit') or ''}".rstrip() if "rate" in item else ""
    group = words.t(" (group {group})", group=item["group"]) if item.get("group") else ""
    return f"{item['name']}{rate}{group}"


def _failed(reading: Reading) -> Said | None:
    proved, tried = reading.facts["resistant_groups"], reading.facts["sprayed_groups"]
    if isinstance(proved, str):
        return lambda words: words.t(
            "Do not count on group {groups}: a laboratory found resistance here.",
            groups=words.listing(proved.split(",")),
        )
    if reading.facts["survivors"] and isinstance(tried, str):
        return lambda words: words.t(
            "Do not count on group {groups}: plants lived through it here.", groups=words.listing(tried.split(","))
        )
    return None


def _stands(reading: Reading) -> bool:
    return bool(reading.place.crop) and not reading.facts["harvested"] and reading.facts["crop_kind"] != "none"


def _over_ten(reading: Reading) -> bool:
    heights = (_number(reading, "tallest_seen_cm"), _number(reading, "tallest_cm_q90"))
    return any(height is not None and height > _TOO_TALL_CM for height in heights)


_REASONS: tuple[tuple[Callable[[Reading], bool], Said], ...] = (
    (
        lambda reading: bool(reading.facts["re_entry_open"]),
        lambda words: words.t("The re-entry time of the last spraying has not passed."),
    ),
    (
        _over_ten,
        lambda words: words.t("Plants over {height} live through sprays.", height=words.length(_TOO_TALL_CM / 100)),
    ),
    (
        lambda reading: _stands(reading) and reading.facts["traits_known"] is not True,
        lambda words: words.t("The seed's traits are not known: nothing goes over the crop."),
    ),
    (
        lambda reading: bool(reading.facts["survivors"]) or reading.facts["resistant_groups"] is not None,
        lambda words: words.t("The same site of action again leaves the ones that live."),
    ),
    (
        lambda reading: bool(reading.facts["waterway"]) or reading.facts["ground"] in ("ditch", "drainage"),
        lambda words: words.t("Water is near: only a label that names that use, and its distance."),
    ),
    (
        lambda reading: bool(reading.facts["nesting.open"]) and reading.facts["ground"] == "conservation",
        lambda words: words.t("Birds nest here now: only with the agency's leave."),
    ),
    (
        lambda reading: bool(reading.facts["reported_only"]),
        lambda words: words.t("Nobody of this office has seen the plants yet."),
    ),
)


# -------------------------------------------------------------------------------------------------------- harvester


def _harvester(reading: Reading, advice: Advice) -> tuple[Part, ...]:
    facts = reading.facts
    lines: list[Said] = []
    hunted = _hunted_may_be_here(reading)
    until = facts["pre_harvest_until"]
    if facts["pre_harvest_open"] and isinstance(until, date):
        lines.append(
            lambda words: words.t("By the label of what was sprayed, no harvest before {day}.", day=words.day(until))
        )
    asked = {item.id for item in advice.actions}
    if hunted and "harvest_last" not in asked:
        lines.append(lambda words: words.t("Take clean fields first and this place last."))
    if hunted and "clean_the_combine" not in asked:
        lines.append(lambda words: words.t("Clean the machine on this place, before it goes on the road."))
        lines.append(
            lambda words: words.t(
                "Before anyone reaches in: engine off, key out, lock on. Goggles, dust mask, a fire extinguisher at "
                "hand; others {far} away.",
                far=words.length(_BYSTANDERS_M),
            )
        )
    if "leave_patch_standing" in asked:
        lines.append(lambda words: words.t("The patch to leave is where the large discs stand on the map."))
    if hunted:
        lines.append(lambda words: words.t("No hay, feed, straw or screenings leave this place without a word to us."))
    return (Part(lambda words: words.t("The order of the day"), tuple(lines)),)


def _number(reading: Reading, key: str) -> float | None:
    value = reading.facts[key]
    return float(value) if isinstance(value, (int, float)) else None
