"""The files of `tepal walk`: boundaries, tracks, risk zones."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from tepal.cli._files import read_geojson
from tepal.tables import Refused, geojson_object, read_bytes

if TYPE_CHECKING:
    from tepal.ground import Frame
    from tepal.walk import Cleaned, RiskZone


def track_of(path: Path, frame: Frame) -> Cleaned:
    """The tracks in a file, metres; those with times are cleaned of the receiver's faults, others taken as drawn."""
    import numpy as np

    from tepal.ground import line_from_geojson
    from tepal.walk import Cleaned, cleaned

    raw = read_bytes(path)
    if not raw.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<"):
        lines = line_from_geojson(geojson_object(raw, file=path.name), where=path.name)
        return Cleaned(tuple(frame.to_metres(np.asarray(line.coords)[:, :2]) for line in lines.geoms), 0, 0, 0.0, 0)
    from tepal.ledger.formats._gpx import read_gpx_tracks

    drawn = [frame.to_metres(line) for line in read_gpx_tracks(raw, where=path.name)]
    seconds = _seconds(raw, path)
    if any(times is None for times in seconds) or [len(t) for t in drawn] != [len(t or ()) for t in seconds]:
        return Cleaned(tuple(drawn), 0, 0, 0.0, 0)
    return cleaned(drawn, seconds)


def _seconds(raw: bytes, path: Path) -> list[list[float] | None]:
    """For each segment the seconds of its points, or None where a point has no time."""
    from tepal.ledger.formats._xml import child_text, children, moment, root_of

    root = root_of(raw, where=path.name, what="A track is a GPX file")
    found: list[list[float] | None] = []
    for track in children(root, "trk"):
        for segment in children(track, "trkseg"):
            points = children(segment, "trkpt")
            times = [moment(child_text(point, "time")) for point in points]
            if points:
                found.append([t.timestamp() for t in times if t] if all(times) else None)
    return found


def zones_of(path: Path, frame: Frame) -> list[RiskZone]:
    from tepal.ground import boundary_from_geojson
    from tepal.walk import RiskZone

    data = read_geojson(path)
    features = data.get("features") if data.get("type") == "FeatureCollection" else [data]
    zones = []
    for number, feature in enumerate(features or [], start=1):
        properties = feature.get("properties") if isinstance(feature, dict) else None
        weight = (properties or {}).get("weight")
        if isinstance(weight, bool) or not isinstance(weight, (int, float)):
            raise Refused(
                f"feature {number} has weight {weight!r}",
                where=path.name,
                rule="Each polygon has a number `weight`: plants per area relative to 1 outside.",
                step="Add it.",
            )
        area = frame.geometry_to_metres(boundary_from_geojson(feature, where=path.name))
        zones.append(RiskZone(area, float(weight)))
    return zones
