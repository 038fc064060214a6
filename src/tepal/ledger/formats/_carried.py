"""An entry beside its own shape: what our map files carry of it so that it comes back whole.

A map draws where an entry is; all else of it goes along as one text (JSON without the coordinates), in an extension
of GPX or a column of a GeoPackage. Other programs pass it over.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from tepal.ledger._entry import Entry, entry_from_plain
from tepal.tables import Refused, Where

FIELD = "tepal_entry"
"""Name of the GeoPackage column and of the GPX element."""
ELSEWHERE = "counted with its stop"
"""Stands there instead, where a shape only shows once more what another carries."""
NAMESPACE = "urn:tepal:gpx:1"
_DRAWN = {"site": ("boundary", "point"), "walk": ("track",), "stop": ("at",), "plant": ("at",)}


def drawn(entry: Entry) -> dict[str, Any] | None:
    """The GeoJSON geometry by which an entry is drawn; None where it has none."""
    for field in _DRAWN[entry.kind]:
        value = getattr(entry.body, field)
        if value is not None:
            return dict(value) if isinstance(value, Mapping) else {"type": "Point", "coordinates": list(value)}
    return None


def carried(entry: Entry) -> str:
    """All that an entry says but for its coordinates.

    What it amends is left out: a map shows what stands, and stands alone.
    """
    plain = {key: value for key, value in entry.plain().items() if key != "amends"}
    body = dict(plain["body"])
    for field in _DRAWN[entry.kind]:
        if field in body:
            body[field] = {"type": body[field]["type"]} if isinstance(body[field], Mapping) else "Point"
            break
    # In ASCII: XML has no way to write some of what a person can type.
    return json.dumps({**plain, "body": body}, allow_nan=False, sort_keys=True, separators=(",", ":"))


def brought_back(text: str, geometry: Mapping[str, Any] | None, *, where: Where) -> Entry:
    """The entry that `carried` made, with the coordinates of its shape.

    Raises
    ------
    Refused
        If the text is torn, the shape is not that of the entry, or the entry breaks a rule.
    """
    try:
        plain = json.loads(text)
        body = dict(plain["body"])
        for field in _DRAWN[plain["kind"]]:
            kind = body.get(field)
            if kind is not None:
                body[field] = _shape(kind if isinstance(kind, str) else kind["type"], geometry)
                break
    except (ValueError, KeyError, TypeError, AttributeError, IndexError, RecursionError):
        raise Refused(
            "what it carries of an entry does not go with its shape",
            where=where,
            rule=f"{FIELD} is written by `give` and goes with the shape beside it.",
            step=f"Give the file out again, or empty its {FIELD} to take the shapes alone.",
        ) from None
    return entry_from_plain({**plain, "body": body}, where=where)


def _shape(kind: str, geometry: Mapping[str, Any] | None) -> Any:
    """The geometry as the entry had it: a file may have made one line a collection of one."""
    if geometry is None:
        raise ValueError
    have, coordinates = geometry["type"], geometry["coordinates"]
    if have == f"Multi{kind}" and len(coordinates) == 1:
        have, coordinates = kind, coordinates[0]
    if f"Multi{have}" == kind:
        have, coordinates = kind, [coordinates]
    if have != kind:
        raise ValueError
    coordinates = json.loads(json.dumps(coordinates))  # tuples as the lists that entries have
    return coordinates if kind == "Point" else {"type": kind, "coordinates": coordinates}
