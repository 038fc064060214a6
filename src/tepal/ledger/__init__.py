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
        Forgotten,
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
        Sound,
        Stop,
        Tally,
        Walk,
        Withdraw,
    )
    from tepal.ledger._correct import Corrected, amend, withdraw
    from tepal.ledger._entry import ALWAYS, Entry, body_plain, entry, entry_from_plain, event_date
    from tepal.ledger._forget import Forgetting, clear_traces, forget
    from tepal.ledger._history import Told, history, site_log
    from tepal.ledger._ids import new_id, row_id
    from tepal.ledger._people import Recorded, parties, record_party
    from tepal.ledger._report import Filed, file_report
    from tepal.ledger._said import ground_said, roles_said
    from tepal.ledger._says import says
    from tepal.ledger._sites import SiteName
    from tepal.ledger._standing import Dispute, Standing, standing
    from tepal.ledger._store import Ledger
    from tepal.ledger._trace import Hop, Reached, Trace, follow, trace
    from tepal.ledger._unwritten import NotWritten
    from tepal.ledger._values import LATEST_ZONE
    from tepal.ledger._weather import WeatherBatch, WeatherDay, WeatherTable
    from tepal.ledger._writer import Added, RefusedEntry, Writer
    from tepal.ledger.formats._drafts import Defaults, LookForm, Vocabulary
    from tepal.ledger.formats._gather import Understanding
    from tepal.ledger.formats._give import Given, give
    from tepal.ledger.formats._take import Taken, take

# By module, because the lone readers of `formats` live below this package and must not cost a command on one plain
# file the 0.3 s that the store and the entry types take to import.
_WHERE = {
    "_unwritten": ("NotWritten",),
    "_entry": ("ALWAYS", "Entry", "body_plain", "entry", "entry_from_plain", "event_date"),
    "_correct": ("Corrected", "amend", "withdraw"),
    "_forget": ("Forgetting", "clear_traces", "forget"),
    "_history": ("Told", "history", "site_log"),
    "_people": ("Recorded", "parties", "record_party"),
    "_report": ("Filed", "file_report"),
    "_said": ("ground_said", "roles_said"),
    "_says": ("says",),
    "_trace": ("Hop", "Reached", "Trace", "follow", "trace"),
    "_ids": ("new_id", "row_id"),
    "_standing": ("Dispute", "Standing", "standing"),
    "_sites": ("SiteName",),
    "_store": ("Ledger",),
    "_values": ("LATEST_ZONE",),
    "_weather": ("WeatherBatch", "WeatherDay", "WeatherTable"),
    "_writer": ("Added", "RefusedEntry", "Writer"),
    "formats._drafts": ("Defaults", "LookForm", "Vocabulary"),
    "formats._gather": ("Understanding",),
    "formats._give": ("Given", "give"),
    "formats._take": ("Taken", "take"),
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
    "LATEST_ZONE",
    "Added",
    "Answer",
    "Body",
    "Corrected",
    "Crop",
    "Defaults",
    "Dispute",
    "Done",
    "Drill",
    "Entry",
    "Feature",
    "Filed",
    "Forgetting",
    "Forgotten",
    "Given",
    "Hop",
    "Ingredient",
    "Ledger",
    "Letter",
    "LookForm",
    "Move",
    "NotWritten",
    "Note",
    "Party",
    "Photo",
    "Place",
    "Plant",
    "Reached",
    "Recorded",
    "RefusedEntry",
    "Report",
    "Sample",
    "Site",
    "SiteName",
    "Sound",
    "Standing",
    "Stop",
    "Taken",
    "Tally",
    "Told",
    "Trace",
    "Understanding",
    "Vocabulary",
    "Walk",
    "WeatherBatch",
    "WeatherDay",
    "WeatherTable",
    "Withdraw",
    "Writer",
    "amend",
    "body_plain",
    "clear_traces",
    "entry",
    "entry_from_plain",
    "event_date",
    "file_report",
    "follow",
    "forget",
    "give",
    "ground_said",
    "history",
    "new_id",
    "parties",
    "record_party",
    "roles_said",
    "row_id",
    "says",
    "site_log",
    "standing",
    "take",
    "trace",
    "withdraw",
]
