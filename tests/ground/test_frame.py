"""Metres of a site against the geodesic on the ellipsoid (Karney 2013, as pyproj's Geod has it)."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st
from pyproj import Geod
from shapely.geometry import Point, Polygon

from tepal.ground import Frame, area_m2

ELLIPSOID = Geod(ellps="WGS84")
# From Texas to Minnesota, and one site across the 180th meridian's neighbourhood.
PLACES = [(-97.5, 26.1), (-93.7, 41.6), (-95.2, 47.9), (179.9, -17.0)]


def _square(lon: float, lat: float, side_m: float, turned: float = 20.0) -> Polygon:
    """A square laid out on the ellipsoid, corner by corner, by geodesics from its centre."""
    half = side_m / np.sqrt(2)
    return Polygon([ELLIPSOID.fwd(lon, lat, turned + azimuth, half)[:2] for azimuth in (45, 135, 225, 315)])


@pytest.mark.parametrize(("lon", "lat"), PLACES[:3])
@pytest.mark.parametrize("side_m", [10.0, 804.672, 5000.0])
def test_areas_agree_with_the_ellipsoid(lon: float, lat: float, side_m: float) -> None:
    square = _square(lon, lat, side_m)
    true, _ = ELLIPSOID.geometry_area_perimeter(shapely.orient_polygons(square))
    assert area_m2(square) == pytest.approx(abs(true), rel=3e-6)
    assert area_m2(square) == pytest.approx(side_m**2, rel=1e-5)


@pytest.mark.parametrize(("lon", "lat"), PLACES)
@given(azimuth=st.floats(-180, 180), metres=st.floats(0, 10_000))
@settings(max_examples=30)
def test_distance_and_bearing_from_the_centre_are_the_geodesic_ones(
    lon: float, lat: float, azimuth: float, metres: float
) -> None:
    end = ELLIPSOID.fwd(lon, lat, azimuth, metres)[:2]
    wanted = metres * np.array([np.sin(np.radians(azimuth)), np.cos(np.radians(azimuth))])
    assert Frame(lon, lat).to_metres(end) == pytest.approx(wanted, abs=1e-4)


@given(
    a=st.tuples(st.floats(-0.02, 0.02), st.floats(-0.02, 0.02)),
    b=st.tuples(st.floats(-0.02, 0.02), st.floats(-0.02, 0.02)),
)
@settings(max_examples=50)
def test_distances_inside_a_site_are_off_by_less_than_2_in_a_million(
    a: tuple[float, float], b: tuple[float, float]
) -> None:
    lon, lat = PLACES[1]
    ends = np.array([a, b]) + np.array([lon, lat])
    flat = Frame(lon, lat).to_metres(ends)
    _, _, true = ELLIPSOID.inv(*ends[0], *ends[1])
    assert np.hypot(*(flat[1] - flat[0])) == pytest.approx(true, rel=2e-6, abs=1e-6)


@given(points=st.lists(st.tuples(st.floats(-9000, 9000), st.floats(-9000, 9000)), min_size=1, max_size=5))
@example(points=[(0.0, 2e-5)])
def test_there_and_back_is_where_one_was(points: list[tuple[float, float]]) -> None:
    frame = Frame(*PLACES[0])
    # A millimetre: PROJ takes what lies within 0.6 mm of the centre for the centre itself.
    assert frame.to_metres(frame.to_lonlat(points)) == pytest.approx(np.array(points), abs=1e-3)


def test_one_point_keeps_its_shape_and_geometries_go_both_ways() -> None:
    frame = Frame(*PLACES[1])
    assert frame.to_metres(PLACES[1]).shape == (2,)
    assert frame.to_metres([PLACES[1]]).shape == (1, 2)
    square = _square(*PLACES[1], 100.0)
    assert frame.geometry_to_lonlat(frame.geometry_to_metres(square)).equals_exact(square, 1e-9)


def test_the_frame_of_a_shape_lies_in_its_middle_and_is_rounded() -> None:
    assert Frame.around(Point(-93.12345678, 41.98765432)) == Frame(-93.123457, 41.987654)
