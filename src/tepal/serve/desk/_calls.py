"""Calls: the reports that somebody waits for an answer to, and what was answered."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from datetime import date
from typing import cast

from sqlalchemy import func, select

from tepal.ledger import Entry, Ledger, Letter, Report, event_date
from tepal.ledger._schema import entries as entry_table

_KINDS = ("report", "letter", "withdraw")


@dataclass(frozen=True, slots=True)
class Call:
    """A report that stands. `answered`: the letter to its site that came after it, None where none has."""

    entry: Entry
    answered: Entry | None

    @property
    def report(self) -> Report:
        return cast(Report, self.entry.body)

    @property
    def on(self) -> date:
        return event_date(self.entry)

    @property
    def site(self) -> str:
        return self.entry.site or ""


class Calls:
    """The calls of a ledger, read anew only when a report or a letter came in."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._lock = threading.Lock()
        self._seen = -1
        self._found: tuple[Call, ...] = ()

    def all(self, as_of: date) -> tuple[Call, ...]:
        """The calls that had come by a day, the oldest first."""
        with self._lock:
            newest = select(func.max(entry_table.c.seq)).where(entry_table.c.kind.in_(_KINDS))
            with self._ledger.connected() as connection:
                seen = connection.execute(newest).scalar() or 0
            if seen != self._seen:
                self._found, self._seen = calls_of(self._ledger.standing_of(("report", "letter"))), seen
        found = (call for call in self._found if call.on <= as_of)
        return tuple(
            Call(call.entry, None) if call.answered is not None and event_date(call.answered) > as_of else call
            for call in found
        )

    @property
    def position(self) -> int:
        """The place in the ledger of the last report or letter that was read: another place, other calls."""
        return self._seen

    def get(self, entry: str, as_of: date) -> Call | None:
        """The call of a report's id."""
        return next((call for call in self.all(as_of) if call.entry.id == entry), None)


def calls_of(standing: tuple[Entry, ...]) -> tuple[Call, ...]:
    """Reports with the first letter to their site that came after each. `standing`: reports and letters that stand."""
    letters: dict[str | None, list[Entry]] = {}
    for entry in standing:
        if isinstance(entry.body, Letter):
            letters.setdefault(entry.site, []).append(entry)
    found = [
        Call(entry, next((one for one in letters.get(entry.site, ()) if (one.seq or 0) > (entry.seq or 0)), None))
        for entry in standing
        if isinstance(entry.body, Report)
    ]
    return tuple(sorted(found, key=lambda call: (call.on, call.entry.seq or 0)))
