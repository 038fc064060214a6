"""What an entry says, in a line for people."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from tepal.ledger._bodies import (
    Crop,
    Done,
    Drill,
    Forgotten,
    Letter,
    Move,
    Note,
    Party,
    Photo,
    Plant,
    Report,
    Sample,
    Site,
    Sound,
    Stop,
    Walk,
    Withdraw,
)
from tepal.ledger._entry import Entry
from tepal.ledger._said import done_said, ground_said, roles_said, small_area, stage_said, step_said
from tepal.words import Words

_MOST = 160


def says(entry: Entry, words: Words, *, taxa: Mapping[str, str] | None = None) -> str:
    """What was seen, said or done, in at most `_MOST` signs; remarks stand at the end as far as there is room.

    `taxa`: names of plants by code; a code that it has not is told as it is.
    """
    body = entry.body
    if isinstance(body, (Stop, Sample)):
        names = taxa or {}
        told = _stop(body, words, names) if isinstance(body, Stop) else _sample(body, words, names)
    else:
        told = _BY_KIND.get(entry.kind, _other)(body, words)
    remark = getattr(entry.body, "words", None)
    if remark and not isinstance(entry.body, (Report, Note)):
        told += f" “{' '.join(remark.split())}”"
    return told if len(told) <= _MOST else told[: _MOST - 1].rstrip() + "…"


def _site(body: Site, words: Words) -> str:
    known = (
        words.t("boundary")
        if body.boundary
        else words.t("a point")
        if body.point
        else body.legal or words.t("no place yet")
    )
    return words.t("{name}, {ground}: {place}.", name=body.name, ground=ground_said(body.ground, words), place=known)


def _crop(body: Crop, words: Words) -> str:
    traits = (
        words.t("trait not known")
        if body.traits is None
        else words.listing(body.traits)
        if body.traits
        else words.t("no trait")
    )
    planted = words.t(", planted {day}", day=words.day_month(body.planted)) if body.planted else ""
    crop = words.t(body.crop)
    crop = crop[:1].upper() + crop[1:]
    return words.t("{crop} {year}, {traits}{planted}.", crop=crop, year=body.year, traits=traits, planted=planted)


def _party(body: Party, words: Words) -> str:
    consent = {
        True: words.t("may be entered"),
        False: words.t("entry refused"),
        None: words.t("not asked about entering"),
    }[body.consent_to_enter]
    named = roles_said(words)
    roles = words.listing([named[role] for role in body.roles])
    return words.t("{name} ({roles}): {consent}.", name=body.name, roles=roles, consent=consent)


def _report(body: Report, words: Words) -> str:
    how = {
        "call": words.t("a call"),
        "text": words.t("a text"),
        "visit": words.t("a visit"),
        "letter": words.t("a letter"),
    }[body.how]
    who = words.t(" from {who}", who=body.who) if body.who else ""
    return words.t("{how}{who}: “{words}”", how=how, who=who, words=" ".join(body.words.split()))


def _walk(body: Walk, words: Words) -> str:
    if body.found is None:
        return words.t("Walked.")
    if body.found == 0:
        return words.t("Walked; none seen.")
    return words.plural("Walked; {count} plant found.", "Walked; {count} plants found.", body.found)


def _stop(body: Stop, words: Words, taxa: Mapping[str, str]) -> str:
    area = body.looked_at_m2
    where = "" if area is None else words.t(" on {area}", area=small_area(area, words))
    total = sum(tally.count for tally in body.counts)
    if not total:
        return words.t("Nothing seen{where}.", where=where)
    names = {"pigweed": words.t("unnamed pigweed")} | dict(taxa)
    counted: dict[str, int] = {}
    for tally in body.counts:
        counted[tally.taxon] = counted.get(tally.taxon, 0) + tally.count
    listed = words.listing([f"{words.number(count)} {names.get(taxon, taxon)}" for taxon, count in counted.items()])
    return words.t("Counted {plants}{where}.", plants=listed, where=where)


def _plant(body: Plant, words: Words) -> str:
    looks = ", ".join(f"{name} = {value}" for name, value in list(body.looks.items())[:3])
    return words.t(
        "A plant, {stage}: {looks}.", stage=stage_said(body.stage, words), looks=looks or words.t("no looks")
    )


def _photo(body: Photo, words: Words) -> str:
    return words.t("A photo ({name}…).", name=body.sha256[:8])


def _sound(body: Sound, words: Words) -> str:
    if body.words:
        return words.t("A voice note: “{words}”", words=" ".join(body.words.split()))
    if body.seconds is None:
        return words.t("A voice note.")
    seconds = max(1, round(body.seconds))
    return words.plural("A voice note of {count} second.", "A voice note of {count} seconds.", seconds)


def _done(body: Done, words: Words) -> str:
    what = ", ".join(
        " ".join(str(part) for part in (one.name, one.rate and f"{one.rate:g}", one.unit) if part)
        for one in body.ingredients
    )
    return words.t("{what}{detail}.", what=done_said(body.what, words), detail=f": {what}" if what else "")


def _move(body: Move, words: Words) -> str:
    to = body.to_site or body.to_words or words.t("nobody said where")
    told = words.t(
        "{what} from {start} to {end}", what=body.what, start=body.from_site or words.t("nobody said where"), end=to
    )
    return told + (f" ({body.tag})." if body.tag else ".")


def _sample(body: Sample, words: Words, taxa: Mapping[str, str]) -> str:
    found = {
        "resistant": words.t("resistant"),
        "susceptible": words.t("susceptible"),
        "mixed": words.t("mixed"),
    }
    groups = [
        words.t("group {group} {found}", group=group, found=found[one]) for group, one in (body.resistant or {}).items()
    ]
    results = [taxa.get(body.taxon, body.taxon)] if body.taxon else []
    result = words.listing([*results, *groups])
    step = step_said(body.step, words)
    return words.t("{step}: {result}.", step=step, result=result) if result else f"{step}."


def _letter(body: Letter, words: Words) -> str:
    signed = words.t(", signed by {name}", name=body.signed_by) if body.signed_by else ""
    return words.t("A letter to {to}{signed}.", to=body.to or words.t("nobody named"), signed=signed)


def _drill(body: Drill, words: Words) -> str:
    return words.plural("Practice: {count} answer.", "Practice: {count} answers.", len(body.answers))


def _note(body: Note, _words: Words) -> str:
    return " ".join(body.words.split())


def _withdraw(body: Withdraw, words: Words) -> str:
    return words.t("Taken back: {reason}.", reason=body.reason) if body.reason else words.t("Taken back.")


def _forgotten(body: Forgotten, words: Words) -> str:
    return words.t("Forgotten at a person's wish; it was a {kind} entry.", kind=body.was)


def _other(_body: Any, words: Words) -> str:
    return words.t("An entry.")


_BY_KIND: dict[str, Callable[[Any, Words], str]] = {
    "site": _site,
    "crop": _crop,
    "party": _party,
    "report": _report,
    "walk": _walk,
    "plant": _plant,
    "photo": _photo,
    "sound": _sound,
    "done": _done,
    "move": _move,
    "letter": _letter,
    "drill": _drill,
    "note": _note,
    "withdraw": _withdraw,
    "forgotten": _forgotten,
}
