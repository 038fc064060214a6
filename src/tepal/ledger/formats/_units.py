"""Units as people write them in headers and cells, and what one of each is in ours."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple


class Unit(NamedTuple):
    """ours = theirs × factor + offset; `says` is the unit's name for people."""

    says: str
    factor: float
    offset: float = 0.0


_FOOT = 0.3048
_ACRE = 4046.8564224
_GALLON = 3.785411784
_LENGTH_M = {
    ("m", "metre", "metres", "meter", "meters"): Unit("metres", 1.0),
    ("cm", "centimetre", "centimetres", "centimeter", "centimeters"): Unit("centimetres", 0.01),
    ("mm", "millimetre", "millimetres", "millimeter", "millimeters"): Unit("millimetres", 0.001),
    ("ft", "foot", "feet", "'"): Unit("feet", _FOOT),
    ("in", "inch", "inches", '"'): Unit("inches", _FOOT / 12),
    ("yd", "yard", "yards"): Unit("yards", 3 * _FOOT),
    ("km", "kilometre", "kilometres", "kilometer", "kilometers"): Unit("kilometres", 1000.0),
    ("mi", "mile", "miles"): Unit("miles", 1609.344),
}
_AREA_M2 = {
    ("m2", "m²", "sqm", "sq m", "square metres", "square meters"): Unit("square metres", 1.0),
    ("cm2", "cm²", "sq cm"): Unit("square centimetres", 1e-4),
    ("ft2", "ft²", "sqft", "sq ft", "sq feet", "square feet"): Unit("square feet", _FOOT**2),
    ("yd2", "yd²", "sq yd", "square yards"): Unit("square yards", 9 * _FOOT**2),
    ("ac", "acre", "acres"): Unit("acres", _ACRE),
    ("ha", "hectare", "hectares"): Unit("hectares", 10_000.0),
}
_CELSIUS = {
    ("c", "°c", "degc", "deg c", "celsius"): Unit("°C", 1.0),
    ("f", "°f", "degf", "deg f", "fahrenheit"): Unit("°F", 5 / 9, -160 / 9),
}
_LITRES_HA = {
    ("l ha", "l/ha", "lpha", "litres ha", "liters ha"): Unit("litres a hectare", 1.0),
    ("gpa", "gal ac", "gal/ac", "gal a", "gal/a", "gallons acre", "gal acre"): Unit(
        "gallons an acre", _GALLON / _ACRE * 1e4
    ),
}
_SHARE = {
    ("share", "fraction"): Unit("a share", 1.0),
    ("%", "pct", "percent", "per cent"): Unit("per cent", 0.01),
}
_HOURS = {
    ("h", "hr", "hrs", "hour", "hours"): Unit("hours", 1.0),
    ("min", "mins", "minute", "minutes"): Unit("minutes", 1 / 60),
}


def _scaled(table: Mapping[Any, Unit], by: float) -> dict[str, Unit]:
    return {name: Unit(u.says, u.factor * by, u.offset) for names, u in table.items() for name in names}


# By the unit of ours that a column is wanted in.
UNITS: dict[str, dict[str, Unit]] = {
    "m": _scaled(_LENGTH_M, 1.0),
    "cm": _scaled(_LENGTH_M, 100.0),
    "mm": _scaled(_LENGTH_M, 1000.0),
    "m2": _scaled(_AREA_M2, 1.0),
    "c": _scaled(_CELSIUS, 1.0),
    "l_ha": _scaled(_LITRES_HA, 1.0),
    "share": _scaled(_SHARE, 1.0),
    "h": _scaled(_HOURS, 1.0),
    "min": _scaled(_HOURS, 60.0),
}
