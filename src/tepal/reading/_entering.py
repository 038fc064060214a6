"""Whether somebody had said yes when the office went onto the ground."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from tepal.clock import Note
from tepal.ledger import Entry, Party, Walk, event_date
from tepal.words import message

_REFUSED = message("The site was walked on {day} although entry had been refused.")
_UNASKED = message("The site was walked on {day} and nobody on record had said that it may be entered.")


def entered_unasked(entries: Sequence[Entry]) -> tuple[Note, ...]:
    """A sentence for each day on which the site was walked without a yes, or against a no.

    A yes without a day covers every day, a no without a day counts from when it was written down. Of several people
    the last word before the day counts.
    """
    said = sorted(
        (
            (_from(one, one.body), one.seq or 0, one.body.consent_to_enter)
            for one in entries
            if isinstance(one.body, Party) and one.body.consent_to_enter is not None
        ),
        key=lambda item: item[:2],
    )
    notes = []
    # Stops and plants may have been seen from the road; a walk was not.
    for day in sorted({event_date(one) for one in entries if isinstance(one.body, Walk)}):
        known = [yes for since, _, yes in said if since <= day]
        if known and not known[-1]:
            notes.append(Note(_REFUSED, day=day))
        elif not known:
            notes.append(Note(_UNASKED, day=day))
    return tuple(notes)


def _from(one: Entry, body: Party) -> date:
    if body.consent_on is not None:
        return body.consent_on
    return date.min if body.consent_to_enter else (body.on or one.made_at.date())
