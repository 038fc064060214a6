"""Weather: batches are immutable, and a known day changes only by what says that it corrects it."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tepal.ledger import Ledger, WeatherBatch, WeatherDay
from tepal.ledger._weather import table
from tepal.ledger.formats import read_weather
from tepal.ledger.formats._weather import _all_plain, _plain_text, weather_from_table
from tepal.tables import Refused, read_csv, read_csv_text

FIRST = date(2026, 5, 1)


def batch(*values: tuple[float, float, float | None], start: date = FIRST, **more: object) -> WeatherBatch:
    days = tuple(WeatherDay(start + timedelta(days=i), *value) for i, value in enumerate(values))
    return WeatherBatch(**{"station": "Larkmoor", "days": days, **more})  # type: ignore[arg-type]


def test_weather_comes_back_as_arrays_by_date(ledger: Ledger) -> None:
    added = ledger.add([], weather=[batch((3.25, 10.5, None), (4, 12, 2.5), lon=-98.0, lat=40.0)])
    assert (added.added, added.already) == (2, 0)
    found = ledger.weather()
    assert found.station == "Larkmoor"
    assert (found.lon, found.lat) == (-98.0, 40.0)
    assert found.dates.tolist() == [FIRST, FIRST + timedelta(days=1)]
    np.testing.assert_array_equal(found.tmin_c, [3.25, 4])
    np.testing.assert_array_equal(found.tmax_c, [10.5, 12])
    np.testing.assert_array_equal(found.prcp_mm, [np.nan, 2.5])
    assert not found.tmin_c.flags.writeable
    assert len(found.batches) == 1


def test_days_that_are_known_add_nothing(ledger: Ledger) -> None:
    old, longer = batch((3, 10, 0)), batch((3, 10, 0), (4, 12, 0))
    ledger.add([], weather=[old])
    assert ledger.add([], weather=[old]).already == 1
    added = ledger.add([], weather=[longer])
    assert (added.added, added.already) == (1, 1)
    assert ledger.add([], weather=[longer]).added == 0
    assert [len(b.days) for b in ledger.weather_batches()] == [1, 1]


def test_a_known_day_is_not_replaced_unless_the_batch_corrects(ledger: Ledger) -> None:
    ledger.add([], weather=[batch((3, 10, 0), (4, 12, 0))])
    other = batch((3, 11, 0), (4, 12, 0), (5, 13, 0))
    added = ledger.add([], weather=[other])
    assert (added.added, added.already, len(added.refused)) == (1, 1, 1)
    assert "2026-05-01" in str(added.refused[0].why)
    assert ledger.weather().tmax_c.tolist() == [10, 12, 13]
    position = ledger.last_seq
    assert ledger.add([], weather=[batch((3, 11, 0), corrects=True)]).added == 1
    assert ledger.weather().tmax_c.tolist() == [11, 12, 13]
    # What was known then is still known so.
    assert ledger.weather(known_to=position).tmax_c.tolist() == [10, 12, 13]
    # The first file again says nothing new: it was taken, and has been corrected.
    assert ledger.add([], weather=[batch((3, 10, 0), (4, 12, 0))]).already == 2
    assert ledger.weather().tmax_c.tolist() == [11, 12, 13]


def test_rain_that_was_not_known_is_added_and_known_rain_is_kept(ledger: Ledger) -> None:
    ledger.add([], weather=[batch((3, 10, None), (4, 12, 7))])
    assert ledger.add([], weather=[batch((3, 10, 5), (4, 12, None))]).added == 1
    assert ledger.weather().prcp_mm.tolist() == [5, 7]


def test_stations_are_kept_apart_and_must_be_named_when_there_are_several(ledger: Ledger) -> None:
    ledger.add([], weather=[batch((3, 10, 0)), batch((1, 2, 0), station="Gravel Pit")])
    assert ledger.stations() == ["Gravel Pit", "Larkmoor"]
    assert ledger.weather("Gravel Pit").tmax_c.tolist() == [2]
    with pytest.raises(Refused, match="Gravel Pit; Larkmoor"):
        ledger.weather()
    with pytest.raises(Refused, match="Gravel Pit; Larkmoor"):
        ledger.weather("elsewhere")


def test_entries_and_weather_share_one_count(ledger: Ledger) -> None:
    from tepal.ledger import entry

    def note() -> object:
        return entry("note", {"words": "x"}, by="s", made_at="2026-06-14T10:00:00Z")

    ledger.add([note()], weather=[batch((3, 10, 0))])  # type: ignore[list-item]
    ledger.add([note()])  # type: ignore[list-item]
    assert [e.seq for e in ledger.entries()] == [1, 3]
    assert [b.seq for b in ledger.weather_batches()] == [2]
    assert ledger.last_seq == 3


@pytest.mark.parametrize(
    "value",
    [(10, 3, 0), (-71, 3, 0), (3, 61, 0), (float("nan"), 3, 0), (3, 10, -1), (3, float("inf"), 0), (3, 10, 3000)],
)
def test_an_impossible_day_makes_no_batch(value: tuple[float, float, float]) -> None:
    with pytest.raises(Refused):
        batch(value)


def test_a_day_twice_makes_no_batch() -> None:
    day = WeatherDay(FIRST, 3, 10)
    with pytest.raises(Refused, match="twice"):
        WeatherBatch("Larkmoor", (day, day))


def test_a_file_in_us_units_is_read_in_ours(tmp_path: Path) -> None:
    file = tmp_path / "mesonet.csv"
    file.write_text("Date,Max Temp (F),Min Temp (F),Rain (in),Wind\n2026-05-02,68,50,0.5,3\n2026-05-01,59,32,T,\n")
    found = read_weather(file)
    assert found.station == "mesonet"
    assert found.dates.tolist() == [FIRST, FIRST + timedelta(days=1)]
    np.testing.assert_allclose(found.tmin_c, [0, 10], atol=1e-9)
    np.testing.assert_allclose(found.tmax_c, [15, 20], atol=1e-9)
    np.testing.assert_allclose(found.prcp_mm, [0, 12.7], atol=1e-9)


def test_a_day_without_both_temperatures_is_left_out(tmp_path: Path) -> None:
    file = tmp_path / "w.csv"
    file.write_text("date,tmin_c,tmax_c,prcp_mm\n2026-05-01,3,10,\n2026-05-02,,12,1\n2026-05-03,M,-9999,0\n")
    found = read_weather(file)
    assert found.dates.tolist() == [FIRST]
    assert np.isnan(found.prcp_mm[0])


@pytest.mark.parametrize(
    ("lines", "line"),
    [
        ("2026-05-01,3,10\n2026-05-01,3,10", 3),
        ("2026-05-01,30,10", 2),
        ("2026-05-01,3,99", 2),
        ("2026-05-01,-99,10", 2),
        ("05/01/2026,3,10", 2),
        ("2026-05-01,3,10\n2026-13-01,3,10", 3),
        ("2026-05-01,cold,10", 2),
        (",3,10", 2),
        ("2027-01-01,3,10", 2),
        ("2026-05-01,3", 2),
    ],
)
def test_a_line_that_breaks_a_rule_is_named(tmp_path: Path, lines: str, line: int) -> None:
    file = tmp_path / "w.csv"
    file.write_text(f"date,tmin_c,tmax_c\n{lines}\n")
    with pytest.raises(Refused) as caught:
        read_weather(file, today=date(2026, 12, 31))
    assert caught.value.where.file == "w.csv"
    assert caught.value.where.line == line


def test_a_temperature_without_a_unit_is_not_guessed(tmp_path: Path) -> None:
    file = tmp_path / "w.csv"
    file.write_text("DATE,TMAX,TMIN\n2026-05-01,150,30\n")
    with pytest.raises(Refused, match="unit"):
        read_weather(file)


def test_a_real_station_is_read_whole(real_data: Path) -> None:
    found = read_weather(real_data / "weather" / "champion_ne_1982_2018.csv")
    assert len(found) == 13_514
    assert found.dates[0] == np.datetime64("1982-01-01")
    assert found.tmin_c[0] == -21.11
    assert np.all(np.diff(found.dates).astype(int) == 1)


def test_batches_laid_over_each_other_are_what_a_plain_walk_through_their_days_makes(ledger: Ledger) -> None:
    rng = np.random.default_rng(5)
    for _ in range(12):
        start, length = date(2026, 5, 1) + timedelta(days=int(rng.integers(30))), int(rng.integers(1, 20))
        days = [
            WeatherDay(
                start + timedelta(days=i), low, low + 5.0, None if rng.random() < 0.4 else float(rng.integers(9))
            )
            for i, low in enumerate(rng.integers(0, 15, length).astype(float))
        ]
        place = {"lon": -98.0, "lat": float(rng.integers(40, 43))} if rng.random() < 0.5 else {}
        ledger.add([], weather=[WeatherBatch("here", tuple(days), corrects=True, **place)])
    plain: dict[date, tuple[float, float, float | None]] = {}
    where = None
    for batch in ledger.weather_batches("here"):
        for day in batch.days:
            old = plain.get(day.on)
            plain[day.on] = (day.tmin_c, day.tmax_c, old[2] if old and day.prcp_mm is None else day.prcp_mm)
        where = (batch.lon, batch.lat) if batch.lon is not None else where
    found = ledger.weather("here")
    assert found.dates.tolist() == sorted(plain)
    rows = zip(found.tmin_c.tolist(), found.tmax_c.tolist(), found.prcp_mm.tolist(), strict=True)
    assert [(low, high, None if np.isnan(rain) else rain) for low, high, rain in rows] == [
        plain[d] for d in sorted(plain)
    ]
    assert (found.lon, found.lat) == where
    assert ledger.station_places() == {"here": where}
    assert {batch.id for batch in ledger.weather_batches("here")} >= set(found.batches)


_CELLS = st.one_of(
    st.floats(-75, 65, allow_nan=False).map(lambda value: f"{value:.6g}"),
    st.sampled_from(["", "-9999", "M", "1_0", " 3 ", "-0.00001", "nan", "1e1"]),
)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 40), st.floats(-20, 20), st.floats(0, 25), _CELLS, _CELLS), min_size=1, max_size=12
    ),
    st.booleans(),
)
def test_a_plain_table_read_by_columns_is_the_table_read_by_rows(rows: list[tuple[Any, ...]], flawed: bool) -> None:
    """The quick way gives the same days, or leaves the table to the careful one, which says what is wrong."""
    lines = ["date,tmin_c,tmax_c,prcp_mm"]
    for i, (day, low, swing, cell, rain) in enumerate(rows):
        on = date(2020, 2, 1) + timedelta(days=day if flawed else 3 * i)
        low_cell = cell if flawed and i % 3 == 1 else f"{low:.5f}"
        lines.append(f"{on},{low_cell},{low + swing:.5f},{rain if flawed else abs(len(rain))}")
    text = "\n".join(lines)
    careful = weather_from_table(read_csv_text(text, name="w.csv"), stem="w")
    quick = _all_plain(read_csv_text(text, name="w.csv"), stem="w")
    if not flawed:
        assert quick is not None
    if quick is None:
        return
    assert not careful.refused
    slow = table(careful.batches, "w")
    assert quick.station == slow.station
    assert np.array_equal(quick.dates, slow.dates)
    for name in ("tmin_c", "tmax_c", "prcp_mm"):
        assert np.array_equal(getattr(quick, name), getattr(slow, name), equal_nan=True)
        assert not np.signbit(getattr(quick, name)[getattr(quick, name) == 0]).any()


def test_a_plain_file_is_read_without_its_rows_and_says_the_same(tmp_path):
    lines = [f"{date(2020, 1, 1) + timedelta(days=i)},{i % 7 - 3}.25,{i % 7 + 8},{i % 3}" for i in range(400)]
    file = tmp_path / "w.csv"
    file.write_text("\n".join(["date,tmin_c,tmax_c,prcp_mm", *lines]) + "\n")
    quick, slow = _plain_text(file), _all_plain(read_csv(file), stem="w")
    assert quick is not None and slow is not None
    assert quick.station == slow.station and np.array_equal(quick.dates, slow.dates)
    for name in ("tmin_c", "tmax_c", "prcp_mm"):
        assert np.array_equal(getattr(quick, name), getattr(slow, name), equal_nan=True)
    # Whatever needs a second look gets one: quotes, a torn line, another column, a day twice.
    for flaw in ('"2021-02-10",1,2,0', "2021-02-10,1,2", "2021-02-10,1,x,0", lines[0]):
        file.write_text("\n".join(["date,tmin_c,tmax_c,prcp_mm", *lines, flaw]) + "\n")
        assert _plain_text(file) is None
