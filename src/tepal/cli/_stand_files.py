"""Patches as files for maps, receivers and spray terminals, each in an open format, in degrees."""

from __future__ import annotations

import io
import json
import sqlite3
import zipfile
from collections.abc import Callable, Mapping
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree.ElementTree import Element, SubElement, indent, tostring

import shapely

from tepal.cli._files import write_whole
from tepal.ground import GEOPACKAGE_TABLES, geopackage_blob
from tepal.tables import Refused

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from tepal.ground import Frame
    from tepal.stand import Patch, StandEstimate

_COLUMNS = {"probability": 3, "hectares": 4, "above_per_m2": 5, "share_of_plants": 4}
# ISO 11783-11, data dictionary entry 289: setpoint work state, 0 off, 1 on. Rates are for the label and the office.
_WORK_STATE = "0121"
_MOST_ZONES = 254
_WKT_WGS84 = (
    'GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],'
    'PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]'
)


def check_name(path: Path) -> None:
    """Refuse a file that cannot be written, before any work is done."""
    if path.suffix.lower() not in _WRITERS or not path.parent.is_dir():
        raise Refused(
            f"file {path.name}",
            where="--patches-to",
            rule=f"Patches go to a file that ends in {', '.join(_WRITERS)}, in a folder that is there.",
            step="Name it so; .zip holds a Shapefile, .xml the task file of a terminal.",
        )


def write_patches(path: Path, found: StandEstimate, frame: Frame, site: BaseGeometry, name: str) -> None:
    """Write the patches of an estimate in metres of `frame`; `site` in metres too. Whole or not at all."""
    zones = [(frame.geometry_to_lonlat(patch.outline), patch) for patch in found.patches]
    write_whole(path, _WRITERS[path.suffix.lower()](zones, frame.geometry_to_lonlat(site), name, found.area_m2))


Zones = list[tuple[Any, "Patch"]]


def properties(patch: Patch) -> dict[str, float]:
    """What is told of a patch in every file."""
    return {name: round(float(getattr(patch, name)), digits) for name, digits in _COLUMNS.items()}


def _geojson(zones: Zones, _: BaseGeometry, name: str, __: float) -> bytes:
    features = [
        {"type": "Feature", "geometry": shapely.geometry.mapping(shape), "properties": properties(patch)}
        for shape, patch in zones
    ]
    return (json.dumps({"type": "FeatureCollection", "name": name, "features": features}) + "\n").encode()


def _gpkg(zones: Zones, site: BaseGeometry, name: str, _: float) -> bytes:
    columns = ", ".join(f"{column} REAL" for column in _COLUMNS)
    box = shapely.union_all([shape for shape, _patch in zones]).bounds if zones else site.bounds
    with closing(sqlite3.connect(":memory:")) as database:
        database.executescript(GEOPACKAGE_TABLES)
        database.execute(f"CREATE TABLE patches (fid INTEGER PRIMARY KEY NOT NULL, geom POLYGON, {columns})")
        database.executemany(
            f"INSERT INTO patches (geom, {', '.join(_COLUMNS)}) VALUES (?{', ?' * len(_COLUMNS)})",
            [(geopackage_blob(shape), *properties(patch).values()) for shape, patch in zones],
        )
        # A fixed day: the same counts give the same file.
        database.execute(
            "INSERT INTO gpkg_contents VALUES ('patches', 'features', 'patches', ?, '2000-01-01T00:00:00.000Z', "
            "?, ?, ?, ?, 4326)",
            (name, *box),
        )
        database.execute("INSERT INTO gpkg_geometry_columns VALUES ('patches', 'geom', 'POLYGON', 4326, 0, 0)")
        database.commit()
        return database.serialize()


