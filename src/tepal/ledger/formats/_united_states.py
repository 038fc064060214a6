"""Is a place in the United States? Only as well as it takes to tell how a date or a longitude was meant."""

from __future__ import annotations

from functools import cache
from typing import Any

# Postal codes (USPS Publication 28, appendix B), with the district.
STATES = {
    "AL": "alabama", "AK": "alaska", "AZ": "arizona", "AR": "arkansas", "CA": "california", "CO": "colorado",
    "CT": "connecticut", "DE": "delaware", "DC": "district of columbia", "FL": "florida", "GA": "georgia",
    "HI": "hawaii", "ID": "idaho", "IL": "illinois", "IN": "indiana", "IA": "iowa", "KS": "kansas", "KY": "kentucky",
    "LA": "louisiana", "ME": "maine", "MD": "maryland", "MA": "massachusetts", "MI": "michigan", "MN": "minnesota",
    "MS": "mississippi", "MO": "missouri", "MT": "montana", "NE": "nebraska", "NV": "nevada", "NH": "new hampshire",
    "NJ": "new jersey", "NM": "new mexico", "NY": "new york", "NC": "north carolina", "ND": "north dakota",
    "OH": "ohio", "OK": "oklahoma", "OR": "oregon", "PA": "pennsylvania", "RI": "rhode island",
    "SC": "south carolina", "SD": "south dakota", "TN": "tennessee", "TX": "texas", "UT": "utah", "VT": "vermont",
    "VA": "virginia", "WA": "washington", "WV": "west virginia", "WI": "wisconsin", "WY": "wyoming",
}  # fmt: skip
_CODES = {name: code for code, name in STATES.items()}
# The outline of the forty-eight states to some tens of kilometers, drawn by hand from the corners of the border; the
# sea may be counted in, Canada and Mexico may not by more than that.
_OUTLINE = (
    (-124.9, 48.4), (-123.2, 48.3), (-123.0, 49.0), (-95.2, 49.0), (-94.6, 48.7), (-92.5, 48.3), (-89.6, 48.0),
    (-88.4, 48.3), (-84.8, 46.7), (-84.1, 46.2), (-83.4, 45.8), (-82.5, 45.3), (-82.4, 43.0), (-83.1, 42.2),
    (-82.7, 41.7), (-79.0, 42.7), (-79.1, 43.4), (-76.8, 43.6), (-76.3, 44.2), (-75.0, 45.0), (-71.5, 45.0),
    (-70.3, 45.9), (-70.0, 46.7), (-69.2, 47.5), (-68.3, 47.4), (-67.8, 47.1), (-67.8, 45.7), (-66.9, 44.8),
    (-69.9, 41.2), (-75.0, 35.0), (-79.9, 26.5), (-80.0, 25.0), (-82.0, 24.4), (-85.0, 29.3), (-89.0, 28.8),
    (-97.0, 25.8), (-97.5, 25.85), (-98.3, 26.05), (-99.1, 26.4), (-99.5, 27.5), (-101.4, 29.8),
    (-102.7, 29.7), (-103.2, 29.0), (-104.5, 29.6),
    (-106.5, 31.8), (-108.2, 31.8), (-108.2, 31.3), (-111.1, 31.3), (-114.8, 32.5), (-117.2, 32.5), (-120.7, 34.4),
    (-124.5, 40.4),
)  # fmt: skip
_ALASKA_SOUTH, _ALASKA_EAST = 54.5, -130.0


def state_code(text: str) -> str | None:
    """The two letters of a state by its letters or its name; None where it is none."""
    plain = " ".join(text.casefold().replace(".", "").split())
    return plain.upper() if plain.upper() in STATES else _CODES.get(plain)


def is_state(text: str) -> bool:
    """Is it the code or the name of a state?"""
    return state_code(text) is not None


def in_states(lon: float, lat: float) -> bool:
    """Does a point lie in the United States?"""
    import shapely

    if lon <= _ALASKA_EAST and lat >= _ALASKA_SOUTH:
        return lon <= -141 or lat <= 60  # the panhandle: counted in whole
    if -161 <= lon <= -154 and 18 <= lat <= 23:
        return True
    return bool(shapely.contains_xy(_outline(), lon, lat))


@cache
def _outline() -> Any:
    import shapely

    return shapely.Polygon(_OUTLINE)
