"""GPX: the lines that were walked, segment by segment with their times, and the places that were marked."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
import numpy.typing as npt

from tepal.ledger.formats._carried import FIELD, NAMESPACE
from tepal.ledger.formats._xml import child_text, children, moment, root_of, tag
from tepal.tables import Refused, Where

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class GpxTrack:
    """One track: its segments, each (n, 2) lon, lat in degrees, and the times at their ends where points have them."""

    name: str | None
    words: str | None
    segments: tuple[FloatArray, ...]
    spans: tuple[tuple[datetime, datetime], ...]
    carried: str | None = None

    @property
    def started(self) -> datetime | None:
        return min((start for start, _ in self.spans), default=None)

    @property
    def ended(self) -> datetime | None:
        return max((end for _, end in self.spans), default=None)

    @property
    def minutes(self) -> float | None:
        """Time within the segments; a gap between two of them does not count. None without times."""
        seconds = sum((end - start).total_seconds() for start, end in self.spans)
        return round(seconds / 60, 2) if self.spans else None


@dataclass(frozen=True, slots=True)
class GpxPoint:
    """A place that was marked."""

    name: str | None
    words: str | None
    lonlat: tuple[float, float]
    at: datetime | None
    carried: str | None = None


@dataclass(frozen=True, slots=True)
class Gpx:
    """What a GPX file holds; `made` is when it says it was written."""

    tracks: tuple[GpxTrack, ...]
    points: tuple[GpxPoint, ...]
    made: datetime | None


def read_gpx(raw: bytes, *, where: Where | str) -> Gpx:
    """The tracks and marked places of a GPX 1.0 or 1.1 file. A route is a plan and no walk, so it is not read.

    Segments stay apart: what lies between two of them was not walked. Empty ones are dropped.

    Raises
    ------
    Refused
        If the text is no GPX, holds nothing but routes, or a point has no proper place.
    """
    root = root_of(raw, where=where, what="A track is a GPX file")
    if tag(root) != "gpx":
        raise Refused(
            f"XML of type {tag(root)!r}", where=where, rule="A track is a GPX file.", step="Export it as GPX."
        )
    tracks = [_track(one, children(one, "trkseg"), "trkpt", where) for one in children(root, "trk")]
    tracks = [one for one in tracks if one.segments]
    points = tuple(_point(one, where) for one in children(root, "wpt"))
    if not tracks and not points and children(root, "rte"):
        raise Refused(
            "a route", where=where, rule="A route is what was planned; a walk is told by its track.",
            step="Export the track of the walk.",
        )  # fmt: skip
    heads = [*children(root, "metadata"), root]
    made = next((found for head in heads if (found := moment(child_text(head, "time")))), None)
    return Gpx(tuple(tracks), points, made)


def read_gpx_tracks(raw: bytes, *, where: Where | str) -> tuple[FloatArray, ...]:
    """Only the segments of `read_gpx`, of all tracks.

    Raises
    ------
    Refused
        As `read_gpx`, and if there is no track.
    """
    found = tuple(segment for track in read_gpx(raw, where=where).tracks for segment in track.segments)
    if not found:
        raise Refused(
            "no track in it", where=where, rule="A GPX track has points in a segment.", step="Export the track."
        )
    return found


def _track(element: Any, segments: list[Any], point: str, where: Where | str) -> GpxTrack:
    lines, spans = [], []
    for segment in segments:
        points = children(segment, point)
        if not points:
            continue
        lines.append(np.array([_place(one, where) for one in points], dtype=np.float64))
        times = [time for one in points if (time := moment(child_text(one, "time")))]
        if times:
            spans.append((min(times), max(times)))
    return GpxTrack(child_text(element, "name"), _words(element), tuple(lines), tuple(spans), _carried(element))


def _point(element: Any, where: Where | str) -> GpxPoint:
    time = moment(child_text(element, "time"))
    return GpxPoint(child_text(element, "name"), _words(element), _place(element, where), time, _carried(element))


def _carried(element: Any) -> str | None:
    for member in children(element, "extensions"):
        return next((one.text for one in member if one.tag == f"{{{NAMESPACE}}}{FIELD}"), None)
    return None


def _words(element: Any) -> str | None:
    return child_text(element, "desc") or child_text(element, "cmt")


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
