"""A reading, its advice and the entries behind them, as the data of one letter.

What is left out is left out on purpose: no chance that rests on a default prior, no name of a person beside the signer.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from shapely.geometry import shape

from tepal.advice import Advice, Item
from tepal.doubt import Provenance
from tepal.flora import Flora
from tepal.ground import Frame
from tepal.ledger import Entry, Move, Plant, Report, Stop, Walk, event_date
from tepal.letter._asked import asked, brief, care, worded
from tepal.letter._data import (
    Closing,
    Count,
    Done,
    Feature,
    Find,
    LetterData,
    Looks,
    MapData,
    Record,
    Said,
    Signer,
    Task,
    Visit,
)
from tepal.letter._data import Plant as Named
from tepal.letter._data import Stop as MapStop
from tepal.letter._runs import capital
from tepal.reading import (
    DoneLine,
    Reading,
    Unknown,
    done_in_words,
    looked_at,
    unknown_in_words,
    who_in_words,
    windows_shown,
)

# A plant is drawn with a name from this sureness on; below it the mark stays unnamed.
_NAMED_ON_MAP = 0.8


def letter_data(
    reading: Reading,
    advice: Advice,
    *,
    entries: Sequence[Entry],
    flora: Flora,
    signer: Signer | None = None,
    office: str = "",
    to: str = "",
    reader: str = "tenant",
    stands_on: Provenance | None = None,
) -> LetterData:
    """Everything that the letter about one site says on one day. `entries`: those that stand, for the map."""
    place = reading.place
    season = [entry for entry in entries if event_date(entry).year == reading.as_of.year]
    point = None if place.boundary is not None or place.point is None else _degrees(*place.point)
    where = (place.county and f"{place.county} County", place.state, place.legal, point)
    return LetterData(
        site=place.name,
        as_of=reading.as_of,
        looks=_looks(reading, season),
        record=Record(
            reading.known_to, reading.tables, reading.version, () if stands_on is None else _cited(stands_on, flora)
        ),
        plants=_plants(reading, flora),
        count=_count(reading),
        closings=tuple(
            Closing(
                window.name,
                window.q10,
                window.q50,
                window.q90,
                past=window.share_past,
                # One of several that nobody can tell apart has no dates of its own.
                english=reading.taxa[window.taxon].english_name.partition(" (")[0]
                if window.taxon in reading.taxa and window.taxon not in reading.alike
                else "",
                supposed=window.taxon in reading.taxa and not looked_at(window.taxon, reading),
            )
            for window in windows_shown(reading)
        ),
        season_over=reading.facts["season_over"] is True,
        organic=reading.facts["organic"] is True,
        tasks=tuple(_task(item, reader, advice) for item in asked(advice)),
        do_nots=tuple(_task(item, reader, advice) for item in advice.do_nots),
        cautions=tuple(caution.text for caution in advice.cautions),
        done=tuple(Done(line.on, _done(line)) for line in reading.done) + _taken_away(reading, season),
        unknowns=tuple(_unknown(item) for item in reading.unknowns),
        visit=Visit(advice.return_on),
        signer=signer or Signer(),
        to=to,
        office=office,
        place=tuple(part for part in where if part),
        hectares=place.hectares,
        alike=tuple(reading.taxa[code].english_name for code in reading.alike),
        alike_share=reading.alike_chance,
        # The rules decide what a first find is: waterhemp is none where it is common.
        first_find=any(item.id.startswith("first_find") for item in advice.actions),
        map=map_data(reading, season),
    )


def _cited(stands_on: Provenance, flora: Flora) -> tuple[str, ...]:
    """Citations in the order of the alphabet; a key without one stands for itself."""
    cited = (flora.sources[key].citation if key in flora.sources else key for key in stands_on.sources)
    return tuple(sorted(set(cited), key=str.casefold))


def _task(item: Item, reader: str, advice: Advice) -> Task:
    # The label outranks every date of ours, so it stands beside the step itself.
    barred = None if item.not_before is None else _not_before(item)
    return Task(worded(item, reader), item.by, item.why, item.fails, barred, brief(item, advice), care(item, advice))


def _not_before(item: Item) -> Said:
    return lambda words: words.t("Nobody goes in before {re_entry}.", **item.fills.worded(words))


def _done(line: DoneLine) -> Said:
    return lambda words: done_in_words(line, words, dated=False)


def _taken_away(reading: Reading, season: Sequence[Entry]) -> tuple[Done, ...]:
    """What left this place, without a word of where it went: that is another's."""
    return tuple(
        Done(event_date(entry), _went(entry.body))
        for entry in season
        if isinstance(entry.body, Move) and entry.body.from_site in (None, reading.site, reading.name)
    )


def _went(move: Move) -> Said:
    what = capital(move.what) + (f" ({move.tag})" if move.tag else "")
    return lambda words: words.t("{what}: taken away from here.", what=what)


def _degrees(lon: float, lat: float) -> str:
    """A place as a letter's head shows it, to about a metre."""
    return f"{abs(lat):.5f}° {'N' if lat >= 0 else 'S'}, {abs(lon):.5f}° {'E' if lon >= 0 else 'W'}"


def _unknown(item: Unknown) -> Said:
    return lambda words: unknown_in_words(item, words)


