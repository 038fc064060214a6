"""Site boundaries from GeoJSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

from tepal.ledger._bodies import Ground
from tepal.ledger._values import Region
from tepal.ledger.formats._drafts import Defaults
from tepal.ledger.formats._places import read_geojson
from tepal.tables import Refused, Where

_LONLAT_NAMES = ("CRS84", "EPSG::4326", "EPSG:4326")
_CHOICES = {"ground": get_args(Ground), "region": get_args(Region)}


@dataclass(frozen=True, slots=True)
class SiteDraft:
    """What a boundary file says of one site: fields of a site's body; `name` is what it is called there."""

    site: str
    fields: Mapping[str, Any]
    where: Where


def read_sites(path: Path, defaults: Defaults) -> tuple[list[SiteDraft], list[Refused], list[str]]:
    """The sites of a GeoJSON file, the features that were refused, and what was understood.

    A feature's site is `--site`, else its property `site` or `name`, else the file's name. Polygons of one site are
    one boundary together.
    """
    from tepal.ground import boundary_from_geojson

    data = read_geojson(path)
    _check_frame(data, path)
    parts: dict[str, list[Any]] = {}
    fields: dict[str, dict[str, Any]] = {}
    refused: list[Refused] = []
    features = data.get("features") if data.get("type") == "FeatureCollection" else [data]
    for number, feature in enumerate(features if isinstance(features, list) else [], start=1):
        where = Where(path.name, None, f"feature {number}")
        try:
            shape = boundary_from_geojson(feature, where=where)
        except Refused as problem:
            refused.append(problem)
            continue
        properties = feature.get("properties") if isinstance(feature, Mapping) else None
        properties = properties if isinstance(properties, Mapping) else {}
        name = defaults.site or _text(properties, "site") or _text(properties, "name") or path.stem
        parts.setdefault(name, []).extend(shape.geoms)
        fields.setdefault(name, {}).update(_fields(properties))
    if not parts and not refused:
        raise Refused("no feature", where=path.name, rule="A boundary is a polygon.", step="Export it again.")
    drafts = [
        SiteDraft(name, {**fields[name], "boundary": _drawn(shapes)}, Where(path.name))
        for name, shapes in parts.items()
    ]
    said = [f"boundary of site '{draft.site}'" for draft in drafts]
    return drafts, refused, said


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


def _fields(properties: Mapping[str, Any]) -> dict[str, Any]:
    """The properties that a site has too; what is no choice of ours is left to the person."""
    out: dict[str, Any] = {}
    for key in ("name", "county", "state", "legal", "station"):
        value = _text(properties, key)
        if value is not None:
            out[key] = value
    for key, choices in _CHOICES.items():
        value = _text(properties, key)
        if value in choices:
            out[key] = value
    return out


def _text(properties: Mapping[str, Any], key: str) -> str | None:
    value = properties.get(key)
    if isinstance(value, (str, int)) and not isinstance(value, bool):
        return " ".join(str(value).split())[:200] or None
    return None


def _drawn(shapes: list[Any]) -> dict[str, Any]:
    import shapely

    merged = shapely.union_all(shapes) if len(shapes) > 1 else shapes[0]
    drawn: dict[str, Any] = shapely.geometry.mapping(merged)
    return drawn
