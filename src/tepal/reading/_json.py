"""A reading as plain JSON values, in a fixed order: the same entries give the same bytes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from datetime import date
from typing import Any

from tepal.reading._records import Reading

# Figures are kept to so many meaningful digits: more would be noise of the draws.
_DIGITS = 6


def to_json(reading: Reading) -> dict[str, Any]:
    """The reading without its advice, which stands a floor higher."""
    return {
        "site": reading.site,
        "name": reading.name,
        "as_of": reading.as_of.isoformat(),
        "known_to": reading.known_to,
        "taxa": {code: _clean(asdict(taxon)) for code, taxon in reading.taxa.items()},
        "alike": {"codes": list(reading.alike), "chance": _clean(reading.alike_chance)},
        "stand": _clean(asdict(reading.stand)),
        "windows": [_clean(asdict(window)) for window in reading.windows],
        "done": [_clean(asdict(line)) for line in reading.done],
        "unknowns": [_clean(asdict(item)) for item in reading.unknowns],
        "facts": _clean(reading.facts),
        "place": _clean(asdict(reading.place)),
        "warnings": list(reading.warnings),
        "tables": reading.tables,
        "version": reading.version,
    }


def _clean(value: Any) -> Any:
    if isinstance(value, bool) or value is None or isinstance(value, (str, int)):
        return value
    if isinstance(value, float):
        return float(f"{value:.{_DIGITS}g}")
    if isinstance(value, date):  # a datetime is a date too
        return value.isoformat()
    if isinstance(value, Mapping):
        # GeoJSON coordinates need all their digits: six figures of a longitude are a stride, not a plant.
        return {str(key): _coordinates(item) if key == "coordinates" else _clean(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_clean(item) for item in value]
    if hasattr(value, "item"):
        return _clean(value.item())
    raise TypeError(f"no JSON form for {type(value).__name__}")


def _coordinates(value: Any) -> Any:
    if isinstance(value, (list, tuple)):
        return [_coordinates(item) for item in value]
    return round(float(value), 7)
