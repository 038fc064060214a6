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
        (lambda lines: [*lines, lines[-1]], (), "2006-12-31"),
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
