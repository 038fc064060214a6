"""What programs may rely on: the keys of each command's JSON, its exit codes, and one line for a refusal."""

from __future__ import annotations

import json
from datetime import date

import pytest

from _books import book, palmer, said, site, stop


@pytest.fixture
def ledger(tmp_path):
    with book(tmp_path, site(), palmer(), stop(3)) as made:
        return made.where


@pytest.fixture
def files(tmp_path):
    counts = tmp_path / "counts.csv"
    counts.write_text("x,y,area_m2,count\n" + "".join(f"{10 * i},{7 * i % 50},4,{i % 4}\n" for i in range(12)))
    points = tmp_path / "points.csv"
    points.write_text("x,y,area_m2\n5,5,4\n60,20,4\n")
    field = tmp_path / "field.geojson"
    ring = [[-10, -10], [150, -10], [150, 80], [-10, 80], [-10, -10]]
    field.write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}))
    weather = tmp_path / "weather.csv"
    days = [date.fromordinal(date(2015, 1, 1).toordinal() + i) for i in range(365 * 10)]
    rows = (f"{d},{4 + 12 * (d.month in (6, 7, 8))},{14 + 14 * (d.month in (6, 7, 8))},1.0\n" for d in days)
    weather.write_text("date,tmin_c,tmax_c,prcp_mm\n" + "".join(rows))
    return tmp_path


def _one(out):
    lines = out.strip().splitlines()
    assert len(lines) == 1
    return json.loads(lines[0])


def test_reading(run, ledger):
    code, out, _ = run("reading", "west", "--ledger", ledger, "--as-of", "2026-07-01", "--json")
    found = _one(out)
    assert code == 0
    assert set(found) >= {"site", "as_of", "known_to", "taxa", "stand", "windows", "advice", "unknowns"}
    assert found["site"] == "west" and found["as_of"] == "2026-07-01"
    code, out, _ = run(
        "reading", "west", "--ledger", ledger, "--as-of", "2026-07-01", "--why", "/stand/total", "--json"
    )
    assert code == 0 and set(_one(out)) >= {"entries", "sources"}


def test_advice_can_be_asked_for_its_reasons(run, ledger):
    line = ("reading", "west", "--ledger", ledger, "--as-of", "2026-07-01", "--why", "/advice/actions/0")
    code, out, _ = run(*line, "--json")
    assert code == 0 and _one(out)["sources"]
    code, told, _ = run(*line)
    assert code == 0 and "{" not in told
    for key in _one(out)["sources"] + _one(out)["entries"]:
        assert key in told


def test_letter(run, ledger, tmp_path):
    code, out, _ = run(
        "letter", "west", "--ledger", ledger, "--as-of", "2026-07-01", "--out", tmp_path / "out", "--json"
    )
    assert code == 0 and set(_one(out)) >= {"pdf", "html", "text"}


def test_take_and_give(run, ledger, tmp_path):
    code, out, _ = run("give", tmp_path / "given", "--ledger", ledger, "--json")
    assert code == 0 and _one(out)["files"]
    code, out, _ = run("take", tmp_path / "given", "--ledger", tmp_path / "new.ledger", "--json")
    assert code == 0
    assert set(_one(out)) >= {"added", "already", "refused"}


def test_plant(run, tmp_path):
    code, out, _ = run(
        "plant",
        "stem_hair_upper=none",
        "petiole_blade_ratio_lower=1.3",
        "--stage",
        "vegetative",
        "--region",
        "CB",
        "--json",
    )
    found = _one(out)
    assert code == 0 and set(found) >= {"id", "posterior", "enough", "next"}
    assert sum(found["posterior"].values()) == pytest.approx(1, abs=1e-9)
    assert {"other", "AMAPAxAMATU"} <= set(found["posterior"])
    lines = tmp_path / "plants.jsonl"
    lines.write_text(
        '{"id":"a","stage":"vegetative","looks":{"leaf_gloss":"dull"}}\n{"id":"b","stage":"tree","looks":{}}\n'
    )
    code, out, _ = run("plant", "--from", lines, "--json")
    first, second = (json.loads(line) for line in out.splitlines())
    assert code == 1
    assert "posterior" in first and set(second) == {"id", "error"}


def test_stand(run, files):
    code, out, _ = run(
        "stand", files / "counts.csv", "--boundary", files / "field.geojson", "--at", files / "points.csv", "--json"
    )
    found = _one(out)
    assert code == 0
    assert set(found["density_per_m2"]) >= {"mean", "q05", "q50", "q95"}
    assert set(found["total"]) >= {"mean", "q05", "q50", "q95"}
    assert found["patches"]["type"] == "FeatureCollection"
    keys = {"mean", "sd", "p0", "q025", "q05", "q10", "q25", "q50", "q75", "q90", "q95", "q975"}
    assert len(found["at"]) == 2 and set(found["at"][0]) >= keys


def test_walk(run, tmp_path):
    here = tmp_path / "site.geojson"
    ring = [[-97.0, 41.0], [-96.995, 41.0], [-96.995, 41.004], [-97.0, 41.004], [-97.0, 41.0]]
    here.write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}))
    track = tmp_path / "track.geojson"
    track.write_text(json.dumps({"type": "LineString", "coordinates": [[-96.9999, 41.002], [-96.9951, 41.002]]}))
    code, out, _ = run("walk", here, "--walked", track, "--sigma", 5, "--found", 0, "--json")
    found = _one(out)
    assert code == 0
    assert set(found) >= {"p_present", "density_upper95_per_ha", "seen_share", "assumed"}
    assert 0 < found["p_present"] < 0.5


