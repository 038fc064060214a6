"""A site's entries to a `Reading`: the one place where the floor-2 rooms meet, by draws. Floor 3."""

from tepal.reading._activities import on_plants
from tepal.reading._fact_keys import FactType, fact_types
from tepal.reading._in_words import in_words
from tepal.reading._json import to_json
from tepal.reading._line_words import done as done_in_words
from tepal.reading._line_words import unknown as unknown_in_words
from tepal.reading._line_words import warning as warning_in_words
from tepal.reading._names import stage_of
from tepal.reading._read import Evidence, compose, gather, read
from tepal.reading._records import (
    DRAWS,
    DoneLine,
    Fact,
    Place,
    Reading,
    StandReading,
    StationRecord,
    TaxonReading,
    Unknown,
    Window,
)
from tepal.reading._sentences import called, how_many, looked_at, only_where, who
from tepal.reading._sentences import who as who_in_words
from tepal.reading._why import why
from tepal.reading._window_words import closes_next, frost
from tepal.reading._window_words import shown as windows_shown
from tepal.reading._window_words import window as window_in_words

__all__ = [
    "DRAWS",
    "DoneLine",
    "Evidence",
    "Fact",
    "FactType",
    "Place",
    "Reading",
    "StandReading",
    "StationRecord",
    "TaxonReading",
    "Unknown",
    "Window",
    "called",
    "closes_next",
    "compose",
    "done_in_words",
    "fact_types",
    "frost",
    "gather",
    "how_many",
    "in_words",
    "looked_at",
    "on_plants",
    "only_where",
    "read",
    "stage_of",
    "to_json",
    "unknown_in_words",
    "warning_in_words",
    "who",
    "who_in_words",
    "why",
    "window_in_words",
    "windows_shown",
]
