"""Files that should not be taken: traps, torn copies, one thing posing as another."""

from __future__ import annotations

import io
import sqlite3
import struct
import tempfile
import zipfile
import zlib
from pathlib import Path

import shapefile

from ledger.pictures import picture

WGS84 = (
    'GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],'
    'PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]'
)
RING = [[-98.0, 40.0], [-98.0, 40.1], [-97.9, 40.1], [-97.9, 40.0], [-98.0, 40.0]]
BOWTIE = [[-98.0, 40.0], [-97.9, 40.1], [-97.9, 40.0], [-98.0, 40.1], [-98.0, 40.0]]


def gpx(inside: str) -> bytes:
    return f'<?xml version="1.0"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">{inside}</gpx>'.encode()


def track(*points: str) -> bytes:
    return gpx(f"<trk><trkseg>{''.join(points)}</trkseg></trk>")


def kml(inside: str) -> bytes:
    return f'<kml xmlns="http://www.opengis.net/kml/2.2"><Placemark>{inside}</Placemark></kml>'.encode()


def kml_polygon(ring: list[list[float]]) -> bytes:
    text = " ".join(f"{lon},{lat}" for lon, lat in ring)
    edge = f"<outerBoundaryIs><LinearRing><coordinates>{text}</coordinates></LinearRing></outerBoundaryIs>"
    return kml(f"<name>N</name><Polygon>{edge}</Polygon>")


def entity_bomb(root: str) -> bytes:
    """Nine entities, each ten of the one before: a thousand million signs from a few hundred bytes."""
    steps = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, 10))
    return f'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY e0 "lol">{steps}]><{root}>&e9;</{root}>'.encode()


def outside_entity() -> bytes:
    return b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/hostname">]><kml>&e;</kml>'


def zipped(**members: bytes) -> bytes:
    return packed({name.replace("_dot_", "."): raw for name, raw in members.items()})


def packed(members: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED, claim: int | None = None) -> bytes:
    """A ZIP; `claim` is the size that its directory states of each member."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        for name, raw in members.items():
            archive.writestr(zipfile.ZipInfo(name), raw, method)
        for info in archive.filelist if claim else ():
            info.file_size = claim
    return out.getvalue()


def zeros(name: str, megabytes: int) -> bytes:
    """A ZIP of a few hundred kilobytes with so many megabytes of nothing in it."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive, archive.open(name, "w") as member:
        for _ in range(megabytes):
            member.write(bytes(1_000_000))
    return out.getvalue()


def understated(raw: bytes) -> bytes:
    """The same ZIP with a directory that claims ten bytes of each member."""
    at, out = raw.find(b"PK\x01\x02"), bytearray(raw)
    while at >= 0:
        out[at + 24 : at + 28] = struct.pack("<I", 10)
        at = raw.find(b"PK\x01\x02", at + 4)
    return bytes(out)


def locked(raw: bytes) -> bytes:
    """The same ZIP, marked as having a password."""
    out = bytearray(raw)
    for mark, flag in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        out[raw.find(mark) + flag] |= 1
    return bytes(out)


def shp_parts(ring: list[list[float]], prj: str | None = WGS84) -> dict[str, bytes]:
    parts = {name: io.BytesIO() for name in ("shp", "shx", "dbf")}
    with shapefile.Writer(**parts) as writer:
        writer.field("NAME", "C")
        writer.poly([ring])
        writer.record("Creek Bottom")
    found = {f"field.{name}": part.getvalue() for name, part in parts.items()}
    return found if prj is None else {**found, "field.prj": prj.encode()}


def gpkg(*statements: str) -> bytes:
    """An SQLite file made by these statements."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "t.gpkg"
        database = sqlite3.connect(path)
        database.executescript(";".join(statements))
        database.close()
        return path.read_bytes()


GPKG_TABLES = (
    "CREATE TABLE gpkg_contents (table_name TEXT, data_type TEXT)",
    "CREATE TABLE gpkg_geometry_columns (table_name TEXT, column_name TEXT, srs_id INTEGER)",
    "CREATE TABLE gpkg_spatial_ref_sys (srs_id INTEGER, organization TEXT, organization_coordsys_id INTEGER,"
    " definition TEXT)",
)


def gpkg_layer(blob: str, srs: int = 4326, define: str = "", table: str = "CREATE TABLE field (id INTEGER, geom BLOB)"):
    """A GeoPackage with one layer of one feature whose geometry is `blob` (hexadecimal)."""
    return gpkg(
        *GPKG_TABLES,
        table,
        f"INSERT INTO field VALUES (1, x'{blob}')" if table.startswith("CREATE TABLE") else "SELECT 1",
        "INSERT INTO gpkg_contents VALUES ('field', 'features')",
        f"INSERT INTO gpkg_geometry_columns VALUES ('field', 'geom', {srs})",
        *([define] if define else []),
    )


def png_claiming(width: int, height: int) -> bytes:
    """A small PNG whose head, with its checksum right, claims to be large."""
    raw = bytearray(picture(kind="PNG"))
    raw[16:24] = struct.pack(">II", width, height)
    raw[29:33] = struct.pack(">I", zlib.crc32(bytes(raw[12:29])))
    return bytes(raw)


def jpeg_cut_after_its_thumbnail() -> bytes:
    """A JPEG that breaks off in its scan; the thumbnail in its EXIF is whole and has an end mark of its own."""
    thumbnail = picture()
    exif = b"Exif\x00\x00" + b"II*\x00\x08\x00\x00\x00\x00\x00\x00\x00\x00\x00" + thumbnail
    whole = picture()
    return (whole[:2] + b"\xff\xe1" + struct.pack(">H", len(exif) + 2) + exif + whole[2:])[:-40]
