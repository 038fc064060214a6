"""Small ledgers for the tests of reading and what stands on it."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from tepal.ground import Frame
from tepal.ledger import Entry, Ledger, WeatherBatch, WeatherDay, entry

FRAME = Frame(-45.0, 41.5)
AS_OF = date(2026, 7, 1)


def lonlat(east: float, north: float) -> list[float]:
    return [float(v) for v in FRAME.to_lonlat([east, north])]


def square(side: float = 400.0) -> dict[str, Any]:
    half = side / 2
    ring = [lonlat(*corner) for corner in ((-half, -half), (half, -half), (half, half), (-half, half), (-half, -half))]
    return {"type": "Polygon", "coordinates": [ring]}


def said(kind: str, body: dict[str, Any], *, on: str = "2026-06-30", by: str = "scout", **more: Any) -> Entry:
    moment = datetime.fromisoformat(f"{on}T15:00:00+00:00")
    return entry(kind, {"on": on, **body}, by=by, site=more.pop("site", "west"), made_at=moment, **more)


def site(**more: Any) -> Entry:
    body = {"name": "West Forty", "ground": "field", "county": "Larkmoor", "region": "CB", "boundary": square()}
    return said("site", {k: v for k, v in (body | more).items() if v is not None}, on="2026-04-01")


def palmer(**more: Any) -> Entry:
    looks = {
        "plant_sex": "female_only",
        "bract_length_female": 5.1,
        "seedhead_feel_female": "sharp",
        "stem_hair_upper": "none",
        "petiole_blade_ratio_lower": 1.3,
    }
    body = {"stage": "reproductive", "looks": looks, "height_cm": 120.0, "at": lonlat(10, 10), "flowering": True}
    return said("plant", body | more)


def stop(count: int, east: float = 0.0, north: float = 0.0, **more: Any) -> Entry:
    counts = [{"taxon": "pigweed", "size": "10_30_cm", "count": count, "tallest_cm": 20.0}] if count else []
    return said("stop", {"at": lonlat(east, north), "area_m2": 4.0, "counts": counts} | more)


def weather(last: date = AS_OF, years: int = 6) -> WeatherBatch:
    """A plain yearly wave, the same every year but for a shift."""
    import math

    days, day = [], date(last.year - years, 1, 1)
    while day <= last:
        wave = 10 - 14 * math.cos(2 * math.pi * (day.timetuple().tm_yday - 20) / 365.25) + 0.7 * ((day.year % 5) - 2)
        days.append(WeatherDay(day, wave - 6, wave + 6, 4.0 if day.toordinal() % 5 == 0 else 0.0))
        day += timedelta(days=1)
    return WeatherBatch("Depot", tuple(days))


def book(folder: Path, *entries: Entry, with_weather: bool = True) -> Ledger:
    folder.mkdir(exist_ok=True)
    ledger = Ledger.open(folder / "t.ledger", create=True)
    added = ledger.add(entries, weather=[weather()] if with_weather else [])
    assert not added.refused, added.refused
    return ledger
