"""What a walk is asked about: a site from a file or from the ledger, its risk, and how far one sees on it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tepal.tables import Refused

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from tepal.ground import Frame
    from tepal.ledger import Entry
    from tepal.walk import RiskZone, Sight

# Places where plants stood are taken from so many years back; seed of pigweeds lasts about that long (judgement).
_YEARS_BACK = 4


@dataclass(frozen=True, slots=True)
class Given:
    """A site: its frame, shape in metres, name, risk zones (None: even), and what on record they come from."""

    frame: Frame
    shape: BaseGeometry
    name: str
    zones: list[RiskZone] | None
    risk_from: dict[str, int]


def from_file(site: str, prior: Path | None) -> Given:
    from tepal.cli._files import read_geojson
    from tepal.cli._walk_files import zones_of
    from tepal.ground import Frame, boundary_from_geojson

    path = Path(site)
    boundary = boundary_from_geojson(read_geojson(path), where=path.name)
    frame = Frame.around(boundary)
    zones = zones_of(prior, frame) if prior else None
    return Given(frame, frame.geometry_to_metres(boundary), path.stem, zones, {})


def from_ledger(site: str, ledger: str, as_of: date, prior: Path | None) -> Given:
    """A site on record with the risk that the record tells: edges, entries, waterways, and where they stood before."""
    from tepal.cli._walk_files import zones_of
    from tepal.ground import Frame, boundary_from_geojson
    from tepal.ledger import Ledger, Site
    from tepal.walk import risk_zones

    with Ledger.open(ledger) as book:
        named = book.find_site(site)
        entries = book.standing(named.id, as_of).entries
    bodies = [entry.body for entry in entries if isinstance(entry.body, Site) and entry.body.boundary is not None]
    if not bodies:
        raise Refused(
            f"site {site!r} has no boundary on record",
            where="ledger",
            rule="A walk needs the site's boundary.",
            step="Take one in (tepal take BOUNDARY.geojson --ledger L), or give it as SITE.geojson.",
        )
    boundary = boundary_from_geojson(_lists(bodies[-1].boundary), where=bodies[-1].name)
    frame = Frame.around(boundary)
    shape = frame.geometry_to_metres(boundary)
    if prior:
        return Given(frame, shape, bodies[-1].name, zones_of(prior, frame), {})
    features = [*_features(bodies[-1].features, frame), *_seen(entries, frame, as_of)]
    zones = risk_zones(shape, features)
    kinds = Counter(kind for kind, place in features if place.distance(shape) < 50)
    return Given(frame, shape, bodies[-1].name, list(zones), {"edge": 1} | dict(sorted(kinds.items())))


def _features(features: Any, frame: Frame) -> list[tuple[str, BaseGeometry]]:
    from shapely.geometry import shape

    from tepal.walk import RISKS

    return [
        (feature.kind, frame.geometry_to_metres(shape(_lists(feature.geometry))))
        for feature in features
        if feature.geometry is not None and feature.kind in RISKS and feature.kind != "edge"
    ]


def _seen(entries: Any, frame: Frame, as_of: date) -> list[tuple[str, BaseGeometry]]:
    """Where pigweeds were counted or seen, this year or in the years before."""
    from shapely.geometry import Point

    from tepal.flora import load
    from tepal.ledger import event_date

    pigweeds = frozenset(load().pigweeds())
    places: list[tuple[str, BaseGeometry]] = []
    for entry in entries:
        at = getattr(entry.body, "at", None)
        if at is not None and event_date(entry).year >= as_of.year - _YEARS_BACK and _has_pigweeds(entry, pigweeds):
            places.append(("seen", Point(frame.to_metres(at))))
    return places


def _has_pigweeds(entry: Entry, pigweeds: frozenset[str]) -> bool:
    from tepal.ledger import Plant, Stop

    if isinstance(entry.body, Stop):
        return any(t.count and (t.taxon in pigweeds or t.taxon == "pigweed") for t in entry.body.counts)
    return isinstance(entry.body, Plant)


def _lists(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _lists(item) for key, item in value.items()}
    return [_lists(item) for item in value] if isinstance(value, (list, tuple)) else value


def sight_of(
    sigma: float | None, stage: str | None, crop: str | None, distances: Path | None, farthest: float | None
) -> Sight:
    """The width of sight as given in metres, from noted distances, or from the table by stage and crop."""
    import math

    from tepal.tables import read_csv
    from tepal.walk import Sight, sight_for, sight_from

    if sum(given is not None for given in (sigma, stage, distances)) != 1:
        raise Refused(
            "no --sigma" if sigma is None and stage is None and distances is None else "more than one width of sight",
            where="command line",
            rule="The width of sight must be stated, once.",
            step="Give --sigma in metres, --stage vegetative --crop soybean, or --distances FINDS.csv.",
        )
    if sigma is not None:
        return Sight(sigma, 1.0, sigma, sigma, "given")
    if stage is not None:
        return sight_for(stage, crop or "none")
    assert distances is not None
    table = read_csv(distances)
    table.need(("distance_m",))
    noted = [row.number("distance_m", low=0) for row in table]
    return sight_from(noted, farthest_m=math.inf if farthest is None else farthest)
