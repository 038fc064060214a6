"""Longitude and latitude to metres and back; polygons, areas, lines.

Floor 0. GeoJSON (lon, lat) at the edge, metres (east, north) inside.
"""

from tepal.ground._frame import Frame
from tepal.ground._shapes import area_m2, boundary_from_geojson, line_from_geojson

__all__ = ["Frame", "area_m2", "boundary_from_geojson", "line_from_geojson"]
