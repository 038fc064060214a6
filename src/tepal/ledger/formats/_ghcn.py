"""Daily weather in the layouts of the Global Historical Climatology Network (GHCN-Daily, NOAA NCEI).

Three layouts, one content: a station's `.dly` of fixed width; a table with one line a day and an `…_ATTRIBUTES` column
beside each element; and lines `station,yyyymmdd,element,value,m,q,s,time`, by station or by year. Temperatures are
in tenths of °C, rain in tenths of mm; -9999 is missing; a value with a quality flag failed a check of the network's
and is left out; rain with the measurement flag T is a trace.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date

from tepal.ledger._weather import WeatherBatch, WeatherDay, day_problem
from tepal.tables import Refused, Row, Table, Where

ELEMENTS = ("TMIN", "TMAX", "PRCP")
_LONG = re.compile(r'"?[A-Za-z0-9_-]{11}"?,"?(\d{8})"?,"?[A-Z0-9]{4}"?,"?-?\d+"?(,|\s*\Z)')
_DLY = re.compile(r"[A-Za-z0-9_-]{11}\d{6}[A-Z0-9]{4}")
_MISSING = -9999


@dataclass(frozen=True, slots=True)
class Reported:
    """One value of one day as the network reports it, in tenths; `quality` is the flag of a failed check."""

    station: str
    on: date
    element: str
    tenths: int
    trace: bool
    quality: str
    line: int


@dataclass(slots=True)
class GhcnFile:
    """The batches by station, the lines that were refused, and what was understood."""

    batches: list[WeatherBatch] = field(default_factory=list)
    refused: list[Refused] = field(default_factory=list)
    said: list[str] = field(default_factory=list)


def is_long(text: str) -> bool:
    """Does the first line have the layout by year: station, day, element, value, flags?"""
    first, _, rest = text.lstrip("\ufeff").partition("\n")
    if first.casefold().replace('"', "").startswith(("id,date,element,", "station,date,element,")):
        first = rest.partition("\n")[0]
    return bool(_LONG.match(first.strip()))


def is_dly(text: str) -> bool:
    """Does the first line have the fixed layout?"""
    return bool(_DLY.match(text.lstrip("\ufeff\n")[:21]))


def is_wide(table: Table) -> bool:
    """Does a table have elements with their attributes beside them?"""
    return {"STATION", "DATE", "TMAX", "TMIN", "TMAX_ATTRIBUTES", "TMIN_ATTRIBUTES"} <= set(table.columns)


def from_dly(text: str, *, file: str, today: date | None, station: str | None, corrects: bool) -> GhcnFile:
    """The fixed layout: station (11), year (4), month (2), element (4), then for each of 31 days value (5) and three
    flags."""
    out = GhcnFile()
    return _gathered(_by_line(text, _dly_line, file, out), out, file, today=today, station=station, corrects=corrects)


def from_long(text: str, *, file: str, today: date | None, station: str | None, corrects: bool) -> GhcnFile:
    """The layout with one line a value."""
    out = GhcnFile()
    return _gathered(_by_line(text, _long_line, file, out), out, file, today=today, station=station, corrects=corrects)


def from_wide(table: Table, *, today: date | None, station: str | None, corrects: bool) -> GhcnFile:
    """The layout with one line a day and attributes beside each element.

    Raises
    ------
    Refused
        If a value has a decimal point: then the file was exported in other units than the network's tenths.
    """
    out = GhcnFile()
    values: list[Reported] = []
    for row in table:
        for element in ELEMENTS:
            if element in table.columns and "." in row.cells[element]:
                raise Refused(
                    f"{element} is {row.cells[element].strip()}",
                    where=row.where(element),
                    rule="With attributes beside it a value is in whole tenths of °C or mm.",
                    step="Name the unit in the header (TMAX (F)…) and leave out the attributes.",
                )
        try:
            values += _wide_line(row)
        except Refused as problem:
            out.refused.append(problem)
    return _gathered(values, out, table.file, today=today, station=station, corrects=corrects)


def _by_line(text: str, read: object, file: str, out: GhcnFile) -> Iterator[Reported]:
    for number, line in enumerate(text.lstrip("\ufeff").split("\n"), start=1):
        if not line.strip():
            continue
        try:
            yield from read(line.rstrip("\r"), Where(file, number))  # type: ignore[operator]
        except Refused as problem:
            out.refused.append(problem)


def _dly_line(line: str, where: Where) -> Iterable[Reported]:
    if not _DLY.match(line) or len(line.rstrip()) > 269 or len(line) < 26:
        raise _torn(line, where, "A line has station, year, month, element and 31 days of 8 signs.")
    station, year, month, element = line[:11], int(line[11:15]), int(line[15:17]), line[17:21]
    if element not in ELEMENTS:
        return
    if (len(line.rstrip()) - 21) % 8 not in {0, 5, 6, 7}:
        raise _torn(line, where, "A line has station, year, month, element and 31 days of 8 signs.")
    for day in range(31):
        cell = line[21 + 8 * day : 29 + 8 * day].ljust(8)
        if not cell.strip() or cell[:5].strip() == str(_MISSING):
            continue
        yield Reported(
            station,
            _day(year, month, day + 1, where),
            element,
            _whole(cell[:5], Where(where.file, where.line, f"VALUE{day + 1}")),
            cell[5] == "T",
            cell[6].strip(),
            where.line or 0,
        )


def _long_line(line: str, where: Where) -> Iterable[Reported]:
    cells = [cell.strip().strip('"') for cell in line.split(",")]
    if where.line == 1 and len(cells) > 2 and cells[2].casefold() == "element":
        return
    if len(cells) < 4 or len(cells) > 8 or not re.fullmatch(r"\d{8}", cells[1]):
        raise _torn(line, where, "A line has station, yyyymmdd, element, value and up to four flags.")
    station, day, element, value, measured, quality = (*cells, "", "")[:6]
    if element not in ELEMENTS or value == str(_MISSING):
        return
    if not re.fullmatch(r"[A-Za-z0-9_-]{11}", station):
        raise _torn(line, where, "A station has 11 letters and digits.")
    on = _day(int(day[:4]), int(day[4:6]), int(day[6:]), where)
    whole = _whole(value, Where(where.file, where.line, element))
    yield Reported(station, on, element, whole, measured == "T", quality, where.line or 0)


def _wide_line(row: Row) -> Iterable[Reported]:
    found = re.fullmatch(r"(\d{4})-(\d\d)-(\d\d)", row.cells["DATE"].strip())
    if found is None:
        raise Refused(
            f"date {row.cells['DATE']!r} was not understood",
            where=row.where("DATE"),
            rule="A date is written YYYY-MM-DD.",
            step="Export it again.",
        )
    on = _day(int(found[1]), int(found[2]), int(found[3]), row.where("DATE"))
    for element in ELEMENTS:
        raw = row.cells.get(element, "").strip()
        if raw in {"", str(_MISSING)}:
            continue
        measured, quality, *_ = (*row.cells.get(f"{element}_ATTRIBUTES", "").split(","), "", "")
        trace = measured.strip() == "T"
        whole = _whole(raw, row.where(element))
        yield Reported(row.cells["STATION"].strip(), on, element, whole, trace, quality.strip(), row.line)


def _gathered(
    values: Iterable[Reported], out: GhcnFile, file: str, *, today: date | None, station: str | None, corrects: bool
) -> GhcnFile:
    """Days with both temperatures, by station."""
    days: dict[str, dict[date, dict[str, Reported]]] = {}
    failed = half = 0
    for value in values:
        if value.quality:
            failed += 1
            continue
        day = days.setdefault(station or value.station, {}).setdefault(value.on, {})
        first = day.setdefault(value.element, value)
        if first is not value:
            out.refused.append(
                Refused(
                    f"{value.element} of {value.on} again; it stands on line {first.line} too",
                    where=Where(file, value.line, value.element),
                    rule="A file has one value a day.",
                    step="Leave out one of them.",
                )
            )
    for name, found in days.items():
        good = []
        for on, day in sorted(found.items()):
            if "TMIN" not in day or "TMAX" not in day:
                half += 1
                continue
            try:
                good.append(_weather_day(on, day, file, today))
            except Refused as problem:
                out.refused.append(problem)
        if good:
            out.batches.append(WeatherBatch(name, tuple(good), corrects=corrects))
    out.said.append("GHCN-Daily, tenths of °C and mm")
    if failed:
        out.said.append(f"{failed} values that failed a quality check left out")
    if half:
        out.said.append(f"{half} days without both temperatures left out")
    return out


def _weather_day(on: date, day: dict[str, Reported], file: str, today: date | None) -> WeatherDay:
    line = day["TMIN"].line
    if today is not None and on > today:
        raise Refused(
            f"{on} has not been yet",
            where=Where(file, line),
            rule="Weather is what was measured, not what is forecast.",
            step="Leave out forecast days.",
        )
    rain = day.get("PRCP")
    fallen = None if rain is None else 0.0 if rain.trace else rain.tenths / 10
    found = WeatherDay(on, day["TMIN"].tenths / 10, day["TMAX"].tenths / 10, fallen, line)
    problem = day_problem(found)
    if problem:
        what = f"{on}: {problem[0]}"
        raise Refused(what, where=Where(file, line), rule=problem[1], step="Correct the line or leave it out.")
    return found


def _day(year: int, month: int, day: int, where: Where) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        raise Refused(
            f"{year:04d}-{month:02d}-{day:02d} is on no calendar",
            where=where,
            rule="Each value is of a day.",
            step="Copy the file again.",
        ) from None


def _whole(text: str, where: Where) -> int:
    if not re.fullmatch(r"\s*[+-]?\d{1,5}\s*", text, re.ASCII):
        raise Refused(
            f"{text.strip()!r} is no whole number",
            where=where,
            rule="GHCN-Daily has whole tenths of °C and of mm.",
            step="Copy the file again.",
        )
    return int(text)


def _torn(line: str, where: Where, rule: str) -> Refused:
    return Refused(f"a line {line[:40]!r} of another layout", where=where, rule=rule, step="Copy the file again.")
