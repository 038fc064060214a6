"""What may be asked of the clock, and what is refused."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from tepal.clock._sighting import Sighting
from tepal.tables import Refused

NORTHERNMOST = 65.0
# No seasonal outlook moves a season farther than this.
WARMEST_OUTLOOK_C = 8.0


def check(
    *, lat: float, as_of: date, seen: Sequence[Sighting], planted: date | None, tilled: Sequence[date],
    outlook_c: float, of_the_group: bool,
    code: str,
) -> None:  # fmt: skip
    """Refuse a question that the clock cannot answer, before any work."""
    if not 0 <= lat <= NORTHERNMOST:
        raise Refused(
            f"latitude {lat:g}",
            where="--lat",
            rule=f"The clock knows seasons between 0 and {NORTHERNMOST:g} degrees north only.",
            step="Give degrees north; south of the equator the year runs the other way and nothing here holds.",
        )
    if not of_the_group:
        raise Refused(
            f"taxon {code}", where="--taxon", rule="The clock knows weeds of the group, not look-alikes.",
            step="Give the weed's code.",
        )  # fmt: skip
    if not abs(outlook_c) <= WARMEST_OUTLOOK_C:
        raise Refused(
            f"an outlook of {outlook_c:g} degrees", where="--outlook-c",
            rule=f"An outlook moves the rest of a season by at most {WARMEST_OUTLOOK_C:g} degrees Celsius.",
            step="Give the difference from usual, in Celsius.",
        )  # fmt: skip
    for sighting in seen:
        _of_the_season(sighting.on, as_of, "--seen", "a sighting")
    for on in tilled:
        _of_the_season(on, as_of, "--tilled", "the ground worked")
    if planted is not None and abs(planted.year - as_of.year) > 1:
        raise Refused(
            f"planted {planted}", where="--planted", rule=f"The crop is that of the season {as_of.year}.",
            step="Correct the year.",
        )  # fmt: skip


def _of_the_season(on: date, as_of: date, where: str, what: str) -> None:
    if on > as_of:
        raise Refused(
            f"{what} on {on}", where=where, rule=f"Nothing after the as-of date {as_of} counts.",
            step="Move the as-of date, or leave it out.",
        )  # fmt: skip
    if on.year != as_of.year:
        raise Refused(
            f"{what} on {on}", where=where, rule=f"The season is that of {as_of.year}.",
            step="Leave other years out.",
        )  # fmt: skip
