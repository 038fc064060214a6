"""Cells that an edge cuts are shared out: against areas of intersections, and what a plan says against a fine count."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import MultiPolygon, Point, Polygon, box

from tepal.walk import RiskZone, plan
from tepal.walk._raster import Raster

TURNED = affinity.rotate(box(0, 0, 100, 60), 17).difference(Point(40, 30).buffer(11))
SITES = {
    "turned, with a hole": TURNED,
    "two parts that touch": MultiPolygon([box(0, 0, 33, 50), box(33, 7, 71, 41)]),
    "ragged": Polygon([(0, 0), (50, 9), (90, 0), (71, 33), (95, 70), (40, 52), (10, 73), (21, 30)]),
}


@pytest.mark.parametrize("name", SITES)
def test_a_cell_has_the_share_of_it_that_lies_on_the_site(name):
    site = SITES[name]
    grid = Raster.of(site, 12.0)
    x, y = np.meshgrid(grid.x, grid.y)
    cells = shapely.box(x - grid.step / 2, y - grid.step / 2, x + grid.step / 2, y + grid.step / 2)
    shares = shapely.area(shapely.intersection(cells, site)) / grid.step**2
    # Eight lines a cell: an edge along the lines is off by half of the way between two at most.
    assert np.abs(grid.inside - shares).max() < 1 / 16 + 1e-9
    assert grid.inside.sum() * grid.step**2 == pytest.approx(site.area, rel=2e-3)


@settings(max_examples=20, deadline=None)
@given(st.floats(0, 90), st.floats(3, 40), st.floats(-20, 110), st.floats(-20, 70))
def test_weights_add_up_to_those_of_the_areas(turn, radius, east, north):
    band = affinity.rotate(box(-50, 20, 150, 31), turn, origin=(40, 30))
    zones = [(Point(east, north).buffer(radius), 7.0), (band, 3.0), (box(0, 0, 30, 30), 0.5)]
    grid = Raster.of(TURNED, 3.0)
    left, expected = TURNED, 0.0
    for area, weight in zones:
        expected += weight * left.intersection(area).area
        left = left.difference(area)
    got = float(grid.weights(zones).sum()) * grid.step**2
    assert got == pytest.approx(expected + left.area, rel=4e-3)


@pytest.mark.parametrize("sigma", [2.0, 10.0])
def test_a_narrow_zone_along_straight_edges_is_not_rounded_to_whole_cells(sigma):
    # Edges along the grid and a zone 12.3 m wide: rounded to cells of 2.5 m it would have 10 or 12.5.
    site = MultiPolygon([box(0, 80 * k, 500, 80 * k + 40) for k in range(3)])
    zones = [RiskZone(site.difference(site.buffer(-12.3)), 4.5)]
    made = plan(site, minutes=40, sigma_m=sigma, prior=zones)
    rng, step = np.random.default_rng(2), sigma / 4
    east, north = np.meshgrid(np.arange(0, 500, step), np.arange(0, 200, step))
    points = np.column_stack([east.ravel(), north.ravel()]) + rng.uniform(0, step, (east.size, 2))
    points = points[shapely.contains_xy(site, *points.T)]
    weight = np.where(shapely.contains_xy(zones[0].area, *points.T), 4.5, 1.0)
    near = shapely.distance(shapely.LineString(made.route), shapely.points(points))
    truth = float((np.exp(-0.5 * (near / sigma) ** 2) * weight).sum() / weight.sum())
    assert made.p_detect == pytest.approx(truth, abs=0.002)
