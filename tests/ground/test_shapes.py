"""GeoJSON in: all its polygons or lines together, or a refusal that says what was wrong."""

from __future__ import annotations

import json
from typing import Any

import pytest
from shapely.geometry import box, mapping

from tepal.ground import boundary_from_geojson, line_from_geojson
from tepal.tables import Refused

WEST, EAST, OVERLAP = (
    box(-93.02, 42.0, -93.01, 42.01),
    box(-93.0, 42.0, -92.99, 42.01),
    box(-93.015, 42.0, -93.0, 42.01),
)


def _json(geometry: Any) -> dict[str, Any]:
    parsed: dict[str, Any] = json.loads(json.dumps(mapping(geometry)))
    return parsed


def _feature(geometry: dict[str, Any] | None) -> dict[str, Any]:
    return {"type": "Feature", "properties": {}, "geometry": geometry}


def _collection(*geometries: dict[str, Any] | None) -> dict[str, Any]:
    return {"type": "FeatureCollection", "features": [_feature(geometry) for geometry in geometries]}


def test_parts_stay_parts_and_overlaps_count_once() -> None:
    two = boundary_from_geojson(_collection(_json(WEST), None, _json(EAST)), where="t")
    assert len(two.geoms) == 2
    one = boundary_from_geojson(_collection(_json(WEST), _json(OVERLAP), _json(EAST)), where="t")
    assert len(one.geoms) == 1
    assert one.area == pytest.approx(0.03 * 0.01)


def test_a_hole_stays_a_hole_and_heights_are_dropped() -> None:
    ring, hole = WEST.exterior.coords, WEST.buffer(-0.002).exterior.coords
    data = {
        "type": "Polygon",
        "coordinates": [[[*point, 310.5] for point in ring], [[*point, 310.5] for point in hole]],
    }
    shape = boundary_from_geojson(data, where="t")
    assert not shape.has_z
    assert len(shape.geoms[0].interiors) == 1


def test_other_things_in_a_file_are_passed_over() -> None:
    point = {"type": "Point", "coordinates": [-93.0, 42.0]}
    collection = {"type": "GeometryCollection", "geometries": [point, _json(WEST)]}
    assert boundary_from_geojson(_collection(point, collection), where="t").area == pytest.approx(WEST.area)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({"type": "Point", "coordinates": [1, 2]}, "no polygon"),
        (_collection(), "no polygon"),
        (_collection(None), "no polygon"),
        ({"type": "Polygon", "coordinates": []}, "no polygon"),
        ([1, 2], "GeoJSON of type None was not understood"),
        ({}, "GeoJSON of type None was not understood"),
        ({"type": "Circle", "coordinates": [1, 2]}, "GeoJSON of type 'Circle' was not understood"),
        ({"type": "Polygon"}, "GeoJSON of type 'Polygon' was not understood"),
        ({"type": "Polygon", "coordinates": "here"}, "GeoJSON of type 'Polygon' was not understood"),
        ({"type": "Polygon", "coordinates": [[[0, 0], [1, "x"], [1, 1], [0, 0]]]}, "GeoJSON of type 'Polygon'"),
        ({"type": "Polygon", "coordinates": [[[0, 0], [1, 1], [1, 0], [0, 1], [0, 0]]]}, "the boundary is not simple"),
        (_json(box(440_000, 4_600_000, 441_000, 4_601_000)), "coordinates from (440000, 4.6e+06)"),
        (_json(box(42.0, -93.02, 42.01, -93.01)), "coordinates from (42, -93.02)"),
        ({"type": "FeatureCollection", "features": 3}, "GeoJSON of type 'FeatureCollection' was not understood"),
        ({"type": "FeatureCollection", "features": ["x"]}, "GeoJSON of type None was not understood"),
        ({"type": "Feature", "geometry": "x"}, "GeoJSON of type None was not understood"),
        (
            {"type": "Polygon", "coordinates": [[[0, 0], [float("nan"), 1], [1, 1], [0, 0]]]},
            "GeoJSON of type 'Polygon' was not",
        ),
    ],
)
def test_what_is_no_boundary_is_refused(data: Any, said: str) -> None:
    with pytest.raises(Refused) as caught:
        boundary_from_geojson(data, where="field.geojson")
    assert str(caught.value).startswith(said)
    assert "(field.geojson)" in str(caught.value)


def test_metres_are_taken_when_they_are_said_to_be_metres() -> None:
    square = box(0, 0, 400, 200)
    assert boundary_from_geojson(_json(square), where="t", lonlat=False).area == 80_000


def test_lines_come_as_one_in_their_order() -> None:
    first = {"type": "LineString", "coordinates": [[-93, 42], [-93.001, 42]]}
    more = {
        "type": "MultiLineString",
        "coordinates": [[[-93, 42.1, 290.5], [-93, 42.2]], [[-93, 42.3], [-93, 42.4, 300]]],
    }
    line = line_from_geojson(_collection(first, more, _json(WEST)), where="t")
    assert [part.coords[0][1] for part in line.geoms] == [42, 42.1, 42.3]


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (_json(WEST), "no line"),
        (
            {"type": "LineString", "coordinates": [[-93, 42], [float("inf"), 42]]},
            "GeoJSON of type 'LineString' was not",
        ),
        ({"type": "LineString", "coordinates": [[-93, 42]]}, "GeoJSON of type 'LineString'"),
        ({"type": "LineString", "coordinates": [[42, -93], [42.1, -93]]}, "coordinates from"),
    ],
)
def test_what_is_no_track_is_refused(data: Any, said: str) -> None:
    with pytest.raises(Refused) as caught:
        line_from_geojson(data, where="t")
    assert str(caught.value).startswith(said)
