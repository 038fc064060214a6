"""Site boundaries from GeoJSON, and from polygons of any map file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from tepal.ledger._bodies import Ground
from tepal.ledger._values import Region
from tepal.ledger.formats._columns import words_of
from tepal.ledger.formats._drafts import SITE, Defaults
from tepal.ledger.formats._places import read_geojson
from tepal.tables import Refused, Where

if TYPE_CHECKING:
    from shapely.geometry import Point
    from shapely.geometry.base import BaseGeometry

_LONLAT_NAMES = ("CRS84", "EPSG::4326", "EPSG:4326")
_CHOICES = {"ground": get_args(Ground), "region": get_args(Region)}


@dataclass(frozen=True, slots=True)
class SiteDraft:
    """What a boundary file says of one site: fields of a site's body; `name` is what it is called there."""

    site: str
    fields: Mapping[str, Any]
    where: Where


class Boundaries:
    """Polygons gathered by site: the site is `--site`, else what a feature says, else its name, else the file's."""

    def __init__(self, defaults: Defaults, stem: str) -> None:
        self._given, self._stem = defaults.site, stem
        self._parts: dict[str, list[BaseGeometry]] = {}
        self._fields: dict[str, dict[str, Any]] = {}

    def add(self, polygons: Sequence[BaseGeometry], properties: Mapping[str, Any], where: Where) -> None:
        """Polygons of one feature, together with those of its site that are there.

        Raises
        ------
        Refused
            If one crosses itself, has no area or lies off the earth.
        """
        import shapely

        from tepal.ground import boundary_from_geojson

        collection = {"type": "GeometryCollection", "geometries": [shapely.geometry.mapping(p) for p in polygons]}
        self.add_geojson(boundary_from_geojson(collection, where=where), properties)

    def add_geojson(self, checked: BaseGeometry, properties: Mapping[str, Any]) -> None:
        """A checked boundary."""
        name = self._given or site_named(properties) or text_of(properties, "name") or self._stem
        self._parts.setdefault(name, []).extend(checked.geoms)  # type: ignore[attr-defined]
        self._fields.setdefault(name, {}).update(_fields(properties))

    def around(self, point: Point) -> str | None:
        """The site whose boundary a point lies in, of those gathered."""
        return next((name for name, parts in self._parts.items() if any(p.covers(point) for p in parts)), None)

    def drafts(self, file: str) -> list[SiteDraft]:
        """What was gathered, site by site; polygons of one site are one boundary together."""
        return [
            SiteDraft(name, {**self._fields[name], "boundary": _drawn(shapes)}, Where(file))
            for name, shapes in self._parts.items()
        ]


def read_sites(path: Path, defaults: Defaults) -> tuple[list[SiteDraft], list[Refused], list[str]]:
    """The sites of a GeoJSON file, the features that were refused, and what was understood.

    A feature's site is `--site`, else its property `site` or `name`, else the file's name. Polygons of one site are
    one boundary together.
    """
    from tepal.ground import boundary_from_geojson

    data = read_geojson(path)
    _check_frame(data, path)
    boundaries = Boundaries(defaults, path.stem)
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
        boundaries.add_geojson(shape, properties if isinstance(properties, Mapping) else {})
    drafts = boundaries.drafts(path.name)
    if not drafts and not refused:
        raise Refused("no feature", where=path.name, rule="A boundary is a polygon.", step="Export it again.")
    said = [f"boundary of site '{draft.site}'" for draft in drafts]
    return drafts, refused, said


def site_named(properties: Mapping[str, Any]) -> str | None:
    """The site that a feature says it is of."""
    return next((found for name in SITE.names if (found := text_of(properties, name))), None)


def text_of(properties: Mapping[str, Any], name: str, *, most: int = 200) -> str | None:
    """A property as one line of text, by its name in small letters and spaces (NAME, Field_Name…)."""
    for key, value in properties.items():
        is_text = isinstance(value, (str, int)) and not isinstance(value, bool)
        if is_text and words_of(str(key)) == name and (line := " ".join(str(value).split())):
            return line[:most].rstrip()
    return None


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
        value = text_of(properties, key)
        if value is not None:
            out[key] = value
    for key, choices in _CHOICES.items():
        value = text_of(properties, key)
        if value in choices:
            out[key] = value
    return out


def _drawn(shapes: list[Any]) -> dict[str, Any]:
    import shapely

    merged = shapely.union_all(shapes) if len(shapes) > 1 else shapes[0]
    drawn: dict[str, Any] = shapely.geometry.mapping(merged)
    return drawn
