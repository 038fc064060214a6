"""Views of the record as map files: GPX for receivers and telephones, GeoPackage for a desktop's maps."""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from contextlib import closing
from datetime import UTC, datetime
from typing import Any

from tepal.ground import GEOPACKAGE_TABLES, geopackage_blob
from tepal.ledger._bodies import Plant, Site, Stop, Walk
from tepal.ledger._entry import Entry, event_date
from tepal.ledger._standing import Standing
from tepal.ledger.formats._carried import ELSEWHERE, FIELD, NAMESPACE, carried, drawn

_GPX = "http://www.topografix.com/GPX/1/1"
_HEAD = {"site": "TEXT", "date": "DATE", "by": "TEXT"}
_LAYERS: dict[str, tuple[str, str, dict[str, str]]] = {
    # name: what it shows, kind of geometry, columns of its own
    "sites": (
        "Sites with their boundary, or a point",
        "GEOMETRY",
        {"name": "TEXT", "ground": "TEXT", "county": "TEXT", "state": "TEXT", "legal": "TEXT", "words": "TEXT"},
    ),
    "walks": (
        "Walks",
        "GEOMETRY",
        {"who": "TEXT", "started": "DATETIME", "ended": "DATETIME", "minutes": "REAL", "found": "INTEGER"},
    ),
    "stops": ("Places where plants were counted", "POINT", {"area_m2": "REAL", "count": "INTEGER", "words": "TEXT"}),
    "finds": (
        "Plants counted, by kind and size",
        "POINT",
        {"taxon": "TEXT", "size": "TEXT", "count": "INTEGER", "tallest_cm": "REAL"},
    ),
    "plants": (
        "Plants looked at",
        "POINT",
        {"stage": "TEXT", "height_cm": "REAL", "looks": "TEXT", "count": "INTEGER", "words": "TEXT"},
    ),
}
_NO_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
Shown = tuple[Mapping[str, Any] | None, dict[str, Any]]


def map_views(stands: Standing) -> dict[str, bytes]:
    """File name → bytes: walks and stops as GPX; sites, walks, stops, finds and plants as GeoPackage.

    Both carry what a map does not draw (`_carried`), so that `take` brings the entries back.
    """
    last = max((one.made_at.astimezone(UTC) for one in stands.entries), default=datetime(2000, 1, 1, tzinfo=UTC))
    return {"walks.gpx": _gpx(stands, last), "record.gpkg": _gpkg(stands, last)}


def _gpx(stands: Standing, made: datetime) -> bytes:
    from xml.etree.ElementTree import Element, SubElement, indent, register_namespace, tostring

    register_namespace("", _GPX)
    register_namespace("tepal", NAMESPACE)
    names = {one.site: one.body.name for one in stands.entries if isinstance(one.body, Site)}
    root = Element(f"{{{_GPX}}}gpx", version="1.1", creator="tepal")

    def add(above: Any, name: str, text: str | None, **more: str) -> Any:
        element = SubElement(above, f"{{{_GPX}}}{name}", more)
        element.text = text and _NO_XML.sub("", text)
        return element

    def say(element: Any, name: str, entry: Entry) -> None:
        add(element, "name", name)
        if entry.body.words:
            add(element, "desc", entry.body.words)
        SubElement(add(element, "extensions", None), f"{{{NAMESPACE}}}{FIELD}").text = carried(entry)

    add(add(root, "metadata", None), "time", _utc(made))
    for entry in stands.entries:
        body = entry.body
        if isinstance(body, Stop) and body.at is not None:
            marked = add(root, "wpt", None, **_latlon(body.at))
            counts = ", ".join(f"{tally.count} {tally.taxon}" for tally in body.counts if tally.count)
            say(marked, counts or "none found", entry)
    for entry in stands.entries:
        body = entry.body
        if isinstance(body, Walk) and body.track is not None:
            track = add(root, "trk", None)
            say(track, f"{names.get(entry.site, entry.site)} {event_date(entry)}", entry)
            one = body.track["type"] == "LineString"
            lines = [body.track["coordinates"]] if one else body.track["coordinates"]
            points = []
            for line in lines:
                segment = add(track, "trkseg", None)
                points += [add(segment, "trkpt", None, **_latlon(point)) for point in line]
            # The time of the points between is not in the record.
            for point, moment in ((points[0], body.started), (points[-1], body.ended)):
                if moment is not None:
                    add(point, "time", _utc(moment))
    indent(root, " ")
    return bytes(tostring(root, encoding="utf-8", xml_declaration=True)) + b"\n"


