"""Maps in: what other libraries write is read as they meant it, and any shape comes back as it was drawn."""

from __future__ import annotations

import io
import sqlite3
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import gpxpy.gpx
import numpy as np
import pytest
import shapefile
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Transformer

from _require import require
from ledger import broken
from tepal.ledger import Defaults, Ledger, Taken, Vocabulary, take
from tepal.ledger.formats._gpkg import read_gpkg
from tepal.ledger.formats._gpx import read_gpx, read_gpx_tracks
from tepal.ledger.formats._kml import read_kml
from tepal.ledger.formats._shapefile import read_zipped

TODAY = date(2026, 9, 1)
WORDS = Vocabulary(taxa={"palmer amaranth": "AMAPA", "waterhemp": "AMATU"})
START = datetime(2026, 6, 15, 1, 30, tzinfo=UTC)  # the evening before, where the sun stands as at 98° W
NORTH = shapely.box(-98.1, 40.0, -98.0, 40.1)

_lon = st.floats(-179, 179).map(lambda v: round(v, 7))
_lat = st.floats(-89, 89).map(lambda v: round(v, 7))
_line = st.lists(st.tuples(_lon, _lat), min_size=2, max_size=6)


def take_in(where: Path, *paths: Path, **more: Any) -> Taken:
    return take(paths, where, defaults=Defaults(**{"today": TODAY, "by": "scout", **more}), words=WORDS)


def bodies(where: Path, kind: str) -> list[tuple[str | None, dict[str, Any]]]:
    with Ledger.open(where) as ledger:
        return [(e.site, e.plain()["body"]) for e in ledger.entries(kinds=(kind,))]


def gpx_of(lines: list[list[tuple[float, float]]], times: bool = True, name: str | None = None) -> str:
    """A GPX file as gpxpy writes it: one track, a segment a line, a point a minute, ten minutes between segments."""
    out = gpxpy.gpx.GPX()
    out.tracks.append(gpxpy.gpx.GPXTrack(name=name))
    moment = START
    for line in lines:
        segment = gpxpy.gpx.GPXTrackSegment()
        for lon, lat in line:
            segment.points.append(gpxpy.gpx.GPXTrackPoint(lat, lon, 400.0, moment if times else None))
            moment += timedelta(minutes=1)
        out.tracks[0].segments.append(segment)
        moment += timedelta(minutes=9)
    return str(out.to_xml())


@given(st.lists(_line, min_size=1, max_size=3), st.sampled_from(["1.0", "1.1"]))
def test_a_track_comes_back_segment_by_segment_as_gpxpy_wrote_it(lines: list, version: str) -> None:
    out = gpxpy.parse(gpx_of(lines))
    found = read_gpx_tracks(out.to_xml(version).encode(), where="t.gpx")
    assert [[tuple(point) for point in line] for line in found] == lines
    track = read_gpx(out.to_xml(version).encode(), where="t.gpx").tracks[0]
    bounds = out.get_time_bounds()
    assert (track.started, track.ended) == (bounds.start_time, bounds.end_time)
    assert track.minutes == sum(len(line) - 1 for line in lines)


def test_a_walk_keeps_its_gaps_its_times_and_its_day_where_it_was_walked(tmp_path: Path) -> None:
    path = tmp_path / "north_eighty.gpx"
    path.write_text(gpx_of([[(-98.1, 40.0), (-98.0, 40.0)], [(-98.0, 40.1), (-98.1, 40.1), (-98.2, 40.1)]]))
    assert take_in(tmp_path / "l", path).added == 1
    assert take_in(tmp_path / "l", path).already == 1
    ((site, walk),) = bodies(tmp_path / "l", "walk")
    assert site == "north_eighty"
    assert walk["track"] == {
        "type": "MultiLineString",
        "coordinates": [[[-98.1, 40.0], [-98.0, 40.0]], [[-98.0, 40.1], [-98.1, 40.1], [-98.2, 40.1]]],
    }
    assert datetime.fromisoformat(walk["started"]) == START
    assert datetime.fromisoformat(walk["ended"]) == START + timedelta(minutes=13)
    assert (walk["minutes"], walk["on"]) == (3, "2026-06-14")


def test_a_track_finds_its_site_by_the_file_when_its_own_name_means_none(tmp_path: Path) -> None:
    boundary, track = tmp_path / "North Eighty.kml", tmp_path / "north_eighty.gpx"
    boundary.write_bytes(broken.kml_polygon(broken.RING).replace(b"<name>N</name>", b""))
    track.write_text(gpx_of([[(-98.0, 40.0), (-97.9, 40.0)]], name="ACTIVE LOG 003"))
    take_in(tmp_path / "l", boundary, track)
    ((site, walk),) = bodies(tmp_path / "l", "walk")
    assert (site, walk["words"]) == ("North Eighty", "ACTIVE LOG 003")


