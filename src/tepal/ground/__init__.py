"""Longitude and latitude to metres and back; polygons, areas, lines; places as people describe them.

Floor 0. GeoJSON (lon, lat) at the edge, metres (east, north) inside.
"""

from tepal.ground._coordinates import Coordinates
from tepal.ground._descriptions import ClaimedPlace, describe_place
from tepal.ground._frame import Frame
from tepal.ground._geopackage import GEOPACKAGE_TABLES, geopackage_blob
from tepal.ground._shapes import area_m2, boundary_from_geojson, line_from_geojson
from tepal.ground._survey import Survey

__all__ = [
    "GEOPACKAGE_TABLES",
    "ClaimedPlace",
    "Coordinates",
    "Frame",
    "Survey",
    "area_m2",
    "boundary_from_geojson",
    "describe_place",
    "geopackage_blob",
    "line_from_geojson",
]