def _looks(reading: Reading, season: Sequence[Entry]) -> Looks:
    facts = reading.facts
    seen_on = [event_date(entry) for entry in season if _by_eye(entry)]
    reports = [(event_date(entry), entry.body) for entry in season if isinstance(entry.body, Report)]
    if facts["none_seen"]:
        metres = sum(_walked(entry.body) for entry in season if isinstance(entry.body, Walk))
        # No p_missed: it would rest on a default prior, which has no place in a letter.
        return Looks("none", max(seen_on, default=None), walked_m=metres, seen_share=reading.stand.seen_share)
    told = None if facts["named_plants"] else _told(reading)
    if facts["reported_only"]:
        on, how = (reports[-1][0], reports[-1][1].how) if reports else (None, "")
        return Looks("report", on, how, plants=_count_plants(facts["named_plants"]))
    if not facts["looked_this_season"]:
        return Looks("nobody", told=_told(reading))
    return Looks(
        "plants",
        max(seen_on, default=None),
        stops=reading.stand.stops,
        plants=_count_plants(facts["named_plants"]),
        seen_share=reading.stand.seen_share,
        told=told,
    )


def _told(reading: Reading) -> Said:
    return lambda words: who_in_words(reading, words)


def _count_plants(value: object) -> int:
    return int(value) if isinstance(value, (int, float)) else 0


def _by_eye(entry: Entry) -> bool:
    body = entry.body
    return isinstance(body, (Stop, Walk)) or (isinstance(body, Plant) and body.seen_by == "eye")


def _walked(walk: Walk) -> float:
    if walk.track is None:
        return 0.0
    line = shape(walk.track)
    return float(Frame.around(line).geometry_to_metres(line).length)


def _plants(reading: Reading, flora: Flora) -> tuple[Named, ...]:
    if not (
        reading.facts["named_plants"] or reading.facts["none_seen"] or any(t.proved for t in reading.taxa.values())
    ):
        return ()  # nothing but a region's habit, or a name that nobody checked, would stand behind a chance
    if not reading.taxa:  # none seen: the letter still names those that were looked for
        return tuple(_named(code, flora.taxa[code].english_name, flora, p_any=0.0) for code in flora.hunted())
    return tuple(
        _named(
            taxon.code,
            taxon.english_name,
            flora,
            # How sure the name of the plants looked at is; what may stand unseen is the second page's.
            p_any=taxon.p_seen if reading.facts["named_plants"] else taxon.p_any,
            share=taxon.share["mean"] if taxon.share else 0.0,
            proved=taxon.proved,
        )
        for taxon in reading.taxa.values()
        if taxon.code in flora.taxa
    )


def _named(code: str, english: str, flora: Flora, *, p_any: float, share: float = 0.0, proved: bool = False) -> Named:
    taxon = flora.taxa[code]
    # The note behind the name, such as "(incl. …)", belongs to the tables and not to a letter.
    scientific = taxon.scientific_name.partition(" (")[0]
    return Named(code, english.partition(" (")[0], scientific, taxon.hunted, p_any, share, proved)


def _count(reading: Reading) -> Count | None:
    stand = reading.stand
    chance = reading.facts["p_hunted"]
    hunted = reading.facts["leading"] is not None and isinstance(chance, float) and chance >= 0.5
    total = stand.total if hunted else stand.all_total
    density = stand.density_per_m2 if hunted else stand.all_density_per_m2
    if total is None:
        return None
    return Count(
        total["q05"], total["q50"], total["q95"], density["q50"] if density else None, hunted, stand.of_hectares
    )


def map_data(reading: Reading, season: Sequence[Entry]) -> MapData:
    place = reading.place
    boundary = shape(dict(place.boundary)) if place.boundary is not None else None
    if boundary is not None:
        frame = Frame.around(boundary)
    elif place.point is not None:
        frame = Frame(*place.point)
    else:
        return MapData()
    stops, finds, tracks = [], [], []
    for entry in season:
        body = entry.body
        if isinstance(body, Stop) and body.at is not None:
            x, y = frame.to_metres(body.at)
            stops.append(MapStop(float(x), float(y), sum(tally.count for tally in body.counts)))
        elif isinstance(body, Plant) and body.at is not None:
            finds.append(_find(body, frame, reading))
        elif isinstance(body, Walk) and body.track is not None:
            tracks.append(frame.geometry_to_metres(shape(body.track)))
    told, error = _told_place(reading, season)
    return MapData(
        boundary=None if boundary is None else frame.geometry_to_metres(boundary),
        point=None if told is None else _point(frame, told),
        point_error_m=error,
        stops=tuple(stops),
        finds=tuple(finds),
        tracks=tuple(tracks),
        features=tuple(_feature(feature, frame) for feature in place.features if feature.get("geometry")),
    )


def _told_place(reading: Reading, season: Sequence[Entry]) -> tuple[tuple[float, float] | None, float]:
    """The place that somebody named, and its error in metres: of the newest report that has one, where nobody of the
    office has seen for himself; else the site's own point, where no boundary is known."""
    places = [entry.body.place for entry in season if isinstance(entry.body, Report) and entry.body.place is not None]
    places = [place for place in places if place.point is not None]
    own = None if reading.place.boundary is not None else reading.place.point
    if places and (reading.facts["reported_only"] or own is not None):
        return places[-1].point, places[-1].error_m or 0.0
    return own, 0.0


def _point(frame: Frame, lonlat: tuple[float, float]) -> tuple[float, float]:
    x, y = frame.to_metres(lonlat)
    return float(x), float(y)


def _find(plant: Plant, frame: Frame, reading: Reading) -> Find:
    x, y = _point(frame, plant.at)  # type: ignore[arg-type]  # asked for above
    leading = reading.taxa.get(str(reading.facts["leading"]))
    if leading is None or leading.p_seen < _NAMED_ON_MAP or reading.alike:
        return Find(x, y)
    return Find(x, y, leading.english_name, f"p_any.{leading.code}" in reading.facts)


def _feature(feature: Any, frame: Frame) -> Feature:
    return Feature(feature["kind"], frame.geometry_to_metres(shape(feature["geometry"])), feature.get("name") or "")
