"""The layouts of GHCN-Daily, written here by its published description and read back."""

from __future__ import annotations

import tempfile
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tepal.ledger import Defaults, Ledger, take
from tepal.ledger.formats import read_weather

STATION = "USC00250001"
Days = dict[date, dict[str, tuple[int | None, str, str]]]


@st.composite
def reports(draw: st.DrawFn) -> Days:
    """Up to forty days of tenths with flags; None is missing."""
    start = draw(st.dates(date(1950, 1, 1), date(2025, 1, 1)))
    flags = st.sampled_from(["", "", "", "", "G", "I"])
    out: Days = {}
    for step in draw(st.lists(st.integers(0, 70), unique=True, min_size=1, max_size=40)):
        low = draw(st.integers(-400, 300))
        high = low + draw(st.integers(0, 200))
        rain = draw(st.integers(0, 2000))
        trace = draw(st.booleans()) and rain == 0
        values: list[tuple[str, int, str]] = [
            ("TMIN", low, ""),
            ("TMAX", high, ""),
            ("PRCP", rain, "T" if trace else ""),
        ]
        out[start + timedelta(days=step)] = {
            element: (None if draw(st.integers(0, 9)) == 0 else value, measured, draw(flags))
            for element, value, measured in values
        }
    return dict(sorted(out.items()))


def expected(days: Days) -> dict[date, tuple[float, float, float]]:
    """Plain twin: the days with both temperatures that passed, in °C and mm (NaN where rain is not known)."""
    out = {}
    for on, found in days.items():
        good = {name: value for name, (value, _, quality) in found.items() if value is not None and not quality}
        if "TMIN" in good and "TMAX" in good:
            out[on] = (good["TMIN"] / 10, good["TMAX"] / 10, good["PRCP"] / 10 if "PRCP" in good else np.nan)
    return out


def dly(days: Days) -> str:
    months = sorted({(on.year, on.month) for on in days})
    lines = []
    for year, month in months:
        for element in ("TMAX", "TMIN", "PRCP", "SNOW"):
            cells = []
            for day in range(1, 32):
                try:
                    value, measured, quality = days[date(year, month, day)][element]
                except (KeyError, ValueError):
                    value, measured, quality = None, "", ""
                cells.append(f"{-9999 if value is None else value:5d}{measured:1s}{quality:1s}7")
            lines.append(f"{STATION}{year:04d}{month:02d}{element}{''.join(cells)}\n")
    return "".join(lines)


def by_year(days: Days, header: bool) -> str:
    head = "ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME\n" if header else ""
    return head + "".join(
        f"{STATION},{on:%Y%m%d},{element},{value},{measured},{quality},7,0700\n"
        for on, found in days.items()
        for element, (value, measured, quality) in found.items()
        if value is not None
    )


def by_day(days: Days) -> str:
    out = ["STATION,DATE,LATITUDE,LONGITUDE,PRCP,PRCP_ATTRIBUTES,TMAX,TMAX_ATTRIBUTES,TMIN,TMIN_ATTRIBUTES\n"]
    for on, found in days.items():
        cells = [f'"{STATION}"', f'"{on}"', "40.1", "-98.1"]
        for element in ("PRCP", "TMAX", "TMIN"):
            value, measured, quality = found[element]
            cells += [f'"{"" if value is None else f"{value:5d}"}"', f'"{measured},{quality},7"']
        out.append(",".join(cells) + "\n")
    return "".join(out)


FORMS: dict[str, Any] = {
    "a.dly": dly,
    "a.csv": lambda days: by_year(days, False),
    "head.csv": lambda days: by_year(days, True),
    "wide.csv": by_day,
}


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(sorted(FORMS)), reports())
def test_every_layout_gives_the_days_that_passed_their_checks(name: str, days: Days) -> None:
    truth = expected(days)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_text(FORMS[name](days))
        if not truth or not any(v is not None for found in days.values() for v, _, _ in found.values()):
            return
        found = read_weather(path)
    assert found.station == STATION
    assert found.dates.astype(object).tolist() == list(truth)
    columns = np.column_stack([found.tmin_c, found.tmax_c, found.prcp_mm])
    np.testing.assert_allclose(columns, np.array(list(truth.values())), atol=1e-9)


def test_the_layouts_hold_one_record_and_many_stations_are_batches_of_their_own(tmp_path: Path) -> None:
    days: Days = {date(2026, 5, n): {"TMIN": (50 + n, "", ""), "TMAX": (200 + n, "", "")} for n in range(1, 11)}
    days = {on: {**found, "PRCP": (0, "T", "")} for on, found in days.items()}
    defaults = Defaults(today=date(2026, 9, 1))
    added = []
    for name, form in FORMS.items():
        path = tmp_path / name
        path.write_text(form(days))
        found = take([path], tmp_path / "l", defaults=defaults)
        assert found.refused == ()
        added.append((found.added, found.already))
    assert added == [(10, 0), (0, 10), (0, 10), (0, 10)]
    two = tmp_path / "2026.csv"
    two.write_text(by_year(days, False) + by_year(days, False).replace(STATION, "USC00250002"))
    found = take([two], tmp_path / "l", defaults=defaults)
    assert (found.added, found.already) == (10, 10)
    with Ledger.open(tmp_path / "l") as ledger:
        assert ledger.stations() == [STATION, "USC00250002"]
        assert ledger.weather(STATION).prcp_mm.tolist() == [0.0] * 10


def test_what_failed_a_check_and_half_days_are_left_out_and_counted(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(by_year({date(2026, 5, 1): {"TMIN": (10, "", "G"), "TMAX": (20, "", "")}}, False))
    found = take([path], tmp_path / "l", defaults=Defaults(today=date(2026, 9, 1)))
    notes = " ".join(found.understood[0].notes)
    assert "1 values that failed a quality check left out" in notes
    assert "1 days without both temperatures left out" in notes


@pytest.mark.parametrize("text", ["date,tmin,tmax\n2026-05-01,1,2\n", "TMAX,TMIN,DATE,STATION\n1,2,2026-05-01,x\n"])
def test_a_bare_table_is_not_taken_for_tenths(tmp_path: Path, text: str) -> None:
    path = tmp_path / "w.csv"
    path.write_text(text)
    assert "without a unit" in str(take([path], tmp_path / "l").refused[0])
