"""The whole road on real data: a real field's boundary and 36 years of a real station, through the commands.

The files are not part of the project; where they do not lie beside it, these tests are left out, by name.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tepal.cli import main

DATA = Path(__file__).resolve().parents[2].parent / "shared" / "data"
BOUNDARY = DATA / "boundaries" / "ofpe_henrys_bbox.geojson"
WEATHER = DATA / "weather" / "champion_ne_1982_2018.csv"

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not BOUNDARY.exists(), reason="shared real data not beside the project"),
]

STOPS = """date,lat,lon,area_m2,taxon,count,tallest (in)
2018-06-12,47.8900,-110.5490,4,pigweed,3,2.5
2018-06-12,47.8870,-110.5500,4,pigweed,0,
2018-06-12,47.8840,-110.5495,4,pigweed,1,1
"""


@pytest.fixture
def ledger(tmp_path, capsys):
    stops = tmp_path / "stops.csv"
    stops.write_text(STOPS)
    where = str(tmp_path / "real.ledger")
    for arguments in (
        [str(BOUNDARY), "--site", "henrys"],
        [str(WEATHER), "--station", "Champion"],
        [str(stops), "--site", "henrys", "--by", "scout"],
    ):
        assert main(["take", *arguments, "--ledger", where, "--json"]) == 0
        assert json.loads(capsys.readouterr().out)["refused"] == []
    return where


def _json(capsys, *arguments):
    code = main([*arguments, "--json"])
    out = capsys.readouterr().out
    assert code == 0
    return json.loads(out)


def test_a_real_field_and_real_weather_give_a_reading_in_its_season(ledger, capsys):
    found = _json(capsys, "reading", "henrys", "--ledger", ledger, "--as-of", "2018-06-15")
    assert set(found) >= {"site", "as_of", "known_to", "taxa", "stand", "windows", "advice", "unknowns"}
    # 92.27 ha by the geodesic area of the same ring (pyproj.Geod, GRS80).
    assert found["place"]["hectares"] == pytest.approx(92.27, abs=0.02)
    assert found["stand"]["counted_plants"] == 4
    assert 0 < found["stand"]["all_total"]["q05"] < found["stand"]["all_total"]["q95"]
    flowers = next(window for window in found["windows"] if window["name"] == "flowers")
    assert "2018-06-15" < flowers["q50"] < "2018-10-01"


def test_the_reading_of_a_past_day_does_not_look_ahead(ledger, capsys, tmp_path):
    before = _json(capsys, "reading", "henrys", "--ledger", ledger, "--as-of", "2012-06-15")
    cut = tmp_path / "until.csv"
    cut.write_text("".join(line for line in WEATHER.open() if not "2012-06-16" <= line[:10] <= "9999"))
    other = str(tmp_path / "cut.ledger")
    main(["take", str(BOUNDARY), "--site", "henrys", "--ledger", other, "--json"])
    main(["take", str(cut), "--station", "Champion", "--ledger", other, "--json"])
    main(["take", str(tmp_path / "stops.csv"), "--site", "henrys", "--by", "scout", "--ledger", other, "--json"])
    capsys.readouterr()
    assert (
        _json(capsys, "reading", "henrys", "--ledger", other, "--as-of", "2012-06-15")["windows"] == before["windows"]
    )


def test_the_letter_of_the_real_field_is_written(ledger, capsys, tmp_path):
    made = _json(
        capsys, "letter", "henrys", "--ledger", ledger, "--as-of", "2018-06-15", "--out", str(tmp_path / "out")
    )
    assert Path(made["pdf"]).read_bytes().startswith(b"%PDF")
    assert len(made["text"]) < 700
