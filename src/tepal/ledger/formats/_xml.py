"""XML from strangers: no entities are expanded and nothing outside is fetched."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from tepal.tables import Refused, Where


def root_of(raw: bytes, *, where: Where | str, what: str) -> Any:
    """The root element of an XML text; `what` says what it should be ("A track is a GPX file").

    Raises
    ------
    Refused
        If the text is torn, of an unknown encoding, or declares entities; with the line where it is torn.
    """
    # Imported late: most takings-in have no XML.
    from xml.etree.ElementTree import ParseError

    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import fromstring

    place = where if isinstance(where, Where) else Where(where)
    try:
        return fromstring(raw)
    except ParseError as problem:
        line = problem.position[0] if getattr(problem, "position", None) else place.line
        place = Where(place.file, line, place.column)
        said = str(problem)
    except DefusedXmlException as problem:
        said = f"it declares {type(problem).__name__.removesuffix('Forbidden').lower()}, which can be a trap"
    except (ValueError, LookupError, RecursionError) as problem:
        said = str(problem)
    raise Refused(f"the XML cannot be read: {said}", where=place, rule=f"{what}.", step="Export it again.")


def tag(element: Any) -> str:
    """The name of an element without its namespace: versions of a format differ only in that."""
    return str(element.tag).rsplit("}", 1)[-1]


def children(element: Any, name: str) -> list[Any]:
    """The children of that name."""
    return [member for member in element if tag(member) == name]


def child_text(element: Any, name: str) -> str | None:
    """The trimmed text of the first child of that name; None where there is none or it is empty."""
    for member in children(element, name):
        text = "".join(member.itertext()).strip()
        if text:
            return text
    return None


def moment(text: str | None) -> datetime | None:
    """An ISO date-time with its zone (UTC where it has none); None where it cannot be read or is of no real clock."""
    if text is None:
        return None
    try:
        found = datetime.fromisoformat(text.strip())
        found = found if found.tzinfo else found.replace(tzinfo=UTC)
        found = found.astimezone(UTC)
    except (ValueError, OverflowError):
        return None
    # A receiver without a fix writes the start of its own calendar.
    return found if 1990 <= found.year <= 2200 else None
