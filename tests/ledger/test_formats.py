"""Lone files: places, counts, boundaries; columns by name and unit."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tepal.ledger.formats import read_boundary, read_counts, read_points, words_of
from tepal.ledger.formats._units import UNITS
from tepal.tables import Refused


def write(folder: Path, text: str, name: str = "t.csv") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("header", "cells", "area"),
    [
        ("x,y,area_m2,count", "1,2,0.25,3", 0.25),
        ("x,y,Quadrat Area (sq ft),n", "1,2,10,3", 0.9290304),
        ("x,y,acres,number", "1,2,0.001,3", 4.0468564224),
        ("X;Y;Area (ha);Count", "1;2;0.01;3", 100.0),
        ("x,y,row_feet,row spacing in,count", "1,2,30,30,3", 6.967728),
        ("x,y,row length (m),row_cm,count", "1,2,10,76,3", 7.6),
        ("x,y,area,count", "1,2,4 sq ft,3", 0.37161216),
        ("east,north,area [m2],plants", "1,2,5,3", 5.0),
    ],
)
def test_counts_are_read_by_name_and_unit(tmp_path: Path, header: str, cells: str, area: float) -> None:
    found = read_counts(write(tmp_path, f"{header}\n{cells}\n"))
    assert not found.lonlat
    assert (found.x[0], found.y[0], found.count[0]) == (1, 2, 3)
    assert found.area_m2[0] == pytest.approx(area, rel=1e-12)
    assert found.lines == (2,)
    assert found.count.dtype == np.int64
    assert not found.x.flags.writeable


def test_degrees_are_kept_as_degrees(tmp_path: Path) -> None:
    found = read_counts(write(tmp_path, "Longitude,Latitude,area_m2,count\n-98.5,40.25,1,0\n"))
    assert found.lonlat
    assert (found.x[0], found.y[0]) == (-98.5, 40.25)


def test_what_was_understood_is_said(tmp_path: Path) -> None:
    found = read_counts(write(tmp_path, "x,y,row ft,row width (in),n,colour\n1,2,30,30,3,red\n"))
    assert "column 'row ft' read as row length in feet" in found.said
    assert "column 'row width (in)' read as row width in inches" in found.said
    assert "not used: 'colour'" in found.said


def test_points_need_no_count_and_take_a_given_area(tmp_path: Path) -> None:
    found = read_points(write(tmp_path, "x,y\n1,2\n3,4\n"), area_m2=0.5)
    assert found.area_m2.tolist() == [0.5, 0.5]
    assert len(found) == 2


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("x,y,area_m2,count\n1,2,1,-1\n", 2),
        ("x,y,area_m2,count\n1,2,1,1.5\n", 2),
        ("x,y,area_m2,count\n1,2,1,\n", 2),
        ("x,y,area_m2,count\n1,2,0,1\n", 2),
        ("x,y,area_m2,count\n1,2,-3,1\n", 2),
        ("x,y,area_m2,count\n1,2,,1\n", 2),
        ("x,y,area_m2,count\n1,2,nan,1\n", 2),
        ("x,y,area_m2,count\n1,2,1,1\n1,,1,1\n", 3),
        ("x,y,area_m2,count\n1,inf,1,1\n", 2),
        ("x,y,area_m2,count\n1,2,1,many\n", 2),
        ("x,y,area_m2,count\n1,2,1,1_000\n", 2),
        ("lon,lat,area_m2,count\n-98,140,1,1\n", 2),
        ("lon,lat,area_m2,count\n-198,40,1,1\n", 2),
        ("x,y,count\n1,2,3\n", 2),
        ("x,y,area_m2\n1,2,3\n", 1),
        ("a,b,area_m2,count\n1,2,3,4\n", 1),
        ("x,y,area,count\n1,2,3,4\n", 2),
        ("x,y,area,count\n1,2,3 bushels,4\n", 2),
        ("x,y,area_m2,acres,count\n1,2,3,4,5\n", 1),
        ("x,y,area_m2,count\n", None),
        ("", None),
    ],
)
def test_counts_that_cannot_be_meant_are_refused_with_their_line(tmp_path: Path, text: str, line: int | None) -> None:
    with pytest.raises(Refused) as caught:
        read_counts(write(tmp_path, text))
    assert caught.value.where.file == "t.csv"
    assert caught.value.where.line == line


@pytest.mark.parametrize(
    ("ours", "theirs", "value"),
    [
        # Exact by definition of the international foot, acre, gallon and of Fahrenheit.
        ("cm", "in", 2.54),
        ("m", "ft", 0.3048),
        ("m", "yd", 0.9144),
        ("m2", "ac", 4046.8564224),
        ("m2", "sq ft", 0.09290304),
        ("m2", "ha", 10_000.0),
        ("mm", "in", 25.4),
        ("l_ha", "gpa", 9.353958),
        ("h", "min", 1 / 60),
        ("share", "%", 0.01),
    ],
)
def test_units_are_what_they_are_by_definition(ours: str, theirs: str, value: float) -> None:
    assert UNITS[ours][theirs].factor == pytest.approx(value, rel=1e-6)


@given(st.floats(-70, 60))
def test_fahrenheit_goes_to_celsius(celsius: float) -> None:
    unit = UNITS["c"]["f"]
    assert (celsius * 9 / 5 + 32) * unit.factor + unit.offset == pytest.approx(celsius, abs=1e-9)


def test_headers_become_plain_words() -> None:
    assert words_of("Row_Length(ft)") == words_of("rowLength ft") == "row length ft"


SQUARE = [[[0, 0], [100, 0], [100, 50], [0, 50], [0, 0]]]


def test_a_boundary_can_be_in_metres(tmp_path: Path) -> None:
    path = write(tmp_path, json.dumps({"type": "Polygon", "coordinates": SQUARE}), "b.geojson")
    assert read_boundary(path, lonlat=False).area == 5000


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        '{"type": "Polygon"}',
        '{"type": "Point", "coordinates": [1, 2]}',
        '{"type": "Polygon", "coordinates": [[[0, NaN], [1, 0], [1, 1], [0, 0]]]}',
        '{"type": "FeatureCollection", "features": []}',
        json.dumps({"type": "Polygon", "coordinates": [[[0, 0], [1000, 0], [1, 1], [0, 0]]]}),
        "[" * 100_000,
        "\x00",
    ],
)
def test_what_is_no_boundary_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(Refused) as caught:
        read_boundary(write(tmp_path, text, "b.geojson"))
    assert caught.value.where.file == "b.geojson"


def test_the_lone_readers_cost_neither_the_store_nor_the_entry_types() -> None:
    import subprocess

    code = "import sys, tepal.ledger.formats; print({'sqlalchemy', 'pydantic', 'alembic'} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"
