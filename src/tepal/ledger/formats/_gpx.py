"""GPX tracks: the lines that were walked, segment by segment."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import numpy.typing as npt

from tepal.tables import Refused, Where

FloatArray = npt.NDArray[np.float64]


def read_gpx_tracks(raw: bytes, *, where: Where | str) -> tuple[FloatArray, ...]:
    """The track segments of a GPX 1.0 or 1.1 file (routes where there is no track), each (n, 2) lon, lat in degrees.

    Segments stay apart: what lies between two of them was not walked. Empty segments are dropped.

    Raises
    ------
    Refused
        If the text is no GPX, a point has no proper place, or there is no track.
    """
    # Imported late: most takings-in have no XML.
    from xml.etree.ElementTree import ParseError

    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import fromstring

    try:
        root = fromstring(raw)
    except (ParseError, DefusedXmlException, ValueError) as problem:
        raise Refused(
            f"the XML cannot be read: {problem}",
            where=where,
            rule="A track is a GPX file.",
            step="Export the track again as GPX.",
        ) from None
    if _name(root) != "gpx":
        raise Refused(
            f"XML of type {_name(root)!r}", where=where, rule="A track is a GPX file.", step="Export it as GPX."
        )
    found = _lines(root, "trkseg", "trkpt", where) or _lines(root, "rte", "rtept", where)
    if not found:
        raise Refused(
            "no track in it", where=where, rule="A GPX track has points in a segment.", step="Export the track."
        )
    return found


def _lines(root: Any, segment: str, point: str, where: Where | str) -> tuple[FloatArray, ...]:
    lines = (
        [_place(member, where) for member in part if _name(member) == point]
        for part in root.iter()
        if _name(part) == segment
    )
    return tuple(np.array(line, dtype=np.float64) for line in lines if line)


def _place(point: Any, where: Where | str) -> tuple[float, float]:
    try:
        lon, lat = float(point.get("lon")), float(point.get("lat"))
    except (TypeError, ValueError):
        lon = lat = math.nan
    if not (-180 <= lon <= 180 and -90 <= lat <= 90):
        raise Refused(
            f"a point at lon {point.get('lon')}, lat {point.get('lat')}",
            where=where,
            rule="A point has lon and lat in degrees.",
            step="Export the track again.",
        )
    return lon, lat


def _name(element: Any) -> str:
    # GPX 1.0 and 1.1 differ only in the namespace.
    return str(element.tag).rsplit("}", 1)[-1]
