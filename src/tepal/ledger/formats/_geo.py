"""What the features of map files mean to the record: a polygon is a boundary, a line a walk, a point a note."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from tepal.ledger._entry import Entry
from tepal.ledger.formats._boundaries import Boundaries, SiteDraft, site_named, text_of
from tepal.ledger.formats._carried import ELSEWHERE, brought_back
from tepal.ledger.formats._columns import words_of
from tepal.ledger.formats._drafts import DATE, SITE, Defaults, Draft, Vocabulary, present
from tepal.ledger.formats._features import Feature, shapes_of
from tepal.tables import Refused, Where, parse_date

_USED = {"name", "description", *SITE.names, *DATE.names}

# "12 waterhemp", "12 x waterhemp", "waterhemp: 12"; not "waterhemp 12", which may be the twelfth of its name.
_COUNT = re.compile(r"(?P<n>\d{1,5})\s*[x×]?\s+(?P<what>[^\d].*)|(?P<what2>[^\d:=]+)[:=]\s*(?P<n2>\d{1,5})", re.ASCII)


@dataclass(slots=True)
class GeoDrafts:
    """What a map file says, the features that were refused, and what was understood."""

    sites: list[SiteDraft] = field(default_factory=list)
    rows: list[Draft] = field(default_factory=list)
    entries: list[tuple[Entry, Where]] = field(default_factory=list)
    """What a file of ours brings back whole."""
    refused: list[Refused] = field(default_factory=list)
    said: list[str] = field(default_factory=list)


def drafts_of(
    features: Iterable[Feature], *, file: str, stem: str, defaults: Defaults, words: Vocabulary, made: date | None
) -> GeoDrafts:
    """Sites, walks, stops and notes of a map file.

    The site of a line or point is `--site`, else what it says, else the boundary of the same file that it lies in,
    else the file's name (`stem`). Its day is its own, else `--on`, else that on which the file says it was `made`.

    Raises
    ------
    Refused
        If there is no feature at all.
    """
    reading = _Reading(stem, defaults, words, made)
    for feature in features:
        reading.add(feature)
    if not reading.count:
        raise Refused("no feature", where=file, rule="A map file has a shape in it.", step="Export it again.")
    return reading.drafts(file)


def local_day(moment: datetime, lon: float) -> date:
    """The day of a moment where the sun stands as it does at `lon`: an evening's walk is not of the next day."""
    return (moment + timedelta(hours=round(lon / 15))).date()


