"""A reading and its advice as plain values that a page can be made of without reckoning anything again.

`told` is what the background makes and the store keeps: texts once for each language and system of units, figures and
dates once. It knows neither the store nor a browser.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date, datetime
from typing import Any

import numpy as np

from tepal import advice as advising
from tepal import reading as readings
from tepal.advice import Advice, Item
from tepal.flora import Flora
from tepal.ground import Frame
from tepal.ledger import Entry, Plant, event_date
from tepal.letter import Drawn, site_map, text_reply
from tepal.plant import Specimen, identify_many, name_in_words
from tepal.reading import Reading, Window
from tepal.serve._wording import LANGUAGES
from tepal.words import Words

# Told anew where the form of what is kept changes, as nothing old could then be read.
FORM = "1"
UNITS = ("us", "metric")
# Narrow in points, so that its labels can be read where it stands in the width of a phone.
_MAP_WIDE, _MAP_HIGH = 310.0, 250.0
# From this chance on that a hunted plant is among those looked at, a site is one where it stands.
STANDS, MAY_STAND = 0.8, 0.2
_NAMED = 0.8


def wording(words: Words) -> str:
    """The key of one language and system of units in what is kept."""
    return f"{words.language}-{words.units}"


def told(
    reading: Reading, advice: Advice, entries: Sequence[Entry], flora: Flora
) -> tuple[dict[str, Any], dict[str, Any]]:
    """What a list needs of a site (small), and what its own page needs. Both are JSON values.

    `entries`: those that stand on the day.
    """
    every = [Words(language, units) for language in LANGUAGES for units in UNITS]  # type: ignore[arg-type]
    document = readings.to_json(reading) | {"advice": advising.to_json(advice)}
    plants = _plants(entries, reading, flora)
    brief = _brief(reading, advice) | {
        "found": _found(reading, entries, plants),
        "words": {wording(words): _in_brief(reading, advice, words) for words in every},
    }
    behind = {**reading.why, **advising.provenance(advice)}
    page = {
        "document": document,
        "why": {pointer: asdict(stands_on) for pointer, stands_on in behind.items()},
        "names": {
            wording(words): {code: name_in_words(code, flora, words) for code in reading.taxa if code != "other"}
            for words in every
        },
        "plants": plants,
        "words": {wording(words): _whole(reading, advice, entries, flora, words) for words in every},
    }
    return brief, page


# ------------------------------------------------------------------------------------------------------------- brief


def _brief(reading: Reading, advice: Advice) -> dict[str, Any]:
    place, facts, stand = reading.place, reading.facts, reading.stand
    closes = readings.closes_next(reading)
    until, _ = _blocked(reading, advice)
    chance = facts["p_hunted"]
    return {
        "site": reading.site,
        "name": place.name,
        "ground": place.ground,
        "county": place.county,
        "state": place.state,
        "region": place.region,
        "hectares": place.hectares,
        "boundary": None if place.boundary is None else dict(place.boundary),
        "point": None if place.point is None else list(place.point),
        "centre": _centre(reading),
        "features": [dict(feature) for feature in place.features],
        "as_of": reading.as_of.isoformat(),
        "known_to": reading.known_to,
        "station": None if reading.station is None else reading.station.station,
        "seen": _seen(reading),
        "p_hunted": float(chance) if isinstance(chance, float) else None,
        "total": None if stand.total is None else float(stand.total["q50"]),
        "by": _first_day(reading, advice),
        "closes_on": None if closes is None else closes[1].isoformat(),
        "return_on": None if advice.return_on is None else advice.return_on.isoformat(),
        "blocked_until": None if until is None else until.isoformat(),
    }


def _seen(reading: Reading) -> str:
    """What stands here in one word, for a mark on a map: `hunted`, `maybe`, `other`, `none` or `nobody`."""
    facts = reading.facts
    chance = facts["p_hunted"]
    if facts["none_seen"]:
        return "none"
    if facts["leading"] is None or not isinstance(chance, float):
        return "maybe" if facts["seen_any"] or facts["reported_only"] else "nobody"
    return "hunted" if chance >= STANDS else "maybe" if chance >= MAY_STAND else "other"


def _centre(reading: Reading) -> list[float] | None:
    place = reading.place
    if place.boundary is not None:
        from shapely.geometry import shape

        frame = Frame.around(shape(dict(place.boundary)))
        return [frame.lon, frame.lat]
    return None if place.point is None else [round(place.point[0], 6), round(place.point[1], 6)]


def _first_day(reading: Reading, advice: Advice) -> str | None:
    """The day by which the first thing has to be done here; where nothing has a day, when the next window closes."""
    days = [item.by for item in advice.actions if item.by is not None]
    closes = readings.closes_next(reading)
    if closes is not None:
        days.append(closes[1])
    return min(days).isoformat() if days else None


def _blocked(reading: Reading, advice: Advice) -> tuple[datetime | None, bool]:
    """Until when nobody may go in after a spraying, as far as a label was read; and whether entry was refused."""
    moments = [item.not_before for item in advice.items() if item.not_before is not None]
    until = reading.facts["re_entry_until"]
    if reading.facts["re_entry_open"] and isinstance(until, datetime):
        moments.append(until)
    # Clocks without a zone stand in the label's own: only the latest matters, and they are of one place.
    return max(moments, key=lambda moment: moment.replace(tzinfo=None), default=None), reading.facts["consent"] is False


def _found(reading: Reading, entries: Sequence[Entry], plants: Mapping[str, Mapping[str, Any]]) -> list[dict[str, Any]]:
    """What was found here, how surely and on how many plants, for a prior of the places around it."""
    looked_at = [(entry, entry.body) for entry in entries if isinstance(entry.body, Plant)]
    last = max((event_date(entry) for entry, _ in looked_at), default=reading.as_of)
    of = dict.fromkeys(reading.taxa, 0)
    for entry, body in looked_at:
        best = plants.get(entry.id, {}).get("best")
        if best in of:
            of[best] += body.count
    return [
        {
            "code": taxon.code,
            "by": "laboratory" if taxon.proved else "eye",
            "on": last.isoformat(),
            "plants": max(of[taxon.code], 1),
        }
        for taxon in reading.taxa.values()
        if taxon.code != "other" and (taxon.proved or taxon.p_seen >= _NAMED)
    ]


def _in_brief(reading: Reading, advice: Advice, words: Words) -> dict[str, Any]:
    closes = readings.closes_next(reading)
    first = advice.actions[0] if advice.actions else None
    _, refused = _blocked(reading, advice)
    return {
        "sentence": readings.who(reading, words),
        "many": readings.how_many(reading, words),
        "closes": None if closes is None else readings.window_in_words(closes[0], reading, words),
        "do": [
            {
                "text": item.text(words),
                "by": item.by.isoformat() if item.by else None,
                "cautions": [c.text(words) for c in advice.cautions if c.key in item.cautions],
            }
            for item in advice.actions
        ],
        "first": None if first is None else first.text(words),
        "blocked": _blocked_in_words(reading, advice, words),
        "refused": refused,
    }


def _blocked_in_words(reading: Reading, advice: Advice, words: Words) -> str | None:
    until, refused = _blocked(reading, advice)
    if refused:
        return words.t("Do not go in: entry was refused.")
    if until is None:
        return None
    when = advising.Fills(re_entry=until).worded(words)["re_entry"]
    return words.t("Sprayed: nobody goes in before {re_entry}.", re_entry=when)


# ------------------------------------------------------------------------------------------------------------- whole


def _whole(reading: Reading, advice: Advice, entries: Sequence[Entry], flora: Flora, words: Words) -> dict[str, Any]:
    many = readings.how_many(reading, words)
    drawn = site_map(reading, entries, words, width=_MAP_WIDE, high=_MAP_HIGH, clip_id="site-map")
    waiting, spray = advice.waiting, advice.spray_days
    return {
        "who": readings.who(reading, words),
        "many": many,
        "frost": readings.frost(words) if reading.facts["season_over"] is True and reading.facts["seen_any"] else None,
        "blocked": _blocked_in_words(reading, advice, words),
        "do": [_item(item, f"/advice/actions/{i}", advice, words) for i, item in enumerate(advice.actions)],
        "do_nots": [_item(item, f"/advice/do_nots/{i}", advice, words) for i, item in enumerate(advice.do_nots)],
        "later": [_item(item, f"/advice/later/{i}", advice, words) for i, item in enumerate(advice.later)],
        "programme": [_item(item, f"/advice/programme/{i}", advice, words) for i, item in enumerate(advice.programme)],
        "cautions": [
            {"about": caution.about, "text": caution.text(words), "why": f"/advice/cautions/{i}"}
            for i, caution in enumerate(advice.cautions)
        ],
        "costs": [
            {"text": part.text(words), "why": pointer}
            for part, pointer in ((waiting, "/advice/waiting"), (spray, "/advice/spray_days"))
            if part is not None
        ],
        "windows": [_window(item, reading, words) for item in readings.windows_shown(reading)],
        "done": [
            {"text": readings.done_in_words(line, words), "why": f"/done/{i}"} for i, line in enumerate(reading.done)
        ],
        "unknowns": [readings.unknown_in_words(item, words) for item in reading.unknowns],
        "warnings": [readings.warning_in_words(line, words) for line in reading.warnings],
        "reply": text_reply(reading, advice, entries=entries, flora=flora, words=words),
        "map": None if drawn is None else _map(drawn),
    }


def _item(item: Item, pointer: str, advice: Advice, words: Words) -> dict[str, Any]:
    return {
        "text": item.text(words),
        "when": item.when(words),
        "by": item.by.isoformat() if item.by else None,
        "late": item.late,
        "reason": item.why(words),
        "fails": item.fails(words),
        "cautions": [caution.text(words) for caution in advice.cautions if caution.key in item.cautions],
        "why": pointer,
    }


def _window(item: Window, reading: Reading, words: Words) -> dict[str, Any]:
    return {
        "text": readings.window_in_words(item, reading, words),
        "why": f"/windows/{reading.windows.index(item)}",
        "on": None if item.q10 is None else item.q10.isoformat(),
        "past": item.share_past,
    }


def _map(drawn: Drawn) -> dict[str, Any]:
    return {"svg": drawn.svg, "alt": drawn.alt}


def _plants(entries: Sequence[Entry], reading: Reading, flora: Flora) -> dict[str, dict[str, Any]]:
    """By the id of each plant looked at: its likeliest name and how sure, each by itself."""
    looked_at = [(entry.id, entry.body) for entry in entries if isinstance(entry.body, Plant) and entry.body.looks]
    named = identify_many(
        [Specimen(dict(body.looks), readings.stage_of(body), reading.place.region) for _, body in looked_at],
        flora=flora,
    )
    return {
        id: {"best": named.taxa[int(row.argmax())], "p": float(row.max())}
        for (id, _), row in zip(looked_at, named.posterior, strict=True)
        if np.isfinite(row).all()
    }


def day(text: str | None) -> date | None:
    """A day as it is kept, back as a date."""
    return None if text is None else date.fromisoformat(text)
