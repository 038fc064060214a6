"""`tepal walk --minutes` by its JSON contract."""

import json

import gpxpy
import pytest
from pyproj import Geod
from shapely.geometry import shape

from tepal.cli import main

SITE = {"type": "Polygon", "coordinates": [
    [[-97.0, 41.0], [-96.995, 41.0], [-96.995, 41.004], [-97.0, 41.004], [-97.0, 41.0]],
    [[-96.998, 41.001], [-96.997, 41.001], [-96.997, 41.002], [-96.998, 41.002], [-96.998, 41.001]]]}  # fmt: skip


@pytest.fixture
def files(tmp_path):
    (tmp_path / "site.geojson").write_text(json.dumps(SITE))
    zone = {"type": "Polygon", "coordinates": [[[-97, 41], [-96.995, 41], [-96.995, 41.001], [-97, 41.001], [-97, 41]]]}
    (tmp_path / "prior.geojson").write_text(
        json.dumps({"type": "Feature", "properties": {"weight": 10}, "geometry": zone})
    )
    return tmp_path


def run(capsys, *arguments):
    code = main(["walk", *map(str, arguments)])
    return code, capsys.readouterr()


def test_json_has_the_keys_and_the_route_is_as_long_as_it_says(files, capsys):
    code, said = run(capsys, files / "site.geojson", "--minutes", 30, "--sigma", 5, "--json")
    assert code == 0
    answer = json.loads(said.out)
    assert {"route", "metres", "minutes", "p_detect", "p_patch"} <= set(answer)
    line = shape(answer["route"])
    assert Geod(ellps="WGS84").geometry_length(line) == pytest.approx(answer["metres"], rel=2e-4)
    assert 1950 < answer["metres"] <= 2000
    assert answer["minutes"] == pytest.approx(answer["metres"] / 4000 * 60)
    assert line.within(shape(SITE).buffer(1e-5))


def test_speed_start_and_prior_are_taken(files, capsys):
    asked = ["--minutes", 30, "--sigma", 5, "--json", "--speed", 2, "--from", "-97.0,41.0", "--back"]
    _, said = run(capsys, files / "site.geojson", *asked, "--prior", files / "prior.geojson")
    answer = json.loads(said.out)
    assert answer["metres"] <= 1000
    coordinates = answer["route"]["coordinates"]
    assert coordinates[0] == coordinates[-1] == [-97.0, 41.0]
    seen = {zone["weight"]: zone["seen_share"] for zone in answer["zones"]}
    assert seen[10] > seen[1]


def test_more_time_finds_more(files, capsys):
    _, said = run(capsys, files / "site.geojson", "--minutes", 15, "--sigma", 5, "--json", "--more-time")
    answer = json.loads(said.out)
    chances = [answer["p_detect"], *(m["p_detect"] for m in answer["more_time"])]
    assert [m["minutes"] for m in answer["more_time"]] == [30, 45, 60, 75]
    assert chances == sorted(chances)
    assert chances[-1] > 1.5 * chances[0]


def test_files_are_read_back_by_other_libraries(files, capsys):
    gpx, geojson = files / "route.gpx", files / "route.geojson"
    _, said = run(
        capsys, files / "site.geojson", "--minutes", 15, "--sigma", 5, "--json", "--gpx", gpx, "--geojson", geojson
    )
    route = json.loads(said.out)["route"]["coordinates"]
    points = gpxpy.parse(gpx.read_text()).routes[0].points
    assert [[p.longitude, p.latitude] for p in points] == route
    assert json.loads(geojson.read_text())["features"][0]["geometry"]["coordinates"] == route
    code, said = run(capsys, files / "site.geojson", "--minutes", 15, "--sigma", 5, "--gpx", files / "no" / "route.gpx")
    assert code == 2
    assert "written" in said.err


def test_words_say_what_the_walk_finds(files, capsys):
    code, said = run(capsys, files / "site.geojson", "--minutes", 15, "--sigma", 5, "--prior", files / "prior.geojson")
    assert code == 0
    assert said.out.startswith("Walk ")
    assert "10 times as high" in said.out


@pytest.mark.parametrize("suffix", [".svg", ".pdf", ".png"])
def test_a_map_is_drawn(files, capsys, suffix):
    to = files / f"route{suffix}"
    asked = ["--minutes", 15, "--sigma", 5, "--prior", files / "prior.geojson", "--map", to]
    code, _ = run(capsys, files / "site.geojson", *asked)
    assert code == 0
    assert to.read_bytes().startswith({".svg": b"<?xml", ".pdf": b"%PDF", ".png": b"\x89PNG"}[suffix])


def test_a_map_of_another_kind_is_refused(files, capsys):
    code, said = run(capsys, files / "site.geojson", "--minutes", 15, "--sigma", 5, "--map", files / "route.doc")
    assert code == 2
    assert ".svg" in said.err
    assert "--map" in said.err
