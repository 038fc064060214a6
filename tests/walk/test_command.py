"""`tepal walk` by its JSON contract."""

import json

import pytest

from tepal.cli import main

SITE = {
    "type": "Feature",
    "properties": {},
    "geometry": {
        "type": "MultiPolygon",
        "coordinates": [
            [[[-97.0, 41.0], [-96.995, 41.0], [-96.995, 41.004], [-97.0, 41.004], [-97.0, 41.0]],
             [[-96.998, 41.001], [-96.997, 41.001], [-96.997, 41.002], [-96.998, 41.002], [-96.998, 41.001]]],
            [[[-96.994, 41.0], [-96.993, 41.0], [-96.993, 41.004], [-96.994, 41.004], [-96.994, 41.0]]],
        ],
    },
}  # fmt: skip
GPX = """<?xml version="1.0"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk>
<trkseg><trkpt lat="41.0005" lon="-97.0"/><trkpt lat="41.0005" lon="-96.995"/></trkseg>
<trkseg><trkpt lat="41.0035" lon="-96.995"/><trkpt lat="41.0035" lon="-97.0"/></trkseg></trk></gpx>"""


@pytest.fixture
def files(tmp_path):
    (tmp_path / "site.geojson").write_text(json.dumps(SITE))
    (tmp_path / "t.gpx").write_text(GPX)
    lines = [[[-97.0, 41.0005], [-96.995, 41.0005]], [[-96.995, 41.0035], [-97.0, 41.0035]]]
    (tmp_path / "t.geojson").write_text(json.dumps({"type": "MultiLineString", "coordinates": lines}))
    zone = {"type": "Polygon", "coordinates": [[[-97, 41], [-96.995, 41], [-96.995, 41.001], [-97, 41.001], [-97, 41]]]}
    collection = {"type": "FeatureCollection", "features": [
        {"type": "Feature", "properties": {"weight": 10}, "geometry": zone}]}  # fmt: skip
    (tmp_path / "prior.geojson").write_text(json.dumps(collection))
    return tmp_path


def run(capsys, *arguments):
    code = main(["walk", *map(str, arguments)])
    return code, capsys.readouterr()


def test_json_has_the_keys_and_gpx_equals_geojson(files, capsys):
    _, first = run(capsys, files / "site.geojson", "--walked", files / "t.gpx", "--sigma", 5, "--found", 0, "--json")
    code, second = run(
        capsys, files / "site.geojson", "--walked", files / "t.geojson", "--sigma", 5, "--found", 0, "--json"
    )
    assert code == 0
    assert first.out == second.out
    answer = json.loads(first.out)
    assert {"p_present", "density_upper95_per_ha", "seen_share", "assumed"} <= set(answer)
    assert 0 < answer["p_present"] < 0.5


def test_two_walks_are_both_counted(files, capsys):
    _, one = run(capsys, files / "site.geojson", "--walked", files / "t.gpx", "--sigma", 5, "--json")
    other = {"type": "LineString", "coordinates": [[-96.9935, 41.0], [-96.9935, 41.004]]}
    (files / "u.geojson").write_text(json.dumps(other))
    _, two = run(capsys, files / "site.geojson", "--walked", files / "t.gpx", "--walked", files / "u.geojson",
                 "--sigma", 5, "--json")  # fmt: skip
    assert json.loads(two.out)["seen_share"] > json.loads(one.out)["seen_share"]


def test_a_prior_by_polygons_is_taken(files, capsys):
    _, flat = run(capsys, files / "site.geojson", "--walked", files / "t.gpx", "--sigma", 5, "--json")
    _, risk = run(capsys, files / "site.geojson", "--walked", files / "t.gpx", "--sigma", 5, "--json",
                  "--prior", files / "prior.geojson")  # fmt: skip
    assert json.loads(risk.out)["seen_share"] > json.loads(flat.out)["seen_share"]


def test_words_say_what_is_left(files, capsys):
    code, said = run(capsys, files / "site.geojson", "--walked", files / "t.gpx", "--sigma", 5)
    assert code == 0
    assert said.out.startswith("You saw none in the part you walked.")
    assert "--prior-present" in said.out