def test_marked_places_are_notes_and_only_plain_counts_are_stops(tmp_path: Path) -> None:
    out = gpxpy.gpx.GPX()
    for name in ("12 waterhemp", "Palmer amaranth: 3", "waterhemp 12", "12 gauge shell", "gate", None):
        out.waypoints.append(gpxpy.gpx.GPXWaypoint(40, -98, name=name, time=START, description="by the road"))
    path = tmp_path / "a.gpx"
    path.write_text(out.to_xml())
    found = take_in(tmp_path / "l", path)
    assert (found.added, found.understood[0].notes) == (6, ("2 stops", "4 notes"))
    counted = [stop["counts"][0] for _, stop in bodies(tmp_path / "l", "stop")]
    assert [(one["taxon"], one["count"]) for one in counted] == [("AMATU", 12), ("AMAPA", 3)]
    assert "waterhemp 12: by the road (at -98.000000, 40.000000)" in [
        n["words"] for _, n in bodies(tmp_path / "l", "note")
    ]


def test_an_undated_track_takes_the_day_that_is_given_and_one_with_times_keeps_its_own(tmp_path: Path) -> None:
    for name, times, day in (("a", False, "2026-06-01"), ("b", True, "2026-06-14")):
        path = tmp_path / f"{name}.gpx"
        path.write_text(gpx_of([[(-98.0, 40.0), (-97.9, 40.0)]], times))
        assert take_in(tmp_path / name, path, on=date(2026, 6, 1)).added == 1
        assert bodies(tmp_path / name, "walk")[0][1]["on"] == day


@given(st.lists(_line, min_size=1, max_size=3))
def test_lines_of_kml_come_back_as_drawn(lines: list) -> None:
    drawn = "".join(
        "<LineString><coordinates>\n"
        + "\n ".join(f"{lon!r},{lat!r},9" for lon, lat in line)
        + "</coordinates></LineString>"
        for line in lines
    )
    (feature,) = read_kml(broken.kml(f"<MultiGeometry>{drawn}</MultiGeometry>"), file="t.kml")
    assert feature.geometry is not None
    found = [[tuple(point) for point in one["coordinates"]] for one in feature.geometry["geometries"]]
    assert found == lines


def test_kml_gives_boundaries_with_holes_walks_with_times_and_notes_of_the_site_they_lie_in(tmp_path: Path) -> None:
    hole = "".join(f"{x},{y} " for x, y in ((-97.97, 40.03), (-97.97, 40.06), (-97.94, 40.06), (-97.97, 40.03)))
    edge = "".join(f"{x},{y},300 " for x, y in broken.RING)
    text = f"""<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="http://www.google.com/kml/ext/2.2"><Folder>
    <Placemark><name>Creek Bottom</name><ExtendedData><Data name="ground"><value>ditch</value></Data></ExtendedData>
    <Polygon><outerBoundaryIs><LinearRing><coordinates>{edge}</coordinates></LinearRing></outerBoundaryIs>
    <innerBoundaryIs><LinearRing><coordinates>{hole}</coordinates></LinearRing></innerBoundaryIs></Polygon></Placemark>
    <Placemark><name>gate</name><Point><coordinates>-97.99,40.01</coordinates></Point></Placemark>
    <Placemark><gx:Track><when>2026-06-14T13:00:00Z</when><when>2026-06-14T13:20:00Z</when>
    <gx:coord>-97.99 40.01 0</gx:coord><gx:coord>-97.98 40.02 0</gx:coord></gx:Track></Placemark></Folder></kml>"""
    path = tmp_path / "t.kml"
    path.write_text(text)
    kmz = tmp_path / "t.kmz"
    kmz.write_bytes(broken.packed({"doc.kml": text.encode(), "files/a.png": b"x"}))
    assert take_in(tmp_path / "l", path).added == 3
    assert take_in(tmp_path / "l", kmz).already == 3
    ((site, body),) = bodies(tmp_path / "l", "site")
    assert (site, body["ground"]) == ("Creek Bottom", "ditch")
    drawn = shapely.geometry.shape(body["boundary"])
    assert drawn.area == pytest.approx(0.01 - 0.03 * 0.03 / 2)
    assert {one for kind in ("note", "walk") for one, _ in bodies(tmp_path / "l", kind)} == {"Creek Bottom"}
    assert datetime.fromisoformat(bodies(tmp_path / "l", "walk")[0][1]["ended"]).minute == 20