class _Reading:
    """One file's features: boundaries first, because lines and points find their site by them."""

    def __init__(self, stem: str, defaults: Defaults, words: Vocabulary, made: date | None) -> None:
        self._stem, self._defaults, self._words, self._made = stem, defaults, words, made
        self._boundaries = Boundaries(defaults, stem)
        self._lines: list[tuple[Feature, list[Any]]] = []
        self._points: list[tuple[Feature, Any]] = []
        self._refused: list[Refused] = []
        self._entries: list[tuple[Entry, Where]] = []
        self.count = 0

    def add(self, feature: Feature) -> None:
        self.count += 1
        try:
            if feature.carried is not None:
                if feature.carried != ELSEWHERE:
                    entry = brought_back(feature.carried, feature.geometry, where=feature.where)
                    self._entries.append((entry, feature.where))
                return
            shapes = shapes_of(feature)
            if shapes.polygons:
                self._boundaries.add(shapes.polygons, feature.properties, feature.where)
        except Refused as problem:
            self._refused.append(problem)
            return
        if shapes.lines:
            self._lines.append((feature, shapes.lines))
        for point in shapes.points:
            if not self._boundaries.add_point(point, feature.properties):
                self._points.append((feature, point))

    def drafts(self, file: str) -> GeoDrafts:
        out = GeoDrafts(self._boundaries.drafts(file), entries=self._entries, refused=self._refused)
        for read, pairs in ((self._walk, self._lines), (self._mark, self._points)):
            for feature, shape in pairs:
                try:
                    out.rows.append(read(feature, shape))
                except Refused as problem:
                    out.refused.append(problem)
        for draft in out.sites:
            out.said.append(f"{'boundary' if 'boundary' in draft.fields else 'point'} of site '{draft.site}'")
        for kind in ("site", "walk", "stop", "plant", "note"):
            number = sum(row.kind == kind for row in out.rows) + sum(one.kind == kind for one, _ in out.entries)
            if number:
                out.said.append(f"{number} {kind}" + ("s" if number > 1 else ""))
        return out

    def _walk(self, feature: Feature, lines: list[Any]) -> Draft:
        from shapely.geometry import Point

        at = Point(lines[0].coords[len(lines[0].coords) // 2])
        name = text_of(feature.properties, "name")
        known = self._site(feature, at)
        on = self._day(feature, at.x)
        if on is None:
            raise Refused(
                "a walk without a day",
                where=feature.where,
                rule="When it was walked matters: more may have come up since.",
                step="Give --on DATE, or export the track with its times.",
            )
        drawn = [[list(point[:2]) for point in line.coords] for line in lines]
        track = {"type": "MultiLineString", "coordinates": drawn}
        said = text_of(feature.properties, "description", most=2000) or (name if name != known else None)
        times = {"started": feature.started, "ended": feature.ended, "minutes": feature.minutes}
        body = {"track": track, "on": on, **present(**times, words=said)}
        return Draft("walk", known or name or self._stem, self._defaults.by, on, body, feature.where)

    def _mark(self, feature: Feature, point: Any) -> Draft:
        """A stop where the name is plainly a count ("12 waterhemp"), else a note."""
        site = self._site(feature, point) or self._stem
        on = self._day(feature, point.x)
        name = text_of(feature.properties, "name") or ""
        more = text_of(feature.properties, "description", most=2000)
        counted = _COUNT.fullmatch(name)
        code = self._words.code(counted["what"] or counted["what2"]) if counted else None
        if counted and code is not None and on is not None:
            tally = {"taxon": code, "count": int(counted["n"] or counted["n2"])}
            body = {"at": [point.x, point.y], "counts": [tally], "on": on, **present(words=more)}
            return Draft("stop", site, self._defaults.by, on, body, feature.where)
        said = ": ".join(part for part in (name, more) if part) or "a place marked"
        said += "".join(f"; {key}: {value}" for key, value in _rest(feature.properties))
        note: dict[str, Any] = {"words": f"{said} (at {point.x:.6f}, {point.y:.6f})"[:20_000], **present(on=on)}
        # A note of no known day is of the day it came in.
        today = date.today() if self._defaults.today is None else min(date.today(), self._defaults.today)
        return Draft("note", site, self._defaults.by, on or today, note, feature.where)

    def _site(self, feature: Feature, point: Any) -> str | None:
        return self._defaults.site or site_named(feature.properties) or self._boundaries.around(point)

    def _day(self, feature: Feature, lon: float) -> date | None:
        said = next((text for name in DATE.names if (text := text_of(feature.properties, name))), None)
        if feature.started:
            on: date | None = local_day(feature.started, lon)
        elif said is not None:
            on = parse_date(said, feature.where)
        else:
            on = self._defaults.on or self._made
        if on is not None and self._defaults.today is not None and on > self._defaults.today:
            raise Refused(
                f"{on} has not been yet",
                where=feature.where,
                rule="What is seen has happened.",
                step="Correct the clock's date.",
            )
        return on


def _rest(properties: Mapping[str, Any]) -> list[tuple[str, str]]:
    """What else a point says; nothing is made of it, and it is kept."""
    found = [(str(key), value) for key, value in properties.items() if words_of(str(key)) not in _USED]
    told = [(key, value if isinstance(value, str) else json.dumps(value)) for key, value in found if value is not None]
    return [(" ".join(key.split())[:100], " ".join(text.split())) for key, text in told if text.strip()]
