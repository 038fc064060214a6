"""Sites from the polygons of a map file, and from points that say what ground they are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, get_args

from tepal.ledger._bodies import Ground
from tepal.ledger._values import Region
from tepal.ledger.formats._columns import words_of
from tepal.ledger.formats._drafts import SITE, Defaults
from tepal.tables import Where

if TYPE_CHECKING:
    from shapely.geometry import Point
    from shapely.geometry.base import BaseGeometry

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
        self._points: dict[str, dict[str, Any]] = {}

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
        checked = boundary_from_geojson(collection, where=where)
        name = self._given or site_named(properties) or text_of(properties, "name") or self._stem
        self._parts.setdefault(name, []).extend(checked.geoms)
        self._fields.setdefault(name, {}).update(_fields(properties))

    def add_point(self, point: Point, properties: Mapping[str, Any]) -> bool:
        """A site of which only a point is known, if the point says what ground it is; is it one?"""
        if text_of(properties, "ground") not in _CHOICES["ground"]:
            return False
        name = self._given or site_named(properties) or text_of(properties, "name") or self._stem
        self._points[name] = {**_fields(properties), "point": [point.x, point.y]}
        return True

    def around(self, point: Point) -> str | None:
        """The site whose boundary a point lies in, of those gathered."""
        return next((name for name, parts in self._parts.items() if any(p.covers(point) for p in parts)), None)

    def drafts(self, file: str) -> list[SiteDraft]:
        """What was gathered, site by site; polygons of one site are one boundary together."""
        drawn = {name: {**self._fields[name], "boundary": _drawn(shapes)} for name, shapes in self._parts.items()}
        return [SiteDraft(name, fields, Where(file)) for name, fields in {**self._points, **drawn}.items()]


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
