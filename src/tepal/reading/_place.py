"""Where and what a site is: the standing site, crop and party entries, brought to one `Place`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import shapely
from shapely.geometry import MultiPolygon, shape

from tepal.doubt import Provenance
from tepal.ground import Frame, area_m2, boundary_from_geojson
from tepal.ledger import Crop, Entry, Party, Site
from tepal.reading._records import Place
from tepal.tables import Refused, Where


@dataclass(frozen=True, slots=True, eq=False)
class Grounded:
    """A place with its shapes in metres, as the floor-2 rooms want them."""

    place: Place
    frame: Frame
    boundary: MultiPolygon | None  # degrees
    flat: MultiPolygon | None  # metres
    latitude: float | None
    why: Provenance


def grounded(site: str, entries: Sequence[Entry], as_of: date) -> Grounded:
    """The place as the newest standing entries have it.

    Raises
    ------
    Refused
        If no entry of the site counts by the day: nothing can be said of a place that is not on record.
    """
    if not entries:
        raise Refused(
            f"site {site!r} is not on record by {as_of}",
            where="ledger",
            rule="A reading needs an entry of the site by the date asked for.",
            step="Check the site's name and the date, or take in what was seen: tepal take FILES --ledger L.",
        )
    sites = [(entry, entry.body) for entry in entries if isinstance(entry.body, Site)]
    # A spreadsheet names its sites and says no more of them: of such a place the name is known, and where people stood.
    entry, body = sites[-1] if sites else (None, Site(name=site, ground="field"))
    boundary = None if entry is None else _boundary(body, entry.id)
    point = body.point or first_place(entries)
    centre = Frame.around(boundary) if boundary is not None else Frame(*point) if point is not None else Frame(0.0, 0.0)
    crop_entry, crop = _crop(entries, as_of)
    parties = [(item, item.body) for item in entries if isinstance(item.body, Party)]
    consents = [
        party.consent_to_enter
        for _, party in sorted(parties, key=lambda item: item[1].consent_on or date.min)
        if party.consent_to_enter is not None and (party.consent_on is None or party.consent_on <= as_of)
    ]
    place = Place(
        name=body.name,
        ground=body.ground,
        county=body.county,
        state=body.state,
        region=body.region,
        boundary=None if body.boundary is None else plain_geojson(body.boundary),
        point=None if point is None else (float(point[0]), float(point[1])),
        legal=body.legal,
        words=body.words,
        hectares=None if boundary is None else area_m2(boundary) / 1e4,
        features=tuple(feature.model_dump(mode="json", exclude_none=True) for feature in body.features),
        crop=None if crop is None else crop.crop,
        traits=None if crop is None else crop.traits,
        planted=None if crop is None else crop.planted,
        row_cm=None if crop is None else crop.row_cm,
        harvested=None if crop is None or crop.harvested is None or crop.harvested > as_of else crop.harvested,
        # A later "no" outranks an earlier "yes": the newest word counts.
        consent=consents[-1] if consents else None,
    )
    ids = ([entry.id] if entry else []) + ([crop_entry.id] if crop_entry else []) + [item.id for item, _ in parties]
    return Grounded(
        place,
        centre,
        boundary,
        None if boundary is None else centre.geometry_to_metres(boundary),
        None if boundary is None and point is None else centre.lat,
        Provenance(entries=tuple(ids)),
    )


def plain_geojson(value: Any) -> Any:
    """A GeoJSON value with lists for tuples, as a JSON reader would give it."""
    if isinstance(value, dict):
        return {key: plain_geojson(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain_geojson(item) for item in value]
    return value


def _boundary(body: Site, entry_id: str) -> MultiPolygon | None:
    if body.boundary is None:
        return None
    return boundary_from_geojson(body.boundary, where=Where(f"entry {entry_id}", column="boundary"))


def centre_of(site: Site) -> tuple[float, float] | None:
    """The middle of a site as (lon, lat): of its boundary, else the point told; None where neither is."""
    if site.boundary is not None:
        middle = shapely.centroid(shape(site.boundary))
        return float(middle.x), float(middle.y)
    return None if site.point is None else (float(site.point[0]), float(site.point[1]))


def first_place(entries: Sequence[Entry]) -> tuple[float, float] | None:
    """A place that somebody named, for a site that is known only by words."""
    for entry in entries:
        place = getattr(entry.body, "place", None)
        point = getattr(entry.body, "at", None) or getattr(place, "point", None)
        if point is not None:
            return float(point[0]), float(point[1])
    return None


def _crop(entries: Sequence[Entry], as_of: date) -> tuple[Entry | None, Crop | None]:
    """The crop of the season: the one planted last by the day; a split field keeps the newest."""
    crops = [
        (entry, entry.body)
        for entry in entries
        if isinstance(entry.body, Crop)
        and entry.body.year in (as_of.year, as_of.year + 1)
        and (entry.body.planted is None or entry.body.planted <= as_of)
    ]
    if not crops:
        return None, None
    return max(enumerate(crops), key=lambda item: (item[1][1].planted or date.min, item[0]))[1]