def _latlon(point: Sequence[float]) -> dict[str, str]:
    import numpy as np

    # Every digit that the number has, and no exponent: the standard wants a decimal.
    return {key: np.format_float_positional(value, trim="-") for key, value in zip(("lon", "lat"), point, strict=True)}


def _utc(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _gpkg(stands: Standing, made: datetime) -> bytes:
    with closing(sqlite3.connect(":memory:")) as database:
        database.executescript(GEOPACKAGE_TABLES)
        for layer, shown in _shown(stands).items():
            _write(database, layer, shown, made)
        database.commit()
        return database.serialize()


def _shown(stands: Standing) -> dict[str, list[Shown]]:
    """The features of each layer: geometry and cells."""
    out: dict[str, list[Shown]] = {layer: [] for layer in _LAYERS}
    for entry in stands.entries:
        body = entry.body
        if not isinstance(body, (Site, Walk, Stop, Plant)):
            continue
        geometry = drawn(entry)
        head = {"site": entry.site, "date": event_date(entry).isoformat(), "by": entry.by}
        cells: dict[str, Any] = {**head, FIELD: carried(entry), "words": body.words}
        if isinstance(body, Site):
            keys = ("name", "ground", "county", "state", "legal")
            out["sites"].append((geometry, {**cells, "date": None, **{key: getattr(body, key) for key in keys}}))
        elif isinstance(body, Walk):
            times = {key: value and _utc(value) for key, value in (("started", body.started), ("ended", body.ended))}
            more = {"who": body.who, "minutes": body.minutes, "found": body.found}
            out["walks"].append((geometry, {**cells, **times, **more}))
        elif isinstance(body, Stop):
            count = sum(tally.count for tally in body.counts)
            out["stops"].append((geometry, {**cells, "area_m2": body.looked_at_m2, "count": count}))
            out["finds"] += [
                (geometry, {**head, FIELD: ELSEWHERE, **tally.model_dump(mode="json")})
                for tally in body.counts
                if tally.count
            ]
        else:
            looks = "; ".join(f"{name}: {json.dumps(look)}" for name, look in body.looks.items()) or None
            more = {"stage": body.stage, "height_cm": body.height_cm, "looks": looks, "count": body.count}
            out["plants"].append((geometry, {**cells, **more}))
    return out


def _write(database: sqlite3.Connection, layer: str, shown: Iterable[Shown], made: datetime) -> None:
    says, kind, own = _LAYERS[layer]
    columns = {**_HEAD, **own, FIELD: "TEXT"}
    listed = ", ".join(f'"{name}" {type_}' for name, type_ in columns.items())
    database.execute(f'CREATE TABLE "{layer}" (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, geom {kind}, {listed})')
    bounds: list[tuple[float, ...]] = []
    rows = []
    for geometry, cells in shown:
        rows.append((_blob(geometry, bounds), *(cells.get(name) for name in columns)))
    marks = ", ".join("?" * (len(columns) + 1))
    names = ", ".join(f'"{name}"' for name in columns)
    database.executemany(f'INSERT INTO "{layer}" (geom, {names}) VALUES ({marks})', rows)
    west, south, east, north = zip(*bounds, strict=True) if bounds else ((None,),) * 4
    box = (min(west), min(south), max(east), max(north)) if bounds else (None,) * 4
    changed = made.strftime("%Y-%m-%dT%H:%M:%S.000Z")
    database.execute(
        "INSERT INTO gpkg_contents VALUES (?, 'features', ?, ?, ?, ?, ?, ?, ?, 4326)",
        (layer, layer, says, changed, *box),
    )
    database.execute("INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', ?, 4326, 0, 0)", (layer, kind))


def _blob(geometry: Mapping[str, Any] | None, bounds: list[tuple[float, ...]]) -> bytes | None:
    """A geometry as GeoPackage binary; its bounds are added to the list."""
    if geometry is None:
        return None
    import shapely

    shape = shapely.geometry.shape(dict(geometry))
    bounds.append(shape.bounds)
    return geopackage_blob(shape)
