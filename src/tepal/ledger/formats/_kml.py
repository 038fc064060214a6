"""KML and KMZ: what was drawn on a globe, placemark by placemark."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from tepal.ledger.formats._bytes import unzip
from tepal.ledger.formats._features import Feature
from tepal.ledger.formats._xml import child_text, children, moment, root_of, tag
from tepal.tables import Refused, Where

_WHAT = "A drawing is a KML file"


def read_kmz(raw: bytes, *, file: str) -> list[Feature]:
    """The features of the KML inside a KMZ (`doc.kml`, else the first).

    Raises
    ------
    Refused
        If the ZIP is a trap or torn, or holds no KML; and as `read_kml`.
    """
    members = unzip(raw, file=file, wanted={".kml"})
    if not members:
        raise Refused("no KML in it", where=file, rule="A KMZ holds a KML file.", step="Export it again.")
    name = next((name for name in members if name.casefold() == "doc.kml"), sorted(members)[0])
    return read_kml(members[name], file=file)


def read_kml(raw: bytes, *, file: str) -> list[Feature]:
    """The placemarks of a KML file as features in longitude and latitude. Links to other files are not followed.

    Raises
    ------
    Refused
        If the text is no KML.
    """
    root = root_of(raw, where=file, what=_WHAT)
    if tag(root) != "kml":
        raise Refused(f"XML of type {tag(root)!r}", where=file, rule=f"{_WHAT}.", step="Export it as KML.")
    marks = [element for element in root.iter() if tag(element) == "Placemark"]
    return [_feature(mark, Where(file, None, f"placemark {n}")) for n, mark in enumerate(marks, start=1)]


def _feature(mark: Any, where: Where) -> Feature:
    properties: dict[str, Any] = {}
    for data in children(mark, "ExtendedData"):
        for one in data.iter():
            key = one.get("name")
            if key and tag(one) == "SimpleData":
                properties[key] = (one.text or "").strip()
            elif key and tag(one) == "Data":
                properties[key] = child_text(one, "value")
    for key in ("name", "description"):
        properties[key] = child_text(mark, key) or properties.get(key)
    try:
        geometries, times = _geometries(mark)
    except ValueError as problem:
        return Feature(where, None, properties, problem=str(problem))
    times += _stamps(mark)
    geometry = {"type": "GeometryCollection", "geometries": geometries}
    return Feature(where, geometry, properties, min(times, default=None), max(times, default=None))


def _stamps(mark: Any) -> list[datetime]:
    texts = [child_text(one, "when") for one in children(mark, "TimeStamp")]
    texts += [child_text(one, key) for one in children(mark, "TimeSpan") for key in ("begin", "end")]
    return [found for text in texts if (found := moment(text))]


def _geometries(mark: Any) -> tuple[list[dict[str, Any]], list[datetime]]:
    """The geometries of a placemark as GeoJSON, and the times of its tracks."""
    out: list[dict[str, Any]] = []
    times: list[datetime] = []
    waiting = list(mark)
    while waiting:
        element = waiting.pop(0)
        kind = tag(element)
        if kind in {"MultiGeometry", "MultiTrack"}:
            waiting += list(element)
        elif kind == "Polygon":
            rings = [
                _positions(ring)
                for side in ("outerBoundaryIs", "innerBoundaryIs")
                for edge in children(element, side)
                for ring in children(edge, "LinearRing")
            ]
            out.append({"type": "Polygon", "coordinates": rings})
        elif kind in {"LineString", "LinearRing"}:
            out.append({"type": "LineString", "coordinates": _positions(element)})
        elif kind == "Point":
            out += [{"type": "Point", "coordinates": one} for one in _positions(element)[:1]]
        elif kind == "Track":
            line = [_position(one.text or "", None) for one in children(element, "coord")]
            out.append({"type": "LineString", "coordinates": line})
            times += [found for one in children(element, "when") if (found := moment(one.text))]
    return out, times


def _positions(element: Any) -> list[list[float]]:
    return [_position(one, ",") for one in (child_text(element, "coordinates") or "").split()]


def _position(text: str, separator: str | None) -> list[float]:
    try:
        lon, lat = (float(part) for part in text.split(separator)[:2])
    except ValueError:
        raise ValueError(f"coordinates {text[:60]!r}") from None
    return [lon, lat]
