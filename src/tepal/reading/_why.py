"""From a JSON pointer into a reading to what stands behind it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from tepal.doubt import Provenance
from tepal.tables import Refused


def why(pointer: str, known: Mapping[str, Provenance], document: Any = None) -> Provenance:
    """The provenance of the nearest figure at or above `pointer` (RFC 6901); all together for the empty pointer.

    `document` is the reading as JSON values: where it is given, the pointer must lead to something in it. A part that
    stands on nothing of its own (the date asked for, the version) has empty provenance.

    Raises
    ------
    Refused
        If the pointer leads nowhere.
    """
    text = pointer.rstrip("/")
    if document is not None:
        _resolve(text, document)
    if text == "":
        return _together(known.values())
    place = text
    while place:
        if place in known:
            return known[place]
        place = place.rpartition("/")[0]
    # A part that has no line of its own, such as /windows: everything below it.
    below = [item for key, item in known.items() if key.startswith(text + "/")]
    if not below and document is None:
        raise _nowhere(pointer, sorted({"/" + key.split("/")[1] for key in known}))
    return _together(below)


def _together(parts: Iterable[Provenance]) -> Provenance:
    whole = Provenance()
    for part in parts:
        whole = whole | part
    return whole


def _resolve(pointer: str, document: Any) -> None:
    """Follow a pointer through JSON values; refused at the first step that is not there."""
    here = document
    for raw in pointer.split("/")[1:] if pointer else []:
        step = raw.replace("~1", "/").replace("~0", "~")
        if isinstance(here, Mapping) and step in here:
            here = here[step]
        elif isinstance(here, list) and step.isdigit() and int(step) < len(here):
            here = here[int(step)]
        else:
            inside = (
                list(here)
                if isinstance(here, Mapping)
                else [str(i) for i in range(len(here))]
                if isinstance(here, list)
                else []
            )
            raise _nowhere(pointer, inside)
    if pointer and not pointer.startswith("/"):
        raise _nowhere(pointer, ["/" + key for key in document])


def _nowhere(pointer: str, inside: Sequence[str]) -> Refused:
    return Refused(
        f"nothing at {pointer!r}",
        where="--why",
        rule=f"There one can point to {', '.join(inside[:20])}." if inside else "There is nothing further there.",
        step="Print the reading with --json and point into it.",
    )
