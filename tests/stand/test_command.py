"""`tepal stand` by its JSON contract."""

import json

import numpy as np
import pytest

from tepal.cli import main

KEYS = ["mean", "sd", "p0", "q025", "q05", "q10", "q25", "q50", "q75", "q90", "q95", "q975"]
SQUARE = [[[0, 0], [200, 0], [200, 200], [0, 200], [0, 0]]]


@pytest.fixture
def files(tmp_path):
    rng = np.random.default_rng(2)
    rows = ["x,y,area_m2,count"]
    degrees = ["lon,lat,area_m2,count"]
    for _ in range(40):
        x, y = rng.uniform(0, 200, 2)
        n = rng.poisson(6 if x < 60 else 0.2)
        rows.append(f"{x:.2f},{y:.2f},1,{n}")
        degrees.append(f"{-97 + x / 84_000:.8f},{41 + y / 111_000:.8f},1,{n}")
    (tmp_path / "c.csv").write_text("\n".join(rows))
    (tmp_path / "d.csv").write_text("\n".join(degrees))
    (tmp_path / "b.geojson").write_text(json.dumps({"type": "Polygon", "coordinates": SQUARE}))
    ring = [[-97 + x / 84_000, 41 + y / 111_000] for x, y in SQUARE[0]]
    (tmp_path / "bd.geojson").write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}))
    (tmp_path / "p.csv").write_text("x,y,area_m2\n20,100,1\n150,100,1\n")
    return tmp_path


def run(capsys, *arguments):
    code = main(["stand", *map(str, arguments)])
    return code, capsys.readouterr()


def test_json_has_exactly_the_promised_parts(files, capsys):
    code, said = run(capsys, files / "c.csv", "--boundary", files / "b.geojson", "--at", files / "p.csv", "--json")
    assert code == 0
    assert said.out.count("\n") == 1
    answer = json.loads(said.out)
    for part in ("density_per_m2", "total"):
        assert list(answer[part]) == ["mean", "q05", "q50", "q95"]
    assert answer["patches"]["type"] == "FeatureCollection"
    for feature in answer["patches"]["features"]:
        assert 0.5 <= feature["properties"]["probability"] <= 1
        assert feature["properties"]["hectares"] > 0
    assert len(answer["patches"]["features"]) >= 1
    assert [list(point) for point in answer["at"]] == [KEYS, KEYS]
    assert answer["at"][0]["mean"] > answer["at"][1]["mean"]


def test_without_boundary_there_is_no_total(files, capsys):
    _, said = run(capsys, files / "c.csv", "--json")
    answer = json.loads(said.out)
    assert "total" not in answer
    assert "at" not in answer
    assert answer["density_per_m2"]["q05"] > 0


def test_the_same_files_give_the_same_answer(files, capsys):
    _, first = run(capsys, files / "c.csv", "--boundary", files / "b.geojson", "--json")
    _, second = run(capsys, files / "c.csv", "--boundary", files / "b.geojson", "--json")
    assert first.out == second.out


def test_degrees_and_metres_agree(files, capsys):
    _, metres = run(capsys, files / "c.csv", "--boundary", files / "b.geojson", "--json")
    _, degrees = run(capsys, files / "d.csv", "--boundary", files / "bd.geojson", "--json")
    one, other = json.loads(metres.out), json.loads(degrees.out)
    assert other["total"]["q50"] == pytest.approx(one["total"]["q50"], rel=0.1)
    ring = other["patches"]["features"][0]["geometry"]["coordinates"]
    assert -98 < np.ravel(ring[0])[0] < -96


def test_words_come_first(files, capsys):
    code, said = run(capsys, files / "c.csv", "--boundary", files / "b.geojson")
    assert code == 0
    assert said.out.startswith("About ")
    assert "acres" in said.out


REFUSED = [
    ("x,y,area_m2,count\n0,0,1,1.5\n", "whole number"),
    ("x,y,area_m2,count\n0,0,1,-1\n", "count"),
    ("x,y,area_m2,count\n0,0,0,1\n", "above 0"),
    ("x,y,area_m2,count\n", "no counts"),
    ("x,y,area_m2\n0,0,1\n", "no column"),
    ("a,b,area_m2,count\n0,0,1,1\n", "x,y"),
    ("lon,lat,area_m2,count\n500,0,1,1\n", "lon"),
    ("x,y,area_m2,count\n0,,1,1\n", "line 2"),
]


@pytest.mark.parametrize(("text", "word"), REFUSED)
def test_refusals_are_one_line_and_code_2(tmp_path, capsys, text, word):
    (tmp_path / "c.csv").write_text(text)
    code, said = run(capsys, tmp_path / "c.csv", "--json")
    assert code == 2
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert word in said.err


def test_stops_made_where_plants_were_seen_need_a_track_and_a_width_of_sight(tmp_path, capsys):
    counts, track = tmp_path / "counts.csv", tmp_path / "track.geojson"
    site = tmp_path / "site.geojson"
    ring = [[-97.0, 41.0], [-96.996, 41.0], [-96.996, 41.003], [-97.0, 41.003], [-97.0, 41.0]]
    site.write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}))
    counts.write_text("lon,lat,area_m2,count\n-96.999,41.0015,10,7\n-96.9975,41.0015,10,4\n")
    line = {"type": "LineString", "coordinates": [[-96.9998, 41.0015], [-96.9962, 41.0015], [-96.9962, 41.0025]]}
    track.write_text(json.dumps(line))
    asked = ["stand", str(counts), "--boundary", str(site), "--json"]
    assert main(asked) == 0
    plain = json.loads(capsys.readouterr().out)
    assert main([*asked, "--stopped-where-seen", str(track), "--sigma", "3"]) == 0
    mended = json.loads(capsys.readouterr().out)
    assert mended["total"]["q50"] < plain["total"]["q50"] / 3
    assert mended["counted"]["plants"] == 11 and mended["counted"]["area_m2"] > 1000
    assert main([*asked, "--stopped-where-seen", str(track)]) == 2
    assert "--sigma" in capsys.readouterr().err
