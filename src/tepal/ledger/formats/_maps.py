"""Which reader a map file needs, and what its features say to the record."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from tepal.ledger.formats._bytes import read_bytes, unzip
from tepal.ledger.formats._drafts import Defaults, Vocabulary
from tepal.ledger.formats._features import Feature
from tepal.ledger.formats._geo import GeoDrafts, drafts_of, local_day
from tepal.ledger.formats._geojson import read_features
from tepal.ledger.formats._gpkg import read_gpkg
from tepal.ledger.formats._gpx import Gpx, read_gpx
from tepal.ledger.formats._kml import read_kml, read_kmz
from tepal.ledger.formats._shapefile import PARTS, read_shp, read_zipped
from tepal.tables import Refused, Where

MAP_SUFFIXES = frozenset({".geojson", ".json", ".gpx", ".kml", ".kmz", ".gpkg", ".shp", ".zip"})


def read_map(path: Path, words: Vocabulary, defaults: Defaults) -> GeoDrafts:
    """Sites, walks, stops and notes of a GeoJSON, GPX, KML, KMZ, GeoPackage, Shapefile or zipped Shapefile.

    Raises
    ------
    Refused
        If nothing of the file can be read.
    """
    made: date | None = None
    suffix = path.suffix.casefold()
    if suffix == ".gpx":
        gpx = read_gpx(read_bytes(path), where=path.name)
        features = _gpx_features(gpx, path.name)
        if gpx.made is not None:
            made = local_day(gpx.made, _longitude(gpx))
    elif suffix in {".geojson", ".json"}:
        features = read_features(path)
    elif suffix == ".kml":
        features = read_kml(read_bytes(path), file=path.name)
    elif suffix == ".kmz":
        features = read_kmz(read_bytes(path), file=path.name)
    elif suffix == ".gpkg":
        features = read_gpkg(path)
    elif suffix == ".shp":
        features = read_shp(path)
    else:
        features = _zipped(path)
    stem = " ".join(path.stem.split()) or path.name
    return drafts_of(features, file=path.name, stem=stem, defaults=defaults, words=words, made=made)


def _zipped(path: Path) -> list[Feature]:
    raw = read_bytes(path)
    members = unzip(raw, file=path.name, wanted=PARTS | {".kml"})
    if any(name.casefold().endswith(".shp") for name in members):
        return read_zipped(members, file=path.name)
    if any(name.casefold().endswith(".kml") for name in members):
        return read_kmz(raw, file=path.name)
    raise Refused(
        "no Shapefile in it",
        where=path.name,
        rule="A ZIP that is taken holds the .shp of a map, with its .dbf and .prj.",
        step="Unpack it and name the files in it.",
    )


def _gpx_features(gpx: Gpx, file: str) -> list[Feature]:
    out = []
    for number, track in enumerate(gpx.tracks, start=1):
        where = Where(file, None, f"track {number}")
        # A segment of one point is a receiver that was switched on, not a walk.
        lines = [line.tolist() for line in track.segments if len(line) > 1]
        geometry = {"type": "MultiLineString", "coordinates": lines} if lines else None
        says = {"name": track.name, "description": track.words}
        times = {"started": track.started, "ended": track.ended, "minutes": track.minutes}
        out.append(Feature(where, geometry, says, **times, carried=track.carried))  # type: ignore[arg-type]
    for number, point in enumerate(gpx.points, start=1):
        where = Where(file, None, f"waypoint {number}")
        geometry = {"type": "Point", "coordinates": list(point.lonlat)}
        says = {"name": point.name, "description": point.words}
        out.append(Feature(where, geometry, says, point.at, point.at, carried=point.carried))
    return out


def _longitude(gpx: Gpx) -> float:
    for track in gpx.tracks:
        return float(track.segments[0][0, 0])
    return gpx.points[0].lonlat[0] if gpx.points else 0.0
