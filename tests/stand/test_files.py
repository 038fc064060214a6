"""Patches written by `tepal stand --patches-to`, each read back by another library."""

import json
import zipfile

import numpy as np
import pytest
import shapely

from tepal.cli import main
from tepal.cli._stand_map import _edges

LON, LAT = 1 / 84_000, 1 / 111_000
KEYS = ["probability", "hectares", "above_per_m2", "share_of_plants"]


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("patches")
    rng = np.random.default_rng(2)
    rows = ["lon,lat,area_m2,count"]
    for x, y in rng.uniform(0, 300, (50, 2)):
        rows.append(f"{-97 + x * LON:.8f},{41 + y * LAT:.8f},2,{rng.poisson(9 if x < 90 else 0.2)}")
    (folder / "counts.csv").write_text("\n".join(rows))
    ring = [[-97 + x * LON, 41 + y * LAT] for x, y in [(0, 0), (300, 0), (300, 300), (0, 300), (0, 0)]]
    (folder / "site.geojson").write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}))
    return folder


def written(files, capsys, name):
    out = files / name
    code = main(["stand", str(files / "counts.csv"), "--boundary", str(files / "site.geojson"),
                 "--patches-to", str(out), "--json"])  # fmt: skip
    said = capsys.readouterr()
    assert code == 0, said.err
    return out, json.loads(said.out)["patches"]["features"]


def alike(shape, feature, within=1e-4):
    told = shapely.from_geojson(json.dumps(feature["geometry"]))
    return shape.symmetric_difference(told).area < within * told.area


@pytest.mark.parametrize("name", ["p.geojson", "p.gpkg", "p.zip"])
def test_maps_are_read_back_by_another_library(files, capsys, name):
    import pyogrio

    out, features = written(files, capsys, name)
    source = f"/vsizip/{out}" if name.endswith(".zip") else out
    meta, _, shapes, columns = pyogrio.raw.read(source)
    assert meta["crs"] == "EPSG:4326"
    assert [name[:10] for name in KEYS] == [name[:10] for name in meta["fields"]]
    assert len(shapes) == len(features) >= 1
    for raw, feature, *values in zip(shapes, features, *columns, strict=True):
        assert alike(shapely.from_wkb(raw), feature)
        assert values == pytest.approx([feature["properties"][key] for key in KEYS], rel=1e-2)


def test_a_receiver_reads_points_inside_and_edges(files, capsys):
    import gpxpy

    out, features = written(files, capsys, "p.gpx")
    read = gpxpy.parse(out.read_text())
    assert len(read.waypoints) == len(read.tracks) == len(features)
    for point, track, feature in zip(read.waypoints, read.tracks, features, strict=True):
        told = shapely.from_geojson(json.dumps(feature["geometry"]))
        assert told.contains(shapely.Point(point.longitude, point.latitude))
        edge = shapely.Polygon([(p.longitude, p.latitude) for p in track.segments[0].points])
        assert alike(shapely.Polygon(edge.exterior, [r.coords for r in told.interiors]), feature, within=3e-3)


def test_a_terminal_reads_zones_that_are_on_and_a_field_that_is_off(files, capsys):
    from isoxml.models.ddi_entities import DDEntity
    from isoxml.util.isoxml_io import isoxml_from_path

    folder = files / "TASKDATA"
    folder.mkdir(exist_ok=True)
    _, features = written(files, capsys, "TASKDATA/TASKDATA.XML")
    data, _ = isoxml_from_path(folder)
    (field,), (task,) = data.partfields, data.tasks
    assert field.area == pytest.approx(90_000, rel=0.01)
    assert task.partfield_id_ref == field.id
    off, *zones = task.treatment_zones
    assert task.default_treatment_zone_code == task.out_of_field_treatment_zone_code == off.code == 0
    for zone in (off, *zones):
        (what,) = zone.process_data_variables
        number = int.from_bytes(what.process_data_ddi, "big")
        assert DDEntity.from_id(number).name == "Setpoint Work State"
        assert what.process_data_value == (zone.code > 0)
    assert len(zones) == len(features)
    for zone, feature in zip(zones, features, strict=True):
        (polygon,) = zone.polygons
        rings = [[(float(p.east), float(p.north)) for p in line.points] for line in polygon.line_strings]
        assert alike(shapely.Polygon(rings[0], rings[1:]), feature)


def test_a_shapefile_holds_its_four_parts(files, capsys):
    out, _ = written(files, capsys, "q.zip")
    with zipfile.ZipFile(out) as packed:
        assert sorted(packed.namelist()) == ["patches.dbf", "patches.prj", "patches.shp", "patches.shx"]


REFUSED = [
    (["--patches-to", "p.kml"], "ends in"),
    (["--patches-to", "none/p.gpx"], "folder"),
    (["--draw", "m.gif"], "ends in"),
]


@pytest.mark.parametrize(("more", "word"), REFUSED)
def test_a_file_that_cannot_be_written_is_refused_before_any_work(files, capsys, monkeypatch, more, word):
    monkeypatch.chdir(files)
    assert main(["stand", "counts.csv", "--boundary", "site.geojson", *more, "--json"]) == 2
    said = capsys.readouterr()
    assert word in said.err
    assert said.out == ""


def test_patches_need_a_boundary_and_degrees(files, capsys):
    assert main(["stand", str(files / "counts.csv"), "--patches-to", str(files / "p.gpx")]) == 2
    assert "boundary" in capsys.readouterr().err
    (files / "m.csv").write_text("x,y,area_m2,count\n1,1,1,2\n")
    (files / "m.geojson").write_text('{"type":"Polygon","coordinates":[[[0,0],[9,0],[9,9],[0,0]]]}')
    arguments = [str(files / "m.csv"), "--boundary", str(files / "m.geojson"), "--patches-to", str(files / "p.gpx")]
    assert main(["stand", *arguments]) == 2
    assert "degrees" in capsys.readouterr().err


@pytest.mark.parametrize("end", ["svg", "pdf", "png"])
def test_a_map_is_drawn_and_is_the_same_again(files, capsys, end):
    drawn = []
    for k in range(2):
        out = files / f"map{k}.{end}"
        code = main(["stand", str(files / "counts.csv"), "--boundary", str(files / "site.geojson"), "--draw", str(out)])
        assert code == 0
        drawn.append(out.read_bytes())
    capsys.readouterr()
    assert drawn[0] == drawn[1]
    assert len(drawn[0]) > 5000


def test_shades_are_far_apart_where_densities_are_and_close_where_they_are_close():
    assert _edges(np.full(9, 0.001), np.full(9, 1.0), np.full(9, 10.0)) == pytest.approx([0.1, 0.3, 1, 3, 10])
    assert _edges(np.full(9, 0.5), np.full(9, 2.0), np.full(9, 10.0)) == pytest.approx([0.5, 1, 2, 5, 10])
    assert np.all(np.isfinite(_edges(np.zeros(9), np.zeros(9), np.zeros(9))))
