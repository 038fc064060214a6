"""`tepal take` and `tepal give` as people and programs meet them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from ledger.pictures import picture
from tepal.cli import main
from tepal.ledger import Ledger

STOPS = "date,site,lon,lat,row ft,row width in,species,count\n2026-06-14,North Eighty,-98.1,40.2,30,30,Palmer,4\n"


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    code = main([str(one) for one in arguments])
    said = capsys.readouterr()
    return code, said.out, said.err


@pytest.fixture
def where(tmp_path: Path) -> Path:
    return tmp_path / "county.ledger"


def test_take_says_what_it_understood_and_how_much_is_new(
    where: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "stops.csv"
    file.write_text(STOPS)
    code, out, err = run(capsys, "take", file, "--ledger", where)
    assert (code, err) == (0, "")
    assert "column 'row ft' read as row length in feet" in out
    assert "1 new in" in out
    code, out, _ = run(capsys, "take", file, "--ledger", where)
    assert code == 0
    assert "Nothing new" in out
    assert "1 was there already" in out


def test_take_exits_1_in_part_and_2_when_all_is_refused(
    where: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "stops.csv"
    bad = "2026-06-14,North Eighty,-98.1,40.2,30,30,Palmer,-4\n"
    file.write_text(STOPS + bad)
    code, out, err = run(capsys, "take", file, "--ledger", where, "--json")
    assert code == 1
    said = json.loads(out)
    assert (said["added"], said["already"]) == (1, 0)
    (refused,) = said["refused"]
    assert (refused["file"], refused["line"]) == ("stops.csv", 3)
    assert {"what", "rule", "step"} <= set(refused)
    assert said["understood"][0]["file"] == "stops.csv"
    assert err.count("\n") == 1
    assert "line 3" in err
    file.write_text(STOPS.splitlines()[0] + "\n" + bad)
    other = tmp_path / "other.ledger"
    code, out, err = run(capsys, "take", file, "--ledger", other, "--json")
    assert code == 2
    assert json.loads(out)["added"] == 0
    assert err.count("\n") == 1
    assert not other.exists()


def test_take_knows_the_weed_groups_own_names(where: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    stops = tmp_path / "stops.csv"
    stops.write_text(
        "date,site,area_m2,weed,count\n"
        + "".join(
            f"2026-06-14,a,1,{name},1\n"
            for name in ("AMATU", "Waterhemp", "Amaranthus palmeri", "redroot pigweed", "Palmer amaranth", "pigweed")
        )
    )
    plants = tmp_path / "plants.csv"
    plants.write_text("date,site,stage,Leaf Tip Notch,blade_length (in)\n2026-06-14,a,vegetative,deep,2\n")
    code, _, err = run(capsys, "take", stops, plants, "--ledger", where)
    assert (code, err) == (0, "")
    with Ledger.open(where) as ledger:
        found = ledger.entries()
    taxa = [e.body.counts[0].taxon for e in found if e.kind == "stop"]  # type: ignore[attr-defined]
    assert taxa == ["AMATU", "AMATU", "AMAPA", "AMARE", "AMAPA", "pigweed"]
    assert found[-1].body.looks == {"leaf_tip_notch": "deep", "blade_length": 5.08}  # type: ignore[attr-defined]


def test_give_lists_its_files_and_take_reads_them_back(
    where: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "stops.csv"
    file.write_text(STOPS)
    run(capsys, "take", file, "--ledger", where)
    code, out, _ = run(capsys, "give", tmp_path / "out", "--ledger", where, "--json")
    assert code == 0
    files = json.loads(out)["files"]
    assert "entries.jsonl" in files
    assert all((tmp_path / "out" / name).is_file() for name in files)
    code, out, _ = run(capsys, "take", tmp_path / "out", "--ledger", tmp_path / "two", "--json")
    assert (code, json.loads(out)["added"]) == (0, 1)


@pytest.mark.parametrize(
    "arguments",
    [
        ("take", "--ledger", "x.ledger"),
        ("give", "out", "--ledger", "none.ledger"),
        ("take", "none.csv", "--ledger", "x.ledger", "--on", "yesterday"),
        ("take", "none.csv", "--ledger", "no/such/folder/x.ledger"),
    ],
)
def test_a_refusal_is_one_line_and_exit_2(
    arguments: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    code, out, err = run(capsys, *arguments, "--json")
    assert code == 2
    assert err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []
    assert not out or json.loads(out)["added"] == 0


def test_a_real_boundary_and_a_real_station_are_taken(
    real_data: Path, where: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    boundaries = sorted((real_data / "boundaries").glob("*.geojson"))
    weather = real_data / "weather" / "champion_ne_1982_2018.csv"
    code, out, err = run(capsys, "take", *boundaries, weather, "--ledger", where, "--json")
    assert (code, err) == (0, "")
    assert json.loads(out)["added"] == len(boundaries) + 13_514
    with Ledger.open(where) as ledger:
        assert len(ledger.sites()) == len(boundaries)
        assert len(ledger.weather()) == 13_514


def test_a_photo_of_no_site_is_told(where: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    photo = tmp_path / "leaf.jpg"
    photo.write_bytes(picture())
    code, out, _ = run(capsys, "take", photo, "--ledger", where)
    assert code == 0
    assert "leaf.jpg is of no site" in out and "--site NAME" in out
    assert "of no site" not in run(capsys, "take", photo, "--ledger", where)[1]
    assert "of no site" not in run(capsys, "take", photo, "--ledger", where, "--site", "North Eighty")[1]


def test_counts_under_two_letters_are_not_lost(where: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "wide.csv"
    file.write_text("site,date,Palmer,WH,REP\nNorth Eighty,2026-06-14,3,4,1\n")
    code, _, err = run(capsys, "take", file, "--ledger", where)
    assert code == 2 and "'WH'" in err and "waterhemp" in err
    file.write_text(file.read_text().replace("WH", "waterhemp"))
    assert run(capsys, "take", file, "--ledger", where)[0] == 0
    with Ledger.open(where) as ledger:
        (stop,) = ledger.entries(kinds=("stop",))
    assert [(one.taxon, one.count) for one in stop.body.counts] == [("AMAPA", 3), ("AMATU", 4)]


def test_days_that_contradict_each_other_hide_no_other_wrong_line(
    where: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "days.csv"
    rows = ("6/14/2026,North Eighty,4", "25/6/2026,North Eighty,2", "6/15/2026,North Eighty,-3", "6/16/2026,,5")
    file.write_text("\n".join(("date,site,count", *rows)) + "\n")
    code, _, err = run(capsys, "take", file, "--ledger", where)
    assert code == 2
    assert len(err.splitlines()) == 3
    for part in ("the month first", "line 4", "line 5"):
        assert part in err
    assert not where.exists()
