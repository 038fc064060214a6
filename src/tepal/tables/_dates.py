"""Dates as people and instruments write them, when they can be read in one way only."""

from __future__ import annotations

from datetime import date, datetime

from tepal.tables._refused import Refused, Where

_RULE = "A date is written YYYY-MM-DD."


def parse_date(text: str, where: Where | str) -> date:
    """An ISO date, or the date of an ISO date-time. 04/05/2026 can mean two days, so it is refused.

    Raises
    ------
    Refused
        If the text is no ISO date.
    """
    value = text.strip()
    try:
        return date.fromisoformat(value)
    except ValueError:
        pass
    try:
        return datetime.fromisoformat(value).date()
    except ValueError:
        raise Refused(
            f"date {text!r} was not understood", where=where, rule=_RULE, step="Write it so and try again."
        ) from None