def written(path: Path, shapes: list[Any], names: list[str], crs: str, driver: str) -> Path:
    """A layer as GDAL writes it."""
    raw = require("pyogrio", pytest.importorskip("pyogrio.raw"))
    geometry = np.array([shapely.to_wkb(shape) for shape in shapes], dtype=object)
    kind = shapes[0].geom_type
    raw.write(
        str(path),
        geometry=geometry,
        field_data=[np.array(names, dtype=object)],
        fields=["NAME"],
        geometry_type=kind,
        crs=crs,
        driver=driver,
    )
    return path


# Plate Carrée of another datum, metres of a zone, feet of a state plane, longitude and latitude.
@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:32614", "EPSG:26852", "EPSG:3857"])
@pytest.mark.parametrize(("driver", "suffix"), [("GPKG", ".gpkg"), ("ESRI Shapefile", ".shp")])
def test_what_gdal_writes_lies_where_it_lies_whatever_the_reference_system(
    tmp_path: Path, crs: str, driver: str, suffix: str
) -> None:
    move = Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    there = shapely.transform(NORTH, lambda p: np.column_stack(move.transform(p[:, 0], p[:, 1])))
    path = written(tmp_path / f"farm{suffix}", [there], ["North Eighty"], crs, driver)
    before = {one.name: one.read_bytes() for one in tmp_path.iterdir()}
    assert take_in(tmp_path / "l.ledger", path).refused == ()
    assert {one.name: one.read_bytes() for one in tmp_path.iterdir() if one.name in before} == before
    assert {one.name for one in tmp_path.iterdir()} - set(before) == {"l.ledger"}
    ((site, body),) = bodies(tmp_path / "l.ledger", "site")
    assert site == "North Eighty"
    found = shapely.geometry.shape(body["boundary"])
    # A millionth of a degree is a tenth of a metre.
    assert found.hausdorff_distance(NORTH) < 1e-6
    if suffix == ".shp":
        parts = {one.name: one.read_bytes() for one in tmp_path.glob("farm.*")}
        zipped = tmp_path / "other.zip"
        zipped.write_bytes(broken.packed({f"maps/{name}": raw for name, raw in parts.items()}))
        assert take_in(tmp_path / "l.ledger", zipped).already == 1


@settings(max_examples=25, deadline=None)
@given(st.lists(_line.map(shapely.LineString), min_size=1, max_size=4))
def test_any_lines_of_a_geopackage_come_back_as_drawn(lines: list[shapely.LineString]) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        path = written(Path(folder) / "t.gpkg", lines, ["a"] * len(lines), "EPSG:4326", "GPKG")
        found = [shapely.geometry.shape(one.geometry) for one in read_gpkg(path)]
    assert [line.equals_exact(other) for line, other in zip(lines, found, strict=True)] == [True] * len(lines)


@given(st.lists(_line, min_size=1, max_size=4), st.text("abcñ", min_size=1, max_size=9))
def test_any_lines_of_a_shapefile_come_back_as_drawn(lines: list, name: str) -> None:
    parts = {part: io.BytesIO() for part in ("shp", "shx", "dbf")}
    with shapefile.Writer(**parts) as writer:
        writer.field("NAME", "C")
        for line in lines:
            writer.line([line])
            writer.record(name)
    features = read_zipped({f"x/t.{part}": raw.getvalue() for part, raw in parts.items()}, file="t.zip")
    found = [[tuple(point) for point in one.geometry["coordinates"]] for one in features]  # type: ignore[index]
    assert found == lines
    assert {one.properties["NAME"] for one in features} == {name}


def test_a_geopackage_cannot_make_us_run_what_its_schema_says(tmp_path: Path) -> None:
    """A view in the place of a feature table, which would never end if it were read, is not read."""
    path = tmp_path / "t.gpkg"
    path.write_bytes(broken.gpkg_layer("4750000100000000" + "0101000000" + "00" * 16))
    with sqlite3.connect(path) as database:
        database.execute("DROP TABLE field")
        loop = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT i AS id, x'00' AS geom FROM n"
        database.execute(f"CREATE VIEW field AS {loop}")
    database.close()
    (refused,) = take_in(tmp_path / "l", path).refused
    assert "no feature table" in str(refused)


def test_a_planned_route_is_no_walk():
    from tepal.ledger.formats._gpx import read_gpx
    from tepal.tables import Refused

    raw = b'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><rte><rtept lat="41" lon="-93"/></rte></gpx>'
    with pytest.raises(Refused, match="planned"):
        read_gpx(raw, where="plan.gpx")
