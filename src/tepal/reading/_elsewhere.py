"""What the rest of the ledger says of a site: what laboratories found nearby, and how its readers were checked."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from tepal.ledger import Drill, Entry, Ledger, Plant, Sample, Site, Standing, event_date
from tepal.reading._activities import PROVED, how_sure, names_a_species
from tepal.reading._place import centre_of, first_place

# Farther off, a finding counts for less than a hundredth of one at the place itself; it is not looked up.
_FARTHEST_M = 6_000.0
# So many of the newest results are looked through for plants that this site's readers had looked at.
_MOST_RESULTS = 60
_METRES_PER_DEGREE = 111_195.0


@dataclass(frozen=True, slots=True)
class Nearby:
    """A laboratory's name for a plant of another site, `metres` between the middles of the two."""

    entry: str
    taxon: str
    on: date
    metres: float


@dataclass(frozen=True, slots=True)
class Tested:
    """A plant that a reader looked at and a laboratory named. `reader` in small letters."""

    reader: str
    result: Entry
    plant: Entry
    region: str | None


@dataclass(frozen=True, slots=True)
class Drilled:
    """One reader's answers in one practice: how many were right and wrong."""

    reader: str
    entry: str
    right: int
    wrong: int


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """Taxa proved elsewhere in the county, laboratory results nearby, and what checked the site's readers."""

    proved: frozenset[str] = frozenset()
    nearby: tuple[Nearby, ...] = ()
    tested: tuple[Tested, ...] = ()
    drilled: tuple[Drilled, ...] = ()


def elsewhere(ledger: Ledger, site: str, as_of: date, standing: Standing) -> Elsewhere:
    """Everything by that day, from what had arrived as far as the standing entries know."""
    others = ledger.standing_of(("sample", "site", "drill"), as_of, standing.known_to)
    sites = {entry.site: entry.body for entry in others if isinstance(entry.body, Site)}
    results = [entry for entry in others if isinstance(entry.body, Sample) and names_a_species(entry.body)]
    readers = {entry.by.casefold() for entry in standing.of("plant")}
    return Elsewhere(
        _proved(results, sites, site),
        _nearby(results, sites, site, standing.entries),
        _tested(ledger, results, sites, readers) if readers else (),
        _drilled((entry for entry in others if isinstance(entry.body, Drill)), readers) if readers else (),
    )


def _proved(results: Sequence[Entry], sites: dict[str | None, Site], here: str) -> frozenset[str]:
    """Taxa that a laboratory proved at another site of the same county; of any, where no county is told."""
    county = _county(sites.get(here))
    return frozenset(
        entry.body.taxon
        for entry in results
        if isinstance(entry.body, Sample)
        and entry.body.taxon
        and how_sure(entry.body) >= PROVED
        and entry.site != here
        and (county is None or _county(sites.get(entry.site)) in (None, county))
    )


def _county(site: Site | None) -> str | None:
    return site.county.casefold() if site is not None and site.county else None


def _nearby(
    results: Sequence[Entry], sites: dict[str | None, Site], here: str, entries: Sequence[Entry]
) -> tuple[Nearby, ...]:
    own = sites.get(here)
    centre = (None if own is None else centre_of(own)) or first_place(entries)
    if centre is None:
        return ()
    far: dict[str | None, float] = {}
    found = []
    for entry in results:
        body = entry.body
        if entry.site == here or not isinstance(body, Sample) or not body.taxon or how_sure(body) < PROVED:
            continue
        if entry.site not in far:
            other = sites.get(entry.site)
            there = None if other is None else centre_of(other)
            far[entry.site] = math.inf if there is None else _metres(centre, there)
        if far[entry.site] <= _FARTHEST_M:
            found.append(Nearby(entry.id, body.taxon, event_date(entry), far[entry.site]))
    return tuple(found)


def _metres(a: Sequence[float], b: Sequence[float]) -> float:
    """Distance of two (lon, lat) a few kilometres apart; to 0.5 %."""
    east = (a[0] - b[0]) * math.cos(math.radians((a[1] + b[1]) / 2))
    return _METRES_PER_DEGREE * math.hypot(east, a[1] - b[1])


def _tested(
    ledger: Ledger, results: Sequence[Entry], sites: dict[str | None, Site], readers: Collection[str]
) -> tuple[Tested, ...]:
    found = []
    for result in results[-_MOST_RESULTS:]:
        body = result.body
        plant = ledger.get(body.of) if isinstance(body, Sample) and body.of else None
        if plant is not None and isinstance(plant.body, Plant) and plant.by.casefold() in readers:
            place = sites.get(plant.site)
            found.append(Tested(plant.by.casefold(), result, plant, None if place is None else place.region))
    return tuple(found)


def _drilled(drills: Iterable[Entry], readers: Collection[str]) -> tuple[Drilled, ...]:
    found = []
    for entry in drills:
        body = entry.body
        if not isinstance(body, Drill) or body.reader.casefold() not in readers:
            continue
        marks = [
            answer.right if answer.right is not None else None if answer.truth is None else answer.said == answer.truth
            for answer in body.answers
        ]
        right, wrong = marks.count(True), marks.count(False)
        if right or wrong:
            found.append(Drilled(body.reader.casefold(), entry.id, right, wrong))
    return tuple(found)
