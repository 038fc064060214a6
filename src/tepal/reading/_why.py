"""From a JSON pointer into a reading to what stands behind it."""

from __future__ import annotations

from collections.abc import Mapping

from tepal.doubt import Provenance
from tepal.tables import Refused


def why(pointer: str, known: Mapping[str, Provenance]) -> Provenance:
    """The provenance of the nearest figure at or above `pointer` (RFC 6901); all together for the empty pointer.

    Raises
    ------
    Refused
        If the pointer does not start with a part of a reading.
    """
    text = pointer.rstrip("/")
    if text == "":
        whole = Provenance()
        for item in known.values():
            whole = whole | item
        return whole
    place = text
    while place:
        if place in known:
            return known[place]
        place = place.rpartition("/")[0]
    # A part that has no line of its own, such as /windows: everything below it.
    below = [item for key, item in known.items() if key.startswith(text + "/")]
    if not below:
        starts = sorted({"/" + key.split("/")[1] for key in known})
        raise Refused(
            f"nothing at {pointer!r}",
            where="--why",
            rule=f"A pointer starts with one of {', '.join(starts)}.",
            step="Print the reading with --json and point into it.",
        )
    whole = below[0]
    for item in below[1:]:
        whole = whole | item
    return whole
