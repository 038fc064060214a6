"""Giving out and taking in again: nothing is lost, nothing is locked in."""

from __future__ import annotations

import csv
import json
import tempfile
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ledger.pictures import picture
from ledger.strategies import logs
from tepal.ledger import Entry, Ledger, WeatherBatch, WeatherDay, entry, give, take
from tepal.ledger.formats._views import csv_cell
from tepal.tables import Refused

FIRST = date(2025, 1, 1)
_value = st.floats(-20, 20).map(lambda v: round(v, 2))


@st.composite
def batches(draw: st.DrawFn) -> list[WeatherBatch]:
    out = []
    for _ in range(draw(st.integers(0, 4))):
        chosen = draw(st.lists(st.integers(0, 6), unique=True, min_size=1, max_size=5))
        rain = st.one_of(st.none(), st.floats(0, 50))
        days = [
            WeatherDay(FIRST + timedelta(days=n), low := draw(_value), low + draw(st.integers(0, 9)), draw(rain))
            for n in chosen
        ]
        station = draw(st.sampled_from(["Larkmoor", 'a "b", c', "=x"]))
        place = draw(st.sampled_from([(None, None), (-98.5, 40.25)]))
        out.append(WeatherBatch(station, tuple(days), *place, corrects=draw(st.booleans())))
    return out


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def record(where: Path) -> tuple[list[dict], list[tuple]]:
    with Ledger.open(where) as ledger:
        return [e.plain() for e in ledger.entries()], [(b.id, b.station, b.days) for b in ledger.weather_batches()]


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(logs(), batches())
def test_what_is_given_out_and_taken_in_is_the_same_record(made: list[Entry], weather: list[WeatherBatch]) -> None:
    with tempfile.TemporaryDirectory() as temporary:
        here = Path(temporary)
        with Ledger.open(here / "one", create=True) as ledger:
            assert ledger.add(made, weather=weather).added >= len(made)
            give(ledger, here / "out")
            first = contents(here / "out")
            give(ledger, here / "out")
        assert contents(here / "out") == first
        there = record(here / "one")
        assert [e["id"] for e in there[0]] == [e.id for e in made]
        # Into the same ledger: nothing new, nothing refused.
        again = take([here / "out"], here / "one")
        assert (again.added, again.refused) == (0, ())
        assert record(here / "one")[0] == there[0]
        # Into an empty one: the same record, and the same bytes out of it.
        found = take([here / "out"], here / "two")
        assert found.refused == ()
        if made or weather:
            assert record(here / "two") == there
            with Ledger.open(here / "two") as ledger:
                give(ledger, here / "out2")
            assert contents(here / "out2") == first


def note(words: str, **more: object) -> Entry:
    return entry("note", {"words": words}, **{"by": "s", "site": "a", "made_at": "2026-06-14T10:00:00Z", **more})


def test_a_folder_with_other_files_is_left_alone(ledger: Ledger, tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / "thesis.txt").write_text("dear")
    with pytest.raises(Refused, match="not empty"):
        give(ledger, folder)
    assert contents(folder) == {"thesis.txt": b"dear"}
    give(ledger, folder, force=True)
    assert (folder / "thesis.txt").read_text() == "dear"
    assert (folder / "entries.jsonl").exists()