def _gpx(zones: Zones, _: BaseGeometry, name: str, __: float) -> bytes:
    root = Element("gpx", version="1.1", creator="tepal", xmlns="http://www.topografix.com/GPX/1/1")
    SubElement(SubElement(root, "metadata"), "name").text = name
    for number, (shape, patch) in enumerate(zones, 1):
        # A place inside the patch, where its middle may lie outside.
        x, y = shapely.get_coordinates(shapely.point_on_surface(shape))[0]
        point = SubElement(root, "wpt", lat=f"{y:.7f}", lon=f"{x:.7f}")
        SubElement(point, "name").text = f"Patch {number}"
        SubElement(point, "desc").text = f"{patch.hectares:.2f} ha, probability {patch.probability:.2f}"
    for number, (shape, _patch) in enumerate(zones, 1):
        track = SubElement(root, "trk")
        SubElement(track, "name").text = f"Edge of patch {number}"
        for ring in shapely.get_rings(shape):
            segment = SubElement(track, "trkseg")
            for x, y in shapely.get_coordinates(ring):
                SubElement(segment, "trkpt", lat=f"{y:.7f}", lon=f"{x:.7f}")
    return _xml(root)


def _shapefile(zones: Zones, _: BaseGeometry, __: str, ___: float) -> bytes:
    import shapefile

    parts = {end: io.BytesIO() for end in ("shp", "shx", "dbf")}
    # Column names of a Shapefile end after ten letters.
    names = {name: name[:10] for name in _COLUMNS}
    with shapefile.Writer(**parts, shapeType=shapefile.POLYGON) as out:
        for name, digits in _COLUMNS.items():
            out.field(names[name], "N", size=18, decimal=digits)
        for shape, patch in zones:
            # Outer rings run clockwise in this format, inner ones the other way.
            turned = shapely.geometry.polygon.orient(shape, -1.0)
            out.poly([shapely.get_coordinates(ring).tolist() for ring in shapely.get_rings(turned)])
            out.record(*properties(patch).values())
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as packed:
        for end, held in parts.items():
            packed.writestr(zipfile.ZipInfo(f"patches.{end}"), held.getvalue())
        packed.writestr(zipfile.ZipInfo("patches.prj"), _WKT_WGS84)
    return whole.getvalue()


def _task_file(zones: Zones, site: BaseGeometry, name: str, area_m2: float) -> bytes:
    """ISO 11783-10, version 4.3: one planned task, off on the field, on in each patch; no rate and no product."""
    if len(zones) > _MOST_ZONES:
        raise Refused(
            f"{len(zones)} patches",
            where="--patches-to",
            rule=f"A task file has at most {_MOST_ZONES} zones.",
            step="Write another format.",
        )
    root = Element(
        "ISO11783_TaskData", VersionMajor="4", VersionMinor="3", ManagementSoftwareManufacturer="tepal",
        ManagementSoftwareVersion="0.1", DataTransferOrigin="1",
    )  # fmt: skip
    field = SubElement(root, "PFD", A="PFD1", C=name[:32], D=str(round(area_m2)))
    _polygons(field, site, "1")
    # Outside, where the position is lost, and off the field: zone 0, off.
    task = SubElement(root, "TSK", A="TSK1", B="Thick patches", E="PFD1", G="1", H="0", I="0", J="0")
    off = SubElement(task, "TZN", A="0", B="Not in a patch")
    SubElement(off, "PDV", A=_WORK_STATE, B="0")
    for number, (shape, _patch) in enumerate(zones, 1):
        zone = SubElement(task, "TZN", A=str(number), B=f"Patch {number}")
        _polygons(zone, shape, "2")
        SubElement(zone, "PDV", A=_WORK_STATE, B="1")
    return _xml(root)


def _polygons(above: Element, shape: BaseGeometry, kind: str) -> None:
    for part in shapely.get_parts(shape):
        polygon = SubElement(above, "PLN", A=kind)
        for k, ring in enumerate(shapely.get_rings(part)):
            line = SubElement(polygon, "LSG", A="1" if k == 0 else "2")
            for x, y in shapely.get_coordinates(ring):
                SubElement(line, "PNT", A="2", C=f"{y:.8f}", D=f"{x:.8f}")


def _xml(root: Element) -> bytes:
    indent(root, " ")
    return bytes(tostring(root, encoding="utf-8", xml_declaration=True)) + b"\n"


_WRITERS: Mapping[str, Callable[[Zones, BaseGeometry, str, float], bytes]] = {
    ".geojson": _geojson,
    ".gpkg": _gpkg,
    ".gpx": _gpx,
    ".zip": _shapefile,
    ".xml": _task_file,
}
