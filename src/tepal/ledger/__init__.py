"""The record: an append-only log of what was seen, said and done, and of the weather; in one store, in open files.

Floor 1. `Ledger` keeps and gives back; `formats` reads and writes files; entries and bodies are frozen records.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tepal.ledger._bodies import (
        BODIES,
        KINDS,
        Answer,
        Body,
        Crop,
        Done,
        Drill,
        Feature,
        Ingredient,
        Letter,
        Move,
        Note,
        Party,
        Photo,
        Place,
        Plant,
        Report,
        Sample,
        Site,
        Stop,
        Tally,
        Walk,
        Withdraw,
    )
    from tepal.ledger._entry import ALWAYS, Entry, body_plain, entry, entry_from_plain, event_date
    from tepal.ledger._ids import new_id, row_id
    from tepal.ledger._standing import Dispute, Standing, standing
    from tepal.ledger._store import Ledger, SiteName
    from tepal.ledger._weather import WeatherBatch, WeatherDay, WeatherTable
    from tepal.ledger._writer import Added, RefusedEntry, Writer

# By module, because the lone readers of `formats` live below this package and must not cost a command on one plain
# file the 0.3 s that the store and the entry types take to import.
_WHERE = {
    "_entry": ("ALWAYS", "Entry", "body_plain", "entry", "entry_from_plain", "event_date"),
    "_ids": ("new_id", "row_id"),
    "_standing": ("Dispute", "Standing", "standing"),
    "_store": ("Ledger", "SiteName"),
    "_weather": ("WeatherBatch", "WeatherDay", "WeatherTable"),
    "_writer": ("Added", "RefusedEntry", "Writer"),
}


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module = next((module for module, names in _WHERE.items() if name in names), "_bodies")
    value = getattr(import_module(f"{__name__}.{module}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)


__all__ = [
    "ALWAYS",
    "BODIES",
    "KINDS",
    "Added",
    "Answer",
    "Body",
    "Crop",
    "Dispute",
    "Done",
    "Drill",
    "Entry",
    "Feature",
    "Ingredient",
    "Ledger",
    "Letter",
    "Move",
    "Note",
    "Party",
    "Photo",
    "Place",
    "Plant",
    "RefusedEntry",
    "Report",
    "Sample",
    "Site",
    "SiteName",
    "Standing",
    "Stop",
    "Tally",
    "Walk",
    "WeatherBatch",
    "WeatherDay",
    "WeatherTable",
    "Withdraw",
    "Writer",
    "body_plain",
    "entry",
    "entry_from_plain",
    "event_date",
    "new_id",
    "row_id",
    "standing",
]