def test_a_second_give_removes_what_is_no_longer_given_and_nothing_else(ledger: Ledger, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    ledger.add([], weather=[WeatherBatch("Larkmoor", (WeatherDay(FIRST, 1, 2),))])
    give(ledger, folder)
    mark = json.loads((folder / "tepal.json").read_text())
    (folder / "old.csv").write_text("given once")
    (folder / "mine.txt").write_text("dear")
    outside = tmp_path / "outside.txt"
    outside.write_text("dear")
    mark["files"] += ["old.csv", "../outside.txt", str(outside)]
    (folder / "tepal.json").write_text(json.dumps(mark))
    with pytest.raises(Refused, match=r"mine\.txt"):
        give(ledger, folder)
    give(ledger, folder, force=True)
    assert not (folder / "old.csv").exists()
    assert (folder / "mine.txt").exists()
    assert outside.exists()


@pytest.mark.parametrize("force", [False, True])
def test_what_was_given_of_another_ledger_is_left_alone(tmp_path: Path, force: bool) -> None:
    folder, shared = tmp_path / "out", note("the first of both")
    with Ledger.open(tmp_path / "one", create=True) as one, Ledger.open(tmp_path / "two", create=True) as two:
        one.add([shared, note("of the one")])
        give(one, folder)
        there = contents(folder)
        for more in ([shared], [note("of the other")]):
            two.add(more)
            with pytest.raises(Refused, match="another ledger"):
                give(two, folder, force=force)
            assert contents(folder) == there
        one.add([note("later")])
        assert give(one, folder).entries == 3


def test_weather_that_came_before_the_entries_does_not_make_it_another_ledger(ledger: Ledger, tmp_path: Path) -> None:
    give(ledger, tmp_path / "out")
    ledger.add([], weather=[WeatherBatch("Larkmoor", (WeatherDay(FIRST, 1, 2),))])
    give(ledger, tmp_path / "out")
    ledger.add([note("later")])
    assert give(ledger, tmp_path / "out").entries == 1


def test_a_give_that_broke_off_is_done_again(ledger: Ledger, tmp_path: Path) -> None:
    ledger.add([note("one")])
    give(ledger, tmp_path / "out")
    broken = {"form": 1, "whole": False, "files": []}
    (tmp_path / "out" / "tepal.json").write_text(json.dumps(broken))
    give(ledger, tmp_path / "out")
    assert json.loads((tmp_path / "out" / "tepal.json").read_text())["whole"]


def test_photos_are_given_with_their_entries_and_taken_back(tmp_path: Path) -> None:
    photo = tmp_path / "leaf.jpg"
    photo.write_bytes(picture())
    take([photo], tmp_path / "one")
    with Ledger.open(tmp_path / "one") as ledger:
        given_out = give(ledger, tmp_path / "out")
    assert given_out.missing_photos == ()
    take([tmp_path / "out"], tmp_path / "two")
    assert contents(tmp_path / "two.photos") == contents(tmp_path / "one.photos")
    assert record(tmp_path / "two") == record(tmp_path / "one")
    (next((tmp_path / "one.photos").iterdir())).unlink()
    with Ledger.open(tmp_path / "one") as ledger:
        assert len(give(ledger, tmp_path / "out3").missing_photos) == 1


def test_an_original_that_is_not_what_it_is_named_for_is_refused(tmp_path: Path) -> None:
    photo = tmp_path / "leaf.jpg"
    photo.write_bytes(picture())
    take([photo], tmp_path / "one")
    with Ledger.open(tmp_path / "one") as ledger:
        give(ledger, tmp_path / "out")
    (kept,) = (tmp_path / "out" / "photos").iterdir()
    kept.write_bytes(picture(1))
    found = take([tmp_path / "out"], tmp_path / "two")
    assert [one.where.file for one in found.refused] == [kept.name]


def test_the_faithful_form_goes_between_kinds_of_store(store: str, tmp_path: Path) -> None:
    with Ledger.open(tmp_path / "one", create=True) as ledger:
        one = note("ten")
        ledger.add(
            [one, note("twelve", amends=one.id)], weather=[WeatherBatch("L", (WeatherDay(FIRST, 1.25, 2, 0.1),))]
        )
        give(ledger, tmp_path / "out")
    take([tmp_path / "out"], store + ("" if "://" in store else "2"))
    with Ledger.open(store + ("" if "://" in store else "2")) as ledger:
        give(ledger, tmp_path / "out2")
    assert contents(tmp_path / "out2") == contents(tmp_path / "out")


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\n=1", " =1", "\r=1"])
def test_a_cell_that_a_spreadsheet_would_run_is_made_text(text: str) -> None:
    assert csv_cell(text).startswith("'")


@given(st.one_of(st.text(), st.floats(allow_nan=False, allow_infinity=False), st.integers(), st.booleans(), st.none()))
def test_no_text_cell_starts_a_formula_and_numbers_stay_numbers(value: object) -> None:
    cell = csv_cell(value)
    if isinstance(value, str):
        assert not cell.startswith(("=", "+", "-", "@", "\t", "\r"))
    elif isinstance(value, (int, float)) and not isinstance(value, bool):
        assert float(cell) == pytest.approx(float(value), rel=1e-11, abs=0)


def test_views_show_what_stands(tmp_path: Path) -> None:
    with Ledger.open(tmp_path / "one", create=True) as ledger:
        stop = entry(
            "stop",
            {
                "on": "2026-06-14",
                "at": [-98, 40],
                "row_m": 10,
                "row_cm": 50,
                "counts": [{"taxon": "AMAPA", "count": 3}],
                "words": "=HYPERLINK(1)",
            },
            by="s",
            site="a",
        )
        gone = entry("stop", {"counts": []}, by="s", site="a")
        ledger.add([stop, gone, entry("withdraw", {}, by="s", site="a", amends=gone.id)])
        give(ledger, tmp_path / "out")
    with (tmp_path / "out" / "views" / "stops.csv").open(newline="", encoding="utf-8") as file:
        (row,) = csv.DictReader(file)
    assert (row["area_m2"], row["taxon"], row["count"], row["date"]) == ("5", "AMAPA", "3", "2026-06-14")
    assert row["words"] == "'=HYPERLINK(1)"
    shown = json.loads((tmp_path / "out" / "views" / "stops.geojson").read_text())
    assert [f["geometry"]["coordinates"] for f in shown["features"]] == [[-98.0, 40.0]]
