"""Files in and out: lone plain files as arrays, and whole ledgers as open files.

The readers here need neither the store nor the entry types.
"""

from tepal.ledger.formats._alike import Alike, grouped
from tepal.ledger.formats._columns import words_of
from tepal.ledger.formats._places import (
    CountTable,
    PointTable,
    read_boundary,
    read_counts,
    read_geojson,
    read_points,
)
from tepal.ledger.formats._united_states import state_code
from tepal.ledger.formats._weather import read_weather

__all__ = [
    "Alike",
    "CountTable",
    "PointTable",
    "grouped",
    "read_boundary",
    "read_counts",
    "read_geojson",
    "read_points",
    "read_weather",
    "state_code",
    "words_of",
]