REFUSED = [
    (["--sigma", "5"], "neither --minutes nor --walked"),
    (["--sigma", "5", "--minutes", "0"], "minutes 0"),
    (["--sigma", "-1", "--minutes", "30"], "sigma -1"),
    (["--sigma", "5", "--minutes", "1e308"], "at most 100,000"),
    (["--sigma", "5", "--minutes", "30", "--speed", "1e308"], "at most 100,000"),
    (["--sigma", "5", "--minutes", "1e-320"], "at least 0.001"),
    (["--sigma", "nan", "--minutes", "30"], "sigma nan"),
    (["--minutes", "30"], "--sigma"),
    (["--sigma", "5", "--minutes", "30", "--back"], "--from"),
    (["--sigma", "5", "--minutes", "30", "--from", "here"], "longitude,latitude"),
    (["--sigma", "5", "--minutes", "30", "--from", "-98,41"], "from the site"),
    (["--sigma", "5", "--minutes", "30", "--walked", "t.gpx"], "both"),
    (["--walked", "t.gpx"], "--sigma"),
    (["--walked", "missing.gpx", "--sigma", "5"], "cannot be read"),
    (["--walked", "bad.gpx", "--sigma", "5"], "XML"),
    (["--walked", "bomb.gpx", "--sigma", "5"], "XML"),
    (["--walked", "empty.gpx", "--sigma", "5"], "no track"),
    (["--walked", "far.gpx", "--sigma", "5"], "degrees"),
]


@pytest.mark.parametrize(("arguments", "word"), REFUSED)
def test_refusals_are_one_line_and_code_2(files, capsys, monkeypatch, arguments, word):
    monkeypatch.chdir(files)
    (files / "bad.gpx").write_text("<gpx><trk>")
    (files / "bomb.gpx").write_text('<!DOCTYPE g [<!ENTITY a "b">]><gpx>&a;</gpx>')
    (files / "empty.gpx").write_text("<gpx><trk><trkseg/></trk></gpx>")
    (files / "far.gpx").write_text('<gpx><trk><trkseg><trkpt lat="95" lon="0"/></trkseg></trk></gpx>')
    code, said = run(capsys, "site.geojson", *arguments)
    assert code == 2
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert word in said.err


def test_a_track_with_times_is_cleaned_and_one_without_is_taken_as_drawn(files, capsys):
    rows = [(41.0005, -97.0 + 0.00001 * k) for k in range(400)]
    rows[200] = (41.0035, rows[200][1])  # one point far off the line
    for timed in (True, False):
        points = "".join(
            f'<trkpt lat="{lat}" lon="{lon}">'
            + (f"<time>2026-06-01T15:{k // 60:02d}:{k % 60:02d}Z</time>" if timed else "")
            + "</trkpt>"
            for k, (lat, lon) in enumerate(rows)
        )
        (files / "r.gpx").write_text(f'<gpx version="1.1"><trk><trkseg>{points}</trkseg></trk></gpx>')
        _, said = run(capsys, files / "site.geojson", "--walked", files / "r.gpx", "--sigma", 5, "--json")
        answer = json.loads(said.out)
        assert answer["cleaned"]["jumps"] == (1 if timed else 0)
        assert (answer["walked_m"] < 400) == timed


def test_a_flush_and_a_likeness_lower_what_was_seen(files, capsys):
    asked = [files / "site.geojson", "--walked", files / "t.gpx", "--sigma", 5, "--json"]
    whole, part = (json.loads(run(capsys, *asked, *more)[1].out) for more in ([], ["--up", 0.5, "--known", 0.8]))
    assert part["seen_share"] == pytest.approx(0.4 * whole["seen_share"])
    assert part["p_present"] > whole["p_present"]


def test_the_stop_rule_needs_no_site(capsys):
    code, said = run(capsys, "--stop-rule", "--mean", 2, "--k", 1, "--error", 0.25, "--json")
    assert code == 0
    assert json.loads(said.out)["stops"] == 24  # (1/2 + 1/1) / 0.25²
    code, said = run(capsys, "--stop-rule", "--few", 0.5, "--many", 2, "--k", 1, "--json")
    lines = json.loads(said.out)
    assert lines["low_intercept"] < 0 < lines["high_intercept"]
    assert 0.5 < lines["slope"] < 2
    code, said = run(capsys, "--stop-rule", "--few", 0.5, "--many", 2, "--k", 1)
    assert "Count on" in said.out
    for wrong in (
        ["--mean", 2],
        ["--k", 1],
        ["--mean", 2, "--few", 1, "--many", 2, "--k", 1],
        ["--mean", -2, "--k", 1],
    ):
        code, said = run(capsys, "--stop-rule", *wrong)
        assert code == 2
        assert said.err.count("\n") == 1
