"""A site's entries to a `Reading`: the one place where the floor-2 rooms meet, by draws. Floor 3."""

from tepal.reading._fact_keys import FACTS, FactType
from tepal.reading._records import (
    DRAWS,
    DoneLine,
    Fact,
    Place,
    Reading,
    StandReading,
    TaxonReading,
    Unknown,
    Window,
)

__all__ = [
    "DRAWS",
    "FACTS",
    "DoneLine",
    "Fact",
    "FactType",
    "Place",
    "Reading",
    "StandReading",
    "TaxonReading",
    "Unknown",
    "Window",
]
