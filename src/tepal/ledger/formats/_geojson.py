"""GeoJSON (RFC 7946): its features, in longitude and latitude."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from tepal.ledger.formats._carried import FIELD
from tepal.ledger.formats._features import Feature
from tepal.ledger.formats._places import read_geojson
from tepal.tables import Refused, Where

_LONLAT_NAMES = ("CRS84", "EPSG::4326", "EPSG:4326")
MAX_FEATURES = 100_000


def read_features(path: Path) -> list[Feature]:
    """The features of a GeoJSON file; a geometry alone is one without properties.

    Raises
    ------
    Refused
        If it cannot be read, is no GeoJSON, or is in another reference system.
    """
    data = read_geojson(path)
    _check_frame(data, path)
    members = data.get("features") if data.get("type") == "FeatureCollection" else [data]
    if not isinstance(members, list) or len(members) > MAX_FEATURES:
        raise Refused(
            "features that are no list" if not isinstance(members, list) else f"{len(members)} features",
            where=path.name,
            rule=f"A FeatureCollection lists at most {MAX_FEATURES} features.",
            step="Export it again.",
        )
    return [_feature(member, Where(path.name, None, f"feature {n}")) for n, member in enumerate(members, start=1)]


def _feature(member: Any, where: Where) -> Feature:
    if not isinstance(member, Mapping):
        return Feature(where, None, {}, problem="no JSON object")
    is_feature = member.get("type") == "Feature"
    geometry = member.get("geometry") if is_feature else member
    properties = member.get("properties") if is_feature else None
    properties = properties if isinstance(properties, Mapping) else {}
    carried = properties.get(FIELD)
    geometry = geometry if isinstance(geometry, Mapping) else None
    return Feature(where, geometry, properties, carried=carried if isinstance(carried, str) else None)


def _check_frame(data: Mapping[str, Any], path: Path) -> None:
    frame = data.get("crs")
    properties = frame.get("properties") if isinstance(frame, Mapping) else None
    name = properties.get("name") if isinstance(properties, Mapping) else None
    if isinstance(name, str) and not name.endswith(_LONLAT_NAMES):
        raise Refused(
            f"coordinates in {name}",
            where=path.name,
            rule="GeoJSON has longitude and latitude in WGS84 (RFC 7946).",
            step="Export it in WGS84.",
        )
