"""Daily weather from a delimited file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np

from tepal.ledger._weather import (
    COLDEST_C,
    HOTTEST_C,
    WETTEST_MM,
    WeatherBatch,
    WeatherDay,
    WeatherTable,
    day_problem,
    table,
)
from tepal.ledger.formats._bytes import read_bytes
from tepal.ledger.formats._columns import MISSING, Understood, Wanted, understand
from tepal.ledger.formats._ghcn import GhcnFile, from_dly, from_long, from_wide, is_dly, is_long, is_wide
from tepal.ledger.formats._places import LONLAT
from tepal.ledger.formats._united_states import in_states
from tepal.tables import Refused, Row, Table, read_csv

_DIGITS = frozenset("0123456789.+-")
MAX_BYTES = 200_000_000  # as a table may have
_TMIN = (
    "tmin",
    "t min",
    "tn",
    "mint",
    "min",
    "low",
    *(
        f"{least} {what}"
        for least in ("min", "minimum", "low", "lowest")
        for what in ("temp", "temperature", "air temp")
    ),
    *(f"{what} {least}" for least in ("min", "minimum", "low") for what in ("temp", "temperature", "air temp")),
)
_TMAX = tuple(name.replace("min", "max").replace("low", "high").replace("tn", "tx") for name in _TMIN)
_RAIN = ("prcp", "precip", "precipitation", "rain", "rainfall", "ppt", "pcp", "pr")
WEATHER_COLUMNS = (
    Wanted("date", "date", ("date", "day", "observation date", "obs date")),
    Wanted("tmin_c", "least temperature", _TMIN, "c"),
    Wanted("tmax_c", "greatest temperature", _TMAX, "c"),
    Wanted("prcp_mm", "rain", _RAIN, "mm"),
    Wanted("station", "station", ("station", "station name", "station id")),
    *LONLAT,
    Wanted("corrects", "whether it corrects", ("corrects",)),
)


@dataclass(frozen=True, slots=True)
class WeatherFile:
    """A weather file as read: its batches by station, the lines that were refused, and what was understood."""

    batches: tuple[WeatherBatch, ...]
    refused: tuple[Refused, ...]
    said: tuple[str, ...]


def is_weather(columns: Understood) -> bool:
    """Does a table look like daily weather?"""
    return all(key in columns for key in ("date", "tmin_c", "tmax_c")) or is_wide(columns.table)


def read_weather(path: Path | str, *, today: date | None = None) -> WeatherTable:
    """One station's daily weather: columns for date, least and greatest temperature, and rain where there is one.

    Headers may be named in the usual ways and carry units (``tmin_c``, ``Max Temp (F)``, ``rain_in``); the layouts of
    GHCN-Daily are read too. Days may come in any order and be missing; a day without both temperatures is left out.
    `today`, where given, is the last day that can have been measured.

    Raises
    ------
    Refused
        For the first line that breaks a rule: a day twice, a greatest temperature below the least, a temperature
        outside -70 to 60 °C, rain below 0; or where no day is left, or there are several stations.
    """
    path = Path(path)
    found = ghcn_from_file(path, today=today)
    if found is None:
        plain = _plain_text(path) if today is None else None
        if plain is not None:
            return plain
        rows = read_csv(path)
        plain = _all_plain(rows, stem=path.stem) if today is None else None
        if plain is not None:
            return plain
        found = weather_from_table(rows, stem=path.stem, today=today)
    if found.refused:
        raise found.refused[0]
    if len(found.batches) != 1:
        many = ", ".join(batch.station for batch in found.batches)
        raise Refused(
            f"stations {many}" if many else "no day of weather",
            where=path.name,
            rule="The file has the days of one station.",
            step="Split it by station." if many else "Check the export.",
        )
    return table(found.batches, found.batches[0].station)


def _all_plain(rows: Table, *, stem: str) -> WeatherTable | None:
    """A table in our own names and units without a flaw, read column by column, ten times as fast.

    None where any cell needs a second look: row by row then finds the line and says what is wrong with it.
    """
    names = [name for name in ("date", "tmin_c", "tmax_c", "prcp_mm") if name in rows.columns]
    if set(understand(rows, WEATHER_COLUMNS).columns) != set(names) or names[:3] != ["date", "tmin_c", "tmax_c"]:
        return None
    return _plain_columns([[row.cells[name].strip() for row in rows] for name in names], stem=stem)


def _plain_text(path: Path) -> WeatherTable | None:
    """The same of a file that holds nothing else, without a table of its rows: the start of a command waits for it."""
    try:
        raw = path.read_bytes()
        header, *lines = raw.decode("ascii").splitlines()
    except (OSError, ValueError):
        return None  # whoever reads it next says why
    names = header.split(",")
    if names not in (["date", "tmin_c", "tmax_c"], ["date", "tmin_c", "tmax_c", "prcp_mm"]):
        return None
    cells = [line.split(",") for line in lines]
    if not cells or any(len(row) != len(names) for row in cells):
        return None
    return _plain_columns([list(column) for column in zip(*cells, strict=True)], stem=path.stem)


def _plain_columns(cells: Sequence[list[str]], *, stem: str) -> WeatherTable | None:
    """Days, lowest, highest and rain as texts, to a table; None where one needs a second look."""
    days, *texts = cells
    if not days or any(len(day) != 10 for day in days) or not _DIGITS.issuperset("".join(map("".join, texts))):
        return None
    try:
        dates = np.array(days, dtype="datetime64[D]")
        # Rounded as a WeatherDay is, without -0.0; an empty cell is no flaw for rain only.
        columns = [np.array([round(float(cell), 4) + 0.0 for cell in cells]) for cells in texts[:2]]
        columns += [np.array([round(float(c), 4) + 0.0 if c else np.nan for c in cells]) for cells in texts[2:]]
    except ValueError:
        return None
    order = np.argsort(dates, kind="stable")
    low, high, rain = (column[order] for column in (*columns, np.full(len(days), np.nan))[:3])
    dates = dates[order]
    fits = (low >= COLDEST_C) & (low <= high) & (high <= HOTTEST_C) & ~((rain < 0) | (rain > WETTEST_MM))
    if not fits.all() or (dates[1:] == dates[:-1]).any():
        return None
    for array in (dates, low, high, rain):
        array.setflags(write=False)
    return WeatherTable(stem, None, None, dates, low, high, rain)


def ghcn_from_file(
    path: Path, *, station: str | None = None, today: date | None = None, corrects: bool = False
) -> WeatherFile | None:
    """All that a file in a layout of GHCN-Daily without headers says; None where it is of no such layout."""
    try:
        with path.open("rb") as file:
            first = file.read(400).decode("ascii", "replace")
    except (OSError, ValueError):
        return None  # whoever reads it next says why
    read = from_dly if is_dly(first) else from_long if is_long(first) else None
    if read is None:
        return None
    text = read_bytes(path, most=MAX_BYTES).decode("ascii", "replace")
    return _as_file(read(text, file=path.name, today=today, station=station, corrects=corrects))


def _as_file(found: GhcnFile) -> WeatherFile:
    return WeatherFile(tuple(found.batches), tuple(found.refused), tuple(found.said))


def weather_from_table(
    rows: Table, *, stem: str, station: str | None = None, today: date | None = None, corrects: bool = False
) -> WeatherFile:
    """All that a table says of weather; lines that break a rule are left out and named.

    The station is `station`, else what a column says, else `stem`.
    """
    if is_wide(rows):
        return _as_file(from_wide(rows, today=today, station=station, corrects=corrects))
    columns = understand(rows, WEATHER_COLUMNS)
    columns.need("date", "tmin_c", "tmax_c", wanted=WEATHER_COLUMNS)
    columns = columns.dated("date", in_us=_in_us(columns))
    days: dict[str, dict[date, WeatherDay]] = {}
    places: dict[str, tuple[float | None, float | None, bool]] = {}
    refused: list[Refused] = []
    empty = 0
    for row in rows:
        try:
            name = station or columns.text(row, "station") or stem
            day = _day(columns, row, today)
            if day is None:
                empty += 1
                continue
            _once(day, days.setdefault(name, {}), columns, row)
            if name not in places:
                here = (columns.number(row, "lon", low=-180, high=180), columns.number(row, "lat", low=-90, high=90))
                mends = corrects or (columns.text(row, "corrects") or "").casefold() in {"yes", "true", "1"}
                places[name] = (*(here if None not in here else (None, None)), mends)
            days[name][day.on] = day
        except Refused as problem:
            refused.append(problem)
    said = list(columns.said())
    if empty:
        said.append(f"{empty} days without both temperatures left out")
    batches = tuple(WeatherBatch(name, tuple(found.values()), *places[name]) for name, found in days.items() if found)
    return WeatherFile(batches, tuple(refused), tuple(said))


def _in_us(columns: Understood) -> bool:
    """Is a table of weather from the United States, by its place or its degrees?"""
    try:
        row = columns.table.rows[0]
        lon, lat = columns.number(row, "lon"), columns.number(row, "lat")
    except (IndexError, Refused):
        lon = lat = None
    if lon is not None and lat is not None:
        return in_states(lon, lat)
    unit = columns.columns["tmax_c"].unit
    return unit is not None and unit.says == "°F"


def _day(columns: Understood, row: Row, today: date | None) -> WeatherDay | None:
    on = columns.day(row, "date")
    if on is None:
        raise Refused("no date", where=columns.where(row, "date"), rule="Each row has its day.", step="Fill it in.")
    if today is not None and on > today:
        raise Refused(
            f"{on} has not been yet",
            where=columns.where(row, "date"),
            rule="Weather is what was measured, not what is forecast.",
            step="Leave out forecast days.",
        )
    low, high = columns.number(row, "tmin_c"), columns.number(row, "tmax_c")
    if low is None or high is None:
        return None
    rain = (columns.text(row, "prcp_mm") or "").casefold()
    # A trace is rain that was too little to measure.
    prcp = 0.0 if rain in {"t", "trace"} else None if rain in MISSING else columns.number(row, "prcp_mm")
    day = WeatherDay(on, low, high, prcp, row.line)
    problem = day_problem(day)
    if problem:
        raise Refused(problem[0], where=row.where(), rule=problem[1], step="Correct the line or leave it out.")
    return day


def _once(day: WeatherDay, known: Mapping[date, WeatherDay], columns: Understood, row: Row) -> None:
    first = known.get(day.on)
    if first is not None:
        raise Refused(
            f"{day.on} again; it stands on line {first.line} too",
            where=columns.where(row, "date"),
            rule="A file has one row a day.",
            step="Leave out one of them.",
        )
