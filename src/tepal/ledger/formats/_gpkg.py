"""GeoPackage: the feature tables of an SQLite file, read without writing a byte beside it."""

from __future__ import annotations

import sqlite3
import struct
from collections.abc import Iterator, Mapping
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

from tepal.ledger.formats._bytes import MAX_UNPACKED
from tepal.ledger.formats._carried import FIELD
from tepal.ledger.formats._features import Feature
from tepal.ledger.formats._frames import Reproject, to_lonlat
from tepal.tables import Refused, Where

_MAGIC = b"SQLite format 3\x00"
_ENVELOPE_BYTES = {0: 0, 1: 32, 2: 48, 3: 48, 4: 64}
_EMPTY, _EXTENDED, _LITTLE = 0x10, 0x20, 0x01
MAX_FEATURES = 100_000
_MAX_VALUE = 50_000_000
_MAX_STEPS = 2_000  # of 100,000 operations each: some seconds


def read_gpkg(path: Path) -> list[Feature]:
    """The features of all feature tables, in longitude and latitude.

    The file is opened read-only and as immutable; views, virtual tables and functions in its schema are not run.

    Raises
    ------
    Refused
        If it is no GeoPackage by its first bytes, is torn, is open in a program that has not yet written it back, or
        a table is in no known reference system.
    """
    _check_file(path)
    steps = iter(range(_MAX_STEPS))
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro&immutable=1", uri=True)) as database:
            database.text_factory = lambda raw: raw.decode("utf-8", "replace")
            database.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, _MAX_VALUE)
            database.execute("PRAGMA trusted_schema = OFF")
            database.execute("PRAGMA cell_size_check = ON")
            database.set_progress_handler(lambda: next(steps, None) is None, 100_000)
            features: list[Feature] = []
            for layer in _layers(database, path.name):
                features += _features(database, layer, path.name, MAX_FEATURES - len(features))
            return features
    except (sqlite3.Error, OverflowError, MemoryError) as problem:
        raise _broken(str(problem) or type(problem).__name__, path.name) from None


def _check_file(path: Path) -> None:
    try:
        with path.open("rb") as file:
            first = file.read(len(_MAGIC))
        size = path.stat().st_size
        unwritten = path.with_name(path.name + "-wal")
        waiting = unwritten.exists() and unwritten.stat().st_size > 0
    except OSError as problem:
        raise _broken(problem.strerror or str(problem), path.name) from None
    if first != _MAGIC:
        raise Refused(
            "no GeoPackage by its first bytes" if first else "nothing in it",
            where=path.name,
            rule="A GeoPackage is an SQLite file.",
            step="Export it again as GeoPackage.",
        )
    if size > MAX_UNPACKED:
        raise Refused(f"{size} bytes", where=path.name, rule=f"At most {MAX_UNPACKED} are read.", step="Split it.")
    if waiting:
        raise Refused(
            f"{unwritten.name} lies beside it",
            where=path.name,
            rule="A GeoPackage is read when no program has it open.",
            step="Close it there, then take it.",
        )


def _layers(database: sqlite3.Connection, file: str) -> list[tuple[str, str, Reproject | None]]:
    """Table, geometry column and way to longitude and latitude of each feature table."""
    rows = database.execute(
        "SELECT c.table_name, g.column_name, g.srs_id, s.organization, s.organization_coordsys_id, s.definition"
        " FROM gpkg_contents c JOIN gpkg_geometry_columns g ON g.table_name = c.table_name"
        " LEFT JOIN gpkg_spatial_ref_sys s ON s.srs_id = g.srs_id"
        " JOIN sqlite_master m ON m.name = c.table_name AND m.type = 'table' AND m.sql NOT LIKE 'CREATE VIRTUAL%'"
        " WHERE c.data_type = 'features' ORDER BY c.table_name"
    ).fetchall()
    if not rows:
        raise Refused(
            "no feature table", where=file, rule="A GeoPackage has a table of features.", step="Export a layer."
        )
    return [(str(table), str(column), _frame(str(table), srs, file)) for table, column, *srs in rows]


def _frame(table: str, srs: list[Any], file: str) -> Reproject | None:
    number, organization, code, definition = srs
    if number == 4326:
        return None
    where = Where(file, None, f"layer {table}")
    if number in (-1, 0) or (organization is None and definition is None):
        raise Refused(
            f"reference system {number}",
            where=where,
            rule="The places of a layer are in a reference system that is named.",
            step="Export in WGS84 (EPSG:4326).",
        )
    known = str(organization).upper() in {"EPSG", "ESRI"} and isinstance(code, int)
    return to_lonlat(f"{organization}:{code}" if known else str(definition), where=where)


def _features(
    database: sqlite3.Connection, layer: tuple[str, str, Reproject | None], file: str, most: int
) -> Iterator[Feature]:
    table, column, reproject = layer
    quoted = '"' + table.replace('"', '""') + '"'
    cursor = database.execute(f"SELECT * FROM {quoted}")
    names = [one[0] for one in cursor.description]
    if column not in names:
        raise _broken(f"no column {column!r} in {table!r}", file)
    at = names.index(column)
    for number, row in enumerate(cursor, start=1):
        if number > most:
            raise Refused(
                f"more than {MAX_FEATURES} features", where=file, rule="A county has fewer.", step="Split it."
            )
        where = Where(file, None, f"{table} {number}")
        said = row[names.index(FIELD)] if FIELD in names else None
        if isinstance(said, str) and row[at] is None:
            yield Feature(where, None, {}, carried=said)
            continue
        properties = {name: value for name, value in zip(names, row, strict=True) if isinstance(value, (str, int))}
        yield replace(_feature(row[at], properties, reproject, where), carried=said if isinstance(said, str) else None)


def _feature(blob: Any, properties: Mapping[str, Any], reproject: Reproject | None, where: Where) -> Feature:
    import shapely

    try:
        shape = shapely.from_wkb(_wkb(blob))
        if reproject is not None:
            shape = reproject(shape)
        return Feature(where, shapely.geometry.mapping(shape), properties)
    except (ValueError, TypeError, NotImplementedError, shapely.errors.ShapelyError) as problem:
        said = " ".join(str(problem).split())[:100]
        return Feature(where, None, properties, problem=said or type(problem).__name__)


def _wkb(blob: Any) -> bytes:
    """The geometry behind the header of a GeoPackage's binary (OGC 12-128r18, 2.1.3); ValueError if there is none."""
    if not isinstance(blob, bytes) or len(blob) < 8 or blob[:2] != b"GP":
        raise ValueError("no GeoPackage geometry")
    flags = blob[3]
    envelope = _ENVELOPE_BYTES.get(flags >> 1 & 7)
    if envelope is None or flags & _EXTENDED:
        raise ValueError("a kind of GeoPackage geometry that is not read")
    if flags & _EMPTY:
        raise ValueError("an empty geometry")
    # The header's own reference system must not say otherwise than the table's; an honest writer repeats it.
    struct.unpack_from("<i" if flags & _LITTLE else ">i", blob, 4)
    return blob[8 + envelope :]


def _broken(said: str, file: str) -> Refused:
    return Refused(
        f"the GeoPackage cannot be read: {said}",
        where=file,
        rule="A GeoPackage is a whole SQLite file with the tables of its standard.",
        step="Export it again.",
    )
