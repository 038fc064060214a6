"""`tepal clock` as it is called: its JSON, its sentences, its refusals."""

from __future__ import annotations

import json
import re
from datetime import date
from pathlib import Path

import pytest

from clock.conftest import Station
from tepal.cli import main
from tepal.clock import Weather


def written(weather: Weather, path: Path) -> Path:
    rain = weather.prcp_mm if weather.prcp_mm is not None else [0.0] * len(weather.days)
    rows = zip(weather.days, weather.tmin_c, weather.tmax_c, rain, strict=True)
    lines = [f"{day},{low:.2f},{high:.2f},{wet:.2f}" for day, low, high, wet in rows]
    path.write_text("\n".join(["date,tmin_c,tmax_c,prcp_mm", *lines]) + "\n")
    return path


@pytest.fixture
def file(station: Station, tmp_path: Path) -> Path:
    return written(station(1998, 2006), tmp_path / "w.csv")


def run(*arguments: object) -> int:
    return main(["clock", *map(str, arguments)])


def question(file: Path, *more: object) -> tuple[object, ...]:
    return ("--weather", file, "--lat", 41, "--as-of", "2005-06-05", "--taxon", "AMATU", *more)


def test_json_is_one_object_with_the_six_events_in_order(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(*question(file, "--json", "--seen", "2005-06-01:height_cm=6", "--planted", "2005-05-01")) == 0
    out = capsys.readouterr().out
    assert out.count("\n") == 1
    told = json.loads(out)
    names = [event["name"] for event in told["events"]]
    assert names[:6] == ["emerges_10", "emerges_50", "emerges_90", "height_10_cm", "flowers", "viable_seed"]
    for event in told["events"]:
        days = [event[q] and date.fromisoformat(event[q]) for q in ("q10", "q50", "q90")]
        known = [day for day in days if day]
        assert known == sorted(known)
    assert [one["name"] for one in told["windows"]] == ["cultivate", "spray", "next_flush", "pull"]
    assert {one["kind"] for one in told["windows"]} == {"until", "from"}
    assert told["filled"] == []
    assert told["as_of"] == "2005-06-05"
    assert "Werle2014" in told["sources"]


def test_the_same_call_gives_the_same_answer(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    answers = []
    for _ in range(2):
        run(*question(file, "--json"))
        answers.append(capsys.readouterr().out)
    assert answers[0] == answers[1]


def test_later_rows_of_the_file_change_nothing(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(*question(file, "--json"))
    before = capsys.readouterr().out
    lines = file.read_text().splitlines()
    kept = [
        line if line[:10] <= "2005-06-05" or line.startswith("date") else f"{line[:10]},-30,45,99" for line in lines
    ]
    file.write_text("\n".join(kept) + "\n")
    run(*question(file, "--json"))
    assert capsys.readouterr().out == before


def test_in_words_it_says_what_is_still_to_come_and_when(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(*question(file)) == 0
    said = capsys.readouterr().out
    assert said.startswith("Waterhemp, as of Sunday, June 5, 2005.")
    assert re.search(r"Of ten seedlings, (one|two|three|four|five|six|seven|eight|nine) (is|are) still to come\.", said)
    assert "in flower near" in said
    assert "Spray none taller; the label governs." in said
    assert re.search(r"Of ten plants up, .* over 4 in, .* in flower and .* with seed that can grow\.", said)
    assert "{" not in said


def test_without_weather_it_answers_widely_and_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--lat", 41, "--as-of", "2026-06-05", "--taxon", "AMAPA") == 0
    assert "made-up climate" in capsys.readouterr().out


def test_filled_days_are_listed(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lines = [line for line in file.read_text().splitlines() if not line.startswith(("2005-05-03", "2005-05-04"))]
    file.write_text("\n".join(lines) + "\n")
    assert run(*question(file, "--json")) == 0
    assert json.loads(capsys.readouterr().out)["filled"] == ["2005-05-03", "2005-05-04"]


@pytest.mark.parametrize(
    ("change", "arguments", "said"),
    [
        (lambda lines: lines, ("--lat", "-33"), "latitude -33"),
        (lambda lines: lines, ("--seen", "2005-06-06:height_cm=5"), "2005-06-06"),
        (lambda lines: lines, ("--taxon", "AMAXX"), "AMAXX"),
        (lambda lines: lines, ("--as-of", "June 5"), "YYYY-MM-DD"),
        (lambda lines: lines, ("--as-of", "1990-06-05"), "no weather up to 1990-06-05"),
        (lambda lines: [*lines, lines[-1]], (), r"2006-12-31 again.*line 3288"),
        (lambda lines: lines, ("--outlook-c", "nan"), "outlook"),
        (lambda lines: lines, ("--tilled", "2005-06-06"), "2005-06-06"),
        (lambda lines: lines, ("--cut", "2005-06-20"), "DATE:height_cm=H"),
        (lambda lines: lines, ("--cut", "2004-06-20:height_cm=5"), "season is that of 2005"),
        (lambda lines: lines, ("--crop", "soybean"), "--planted"),
        (lambda lines: lines, ("--crop", "triffid"), "one of alfalfa"),
        (lambda lines: lines, ("--draw", "season.bmp"), ".svg, .png, .pdf"),
        (lambda lines: [line.replace("2005-05-05,", "2005-05-05,99") for line in lines], (), "line 2683"),
        (
            lambda lines: [line for line in lines if not line.startswith("2005-05")],
            (),
            r"31 days missing .*line 26\d\d",
        ),
        (lambda lines: [line.replace("tmin_c", "colour") for line in lines], (), "tmin_c|least temperature"),
    ],
)
def test_what_it_cannot_use_is_refused_in_one_line(
    file: Path, capsys: pytest.CaptureFixture[str], change: object, arguments: tuple[str, ...], said: str
) -> None:
    file.write_text("\n".join(change(file.read_text().splitlines())) + "\n")  # type: ignore[operator]
    asked = dict(zip(*[iter(map(str, question(file)))] * 2, strict=True)) | dict(
        zip(*[iter(arguments)] * 2, strict=True)
    )
    assert run(*(part for pair in asked.items() for part in pair), "--json") == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert re.search(said, told.err), told.err


def test_cut_plants_are_told_of_in_json_and_in_words(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(*question(file, "--cut", "2005-07-10:height_cm=15", "--json")) == 0
    cut = json.loads(capsys.readouterr().out)["cut"]
    assert cut["on"] == "2005-07-10"
    assert 0.3 < cut["survives"]["q10"] < cut["survives"]["q50"] < cut["survives"]["q90"] < 0.9
    assert [event["name"] for event in cut["events"]] == ["height_10_cm", "flowers", "viable_seed"]
    assert "2005-07-10" < cut["return_by"] < cut["events"][2]["q10"]
    run(*question(file, "--cut", "2005-07-10:height_cm=15"))
    assert re.search(r"Plants cut at 6 in on July 10: of ten, about \d live", capsys.readouterr().out)


@pytest.mark.parametrize(("name", "begins"), [("a.svg", b"<?xml"), ("a.png", b"\x89PNG"), ("a.pdf", b"%PDF")])
def test_the_season_is_drawn(
    file: Path, tmp_path: Path, name: str, begins: bytes, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(*question(file, "--draw", tmp_path / name, "--json")) == 0
    assert (tmp_path / name).read_bytes().startswith(begins)
    assert json.loads(capsys.readouterr().out)["taxon"] == "AMATU"


def test_the_crop_s_limits_are_told(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(*question(file, "--planted", "2005-05-10", "--crop", "soybeans", "--units", "metric"))
    said = capsys.readouterr().out
    assert "can be crossed on foot until about 9 July (R1)" in said
    assert "The soybean is ripe about 22 September." in said
    assert "8 cm" in said


def test_time_stamps_across_the_change_of_the_clocks_are_days(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(*question(file, "--json"))
    plain = capsys.readouterr().out
    lines = file.read_text().splitlines()
    file.write_text("\n".join([lines[0], *(f"{line[:10]}T02:30:00-05:00{line[10:]}" for line in lines[1:])]) + "\n")
    run(*question(file, "--json"))
    assert capsys.readouterr().out == plain