def test_clock(run, files):
    code, out, _ = run(
        "clock", "--weather", files / "weather.csv", "--lat", 41.5, "--as-of", "2024-06-01", "--taxon", "AMATU",
        "--seen", "2024-05-30:height_cm=6", "--planted", "2024-05-08", "--json",
    )  # fmt: skip
    found = _one(out)
    assert code == 0 and "filled" in found
    names = [event["name"] for event in found["events"]]
    assert names[:6] == ["emerges_10", "emerges_50", "emerges_90", "height_10_cm", "flowers", "viable_seed"]
    assert all({"q10", "q50", "q90"} <= set(event) for event in found["events"])


def test_flora(run):
    code, out, _ = run("flora", "AMAPA", "--json")
    assert code == 0 and _one(out)
    code, out, _ = run("flora", "--source", "BellTranel2010", "--json")
    assert (code == 0 and "Waterhemp" in json.dumps(_one(out))) or "waterhemp" in out


BAD = [
    (["nosuch"], "nosuch"),
    (["reading", "west"], "--ledger"),
    (["reading", "west", "--ledger", "/no/such/place/x.ledger", "--as-of", "2026-07-01"], "ledger"),
    (["reading", "west", "--ledger", "LEDGER", "--as-of", "07/01/2026"], "YYYY-MM-DD"),
    (["reading", "nowhere", "--ledger", "LEDGER", "--as-of", "2026-07-01"], "nowhere"),
    (["reading", "west", "--ledger", "LEDGER", "--as-of", "2026-07-01", "--why", "/nothing"], "/nothing"),
    (["letter", "nowhere", "--ledger", "LEDGER", "--as-of", "2026-07-01"], "nowhere"),
    (["letter", "west", "--ledger", "LEDGER", "--as-of", "2026-07-01", "--record"], "--signed"),
    (["plant", "leaf_gloss=purple", "--stage", "vegetative"], "purple"),
    (["plant", "leaf_glos=dull", "--stage", "vegetative"], "leaf_gloss"),
    (["plant", "leaf_gloss=dull", "--stage", "treelike"], "treelike"),
    (["stand", "/no/such.csv"], "such.csv"),
    (["walk", "/no/such.geojson", "--walked", "/no/such.gpx", "--sigma", "5"], "such"),
    (["clock", "--weather", "/no/such.csv", "--lat", "41", "--as-of", "2024-06-01", "--taxon", "AMATU"], "such.csv"),
    (["flora", "AMAXX"], "AMAXX"),
    (["take", "/no/such.csv", "--ledger", "LEDGER"], "such.csv"),
]


@pytest.mark.parametrize(
    ("arguments", "named"), BAD, ids=lambda value: " ".join(value) if isinstance(value, list) else None
)
def test_a_refusal_is_exit_2_one_line_on_stderr_and_nothing_on_stdout(run, ledger, arguments, named):
    code, out, err = run(*[ledger if argument == "LEDGER" else argument for argument in arguments])
    assert code == 2
    assert out == ""
    assert err.count("\n") == 1 and named in err


def test_json_output_holds_no_words_beside_it(run, ledger, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)  # a letter without --out is written where one stands
    for command in ("reading", "letter"):
        _, out, err = run(command, "west", "--ledger", ledger, "--as-of", "2026-07-01", "--json")
        _one(out)
        assert err == ""


def test_words_and_json_tell_the_same_place_and_day(run, ledger):
    code, out, _ = run("reading", "west", "--ledger", ledger, "--as-of", "2026-07-01")
    assert code == 0
    assert "West Forty" in out and "July 1" in out and "Palmer amaranth" in out
    _, metric, _ = run("reading", "west", "--ledger", ledger, "--as-of", "2026-07-01", "--units", "metric")
    assert "ha" in metric and "acres" not in metric


def test_a_letter_given_out_is_on_record_once_it_is_signed(run, ledger, tmp_path):
    code, _, _ = run(
        "letter",
        "west",
        "--ledger",
        ledger,
        "--as-of",
        "2026-07-01",
        "--out",
        tmp_path,
        "--signed",
        "The educator",
        "--record",
    )
    assert code == 0
    from tepal.ledger import Ledger

    with Ledger.open(ledger) as made:
        kept = made.entries(kinds=("letter",))
    assert [entry.body.signed_by for entry in kept] == ["The educator"]


def test_the_same_letter_twice_is_the_same_file(run, ledger, tmp_path):
    made = []
    for folder in ("a", "b"):
        _, out, _ = run(
            "letter", "west", "--ledger", ledger, "--as-of", "2026-07-01", "--out", tmp_path / folder, "--json"
        )
        made.append(_one(out))
    from pathlib import Path

    assert Path(made[0]["pdf"]).read_bytes() == Path(made[1]["pdf"]).read_bytes()
    assert made[0]["text"] == made[1]["text"]


def test_entries_without_a_site_entry_are_read_for_what_they_are(run, tmp_path):
    with book(tmp_path, said("note", {"words": "nothing yet"}, site="ghost")) as made:
        where = made.where
    code, out, _ = run("reading", "ghost", "--ledger", where, "--as-of", "2026-07-01", "--json")
    told = json.loads(out)
    assert code == 0 and told["site"] == "ghost" and told["stand"]["basis"] == "none"
    assert "boundary" in {one["what"] for one in told["unknowns"]}
    code, _, err = run("reading", "ghost", "--ledger", where, "--as-of", "2001-07-01")
    assert code == 2 and "not on record by 2001-07-01" in err
