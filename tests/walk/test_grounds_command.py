"""`tepal walk` on a site of the ledger, with a width of sight that was noted or judged, and what else to walk."""

import json

import pytest

from tepal.cli import main

RING = [[-97.0, 41.0], [-96.996, 41.0], [-96.996, 41.003], [-97.0, 41.003], [-97.0, 41.0]]
SITE = {"type": "Polygon", "coordinates": [RING]}


@pytest.fixture
def files(tmp_path):
    (tmp_path / "site.geojson").write_text(json.dumps({"type": "Feature", "properties": {}, "geometry": SITE}))
    line = {"type": "LineString", "coordinates": [[-96.9995, 41.0015], [-96.9965, 41.0015]]}
    (tmp_path / "track.geojson").write_text(json.dumps(line))
    (tmp_path / "counts.csv").write_text(
        "site,date,area_m2,AMAPA count,lat,lon\nBack Forty,2025-07-10,10,3,41.002,-96.998\n"
        "Back Forty,2019-07-10,10,9,41.001,-96.999\n"
    )
    (tmp_path / "finds.csv").write_text("distance_m\n1\n3\n2\n5\n0.5\n4\n2\n1.5\n")
    return tmp_path


@pytest.fixture
def ledger(files, capsys):
    where = files / "county.ledger"
    assert main(["take", str(files / "counts.csv"), "--ledger", str(where)]) == 0
    assert main(["take", str(files / "site.geojson"), "--site", "Back Forty", "--ledger", str(where)]) == 0
    capsys.readouterr()
    return where


def run(capsys, *arguments):
    code = main(["walk", *map(str, arguments)])
    return code, capsys.readouterr()


def test_risk_comes_from_the_record(ledger, capsys):
    asked = ["Back Forty", "--ledger", ledger, "--as-of", "2026-06-01", "--minutes", 15, "--sigma", 4]
    code, said = run(capsys, *asked, "--json")
    answer = json.loads(said.out)
    assert code == 0
    # Of the two places where plants were counted, one lies too many years back.
    assert answer["risk_from"] == {"edge": 1, "seen": 1}
    assert [zone["weight"] for zone in answer["zones"]] == [10, 3, 1]
    assert answer["zones"][0]["seen_share"] > answer["zones"][2]["seen_share"]
    code, said = run(capsys, *asked)
    assert "places where they stood before" in said.out and "judgement" in said.out


def test_a_site_without_boundary_or_name_is_refused(files, capsys):
    where = files / "other.ledger"
    main(["take", str(files / "counts.csv"), "--ledger", str(where)])
    capsys.readouterr()
    code, said = run(capsys, "Back Forty", "--ledger", where, "--minutes", 15, "--sigma", 4)
    assert code == 2 and "boundary" in said.err and said.err.count("\n") == 1


def test_noted_distances_say_how_far_one_sees_and_doubt_goes_into_absence(files, capsys):
    asked = [files / "site.geojson", "--walked", files / "track.geojson", "--json"]
    noted = json.loads(run(capsys, *asked, "--distances", files / "finds.csv")[1].out)
    sigma = (sum(d * d for d in (1, 3, 2, 5, 0.5, 4, 2, 1.5)) / 8) ** 0.5
    assert noted["sight"]["sigma_m"] == pytest.approx(sigma)
    assert noted["sight"]["low_m"] < sigma < noted["sight"]["high_m"]
    assert noted["sight"]["basis"] == "measured"
    known = json.loads(run(capsys, *asked, "--sigma", sigma)[1].out)
    assert noted["p_present"] != known["p_present"]
    assert noted["p_present"] == pytest.approx(known["p_present"], abs=0.05)
    judged = json.loads(run(capsys, *asked, "--stage", "vegetative", "--crop", "soybean")[1].out)
    assert judged["sight"]["basis"] == "judgement"
    _, said = run(capsys, *asked[:-1], "--stage", "vegetative")
    assert "judged from the stage" in said.out


def test_what_else_to_walk_is_said_written_and_drawn(files, capsys):
    asked = [files / "site.geojson", "--walked", files / "track.geojson", "--sigma", 12, "--prior-present", 0.2]
    to = ["--gpx", files / "more.gpx", "--map", files / "seen.svg"]
    code, said = run(capsys, *asked, "--sure", 0.9, "--json", *to)
    more = json.loads(said.out)
    assert code == 0
    assert more["p_present"] > 0.1 >= more["further"]["p_present"]
    assert more["further"]["seen_share"] > more["seen_share"]
    assert (files / "more.gpx").read_text().count("<rtept") == len(more["further"]["route"]["coordinates"])
    assert (files / "seen.svg").read_text().startswith("<?xml")
    code, said = run(capsys, *asked, "--gpx", files / "no.gpx")
    assert code == 2 and "--sure" in said.err
    found = json.loads(run(capsys, *asked, "--sure", 0.9, "--found", 2, "--json")[1].out)
    assert found["further"] is None


@pytest.mark.parametrize(
    ("given", "word"),
    [(["--sigma", 5, "--stage", "vegetative"], "more than one"), (["--stage", "vegetativ"], "vegetative"),
     (["--distances", "few.csv"], "distances"), (["--sigma", 5, "--sure", 2], "sure")],
)  # fmt: skip
def test_a_width_of_sight_that_says_nothing_is_refused(files, capsys, monkeypatch, given, word):
    monkeypatch.chdir(files)
    (files / "few.csv").write_text("distance_m\n1\n2\n")
    code, said = run(capsys, "site.geojson", "--walked", "track.geojson", *given)
    assert code == 2 and word in said.err and said.err.count("\n") == 1
