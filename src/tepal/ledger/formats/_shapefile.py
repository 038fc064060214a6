"""Shapefiles: a `.shp` with its siblings, or all of them in one ZIP."""

from __future__ import annotations

import io
import warnings
from collections.abc import Mapping
from pathlib import Path, PurePosixPath
from typing import Any

from tepal.ledger.formats._bytes import MAX_UNPACKED, read_bytes
from tepal.ledger.formats._features import Feature
from tepal.ledger.formats._frames import Reproject, to_lonlat
from tepal.tables import Refused, Where

PARTS = frozenset({".shp", ".shx", ".dbf", ".prj", ".cpg"})
MAX_FEATURES = 100_000
_LEAST_BYTES = 100  # the header of a .shp
# Kinds of shapes: lines and polygons (plain, with heights, with measures), patches; and points in number.
_OF_PARTS = frozenset({3, 5, 13, 15, 23, 25, 31})
_OF_POINTS = frozenset({8, 18, 28})


def read_shp(path: Path) -> list[Feature]:
    """The features of a `.shp` and the files beside it of the same name.

    Raises
    ------
    Refused
        If it cannot be read, or its reference system is not known.
    """
    parts = {".shp": read_bytes(path, most=MAX_UNPACKED)}
    for beside in sorted(path.parent.glob("*")):
        suffix = beside.suffix.casefold()
        if beside.stem == path.stem and suffix in PARTS - {".shp"} and beside.is_file() and beside.stat().st_size:
            parts[suffix] = read_bytes(beside, most=MAX_UNPACKED)
    return _features(parts, path.name)


def read_zipped(members: Mapping[str, bytes], *, file: str) -> list[Feature]:
    """The features of every Shapefile among the members of a ZIP.

    Raises
    ------
    Refused
        As `read_shp`.
    """
    groups: dict[str, dict[str, bytes]] = {}
    for name, raw in members.items():
        path = PurePosixPath(name)
        groups.setdefault(str(path.with_suffix("")), {})[path.suffix.casefold()] = raw
    out: list[Feature] = []
    for parts in groups.values():
        if ".shp" in parts:
            out += _features(parts, file)
    return out


def _features(parts: Mapping[str, bytes], file: str) -> list[Feature]:
    import shapefile

    shapefile.VERBOSE = False  # a command prints what we say, not what a library thinks of a ring
    shp = parts[".shp"]
    if len(shp) < _LEAST_BYTES or shp[:4] != b"\x00\x00\x27\x0a":
        raise Refused(
            "no Shapefile by its first bytes", where=file, rule="A .shp starts with 9994.", step="Export it again."
        )
    _check_counts(shp, file)
    reproject = _frame(parts.get(".prj"), file)
    # Without its .shx the shapes are read one after another; one that is torn must not be trusted for offsets.
    streams = {"shp": io.BytesIO(shp), "shx": None, "dbf": io.BytesIO(parts[".dbf"]) if ".dbf" in parts else None}
    out: list[Feature] = []
    try:
        # What the library warns of is refused below, or does not matter.
        with (
            warnings.catch_warnings(action="ignore"),
            shapefile.Reader(**streams, encoding=_encoding(parts.get(".cpg")), encodingErrors="replace") as reader,
        ):
            names = [one[0] for one in reader.fields[1:]] if streams["dbf"] else []
            records = reader.iterRecords() if names else iter(())
            for number, shape in enumerate(reader.iterShapes(), start=1):
                if number > MAX_FEATURES:
                    raise Refused(
                        f"more than {MAX_FEATURES} features", where=file, rule="A county has fewer.", step="Split it."
                    )
                record = next(records, None)
                properties = dict(zip(names, record, strict=True)) if record is not None else {}
                out.append(_feature(shape, properties, reproject, Where(file, None, f"shape {number}")))
    except Refused:
        raise
    except Exception as problem:
        # A torn Shapefile makes the library stumble in many ways; each means the same to the person.
        said = " ".join(str(problem).split())[:100]
        raise Refused(
            f"the Shapefile cannot be read: {said or type(problem).__name__}",
            where=file,
            rule="A Shapefile is a whole .shp with its .dbf and .prj.",
            step="Export it again.",
        ) from None
    return out


def _check_counts(shp: bytes, file: str) -> None:
    """Refuse a record that claims more parts or points than it has bytes for: the library would make room for them.

    Raises
    ------
    Refused
        At the first such record.
    """
    at, number = _LEAST_BYTES, 0
    while at + 12 <= len(shp):
        number += 1
        length = 2 * int.from_bytes(shp[at + 4 : at + 8])
        body = shp[at + 8 : at + 8 + length]
        kind = int.from_bytes(body[:4], "little")
        first, second = (int.from_bytes(body[place : place + 4], "little") for place in (36, 40))
        needs = 44 + 4 * first + 16 * second if kind in _OF_PARTS else 40 + 16 * first if kind in _OF_POINTS else 4
        if len(body) < length or length < needs:
            raise Refused(
                f"the Shapefile cannot be read: shape {number} claims {needs} bytes and has {len(body)}",
                where=Where(file, None, f"shape {number}"),
                rule="A Shapefile is a whole .shp with its .dbf and .prj.",
                step="Export it again.",
            )
        at += 8 + length


def _feature(shape: Any, properties: Mapping[str, Any], reproject: Reproject | None, where: Where) -> Feature:
    import shapely

    if shape.shapeType == 0:
        return Feature(where, None, properties, problem="no shape was drawn")
    try:
        drawn = shapely.geometry.shape(shape.__geo_interface__)
        if reproject is not None:
            drawn = reproject(drawn)
        return Feature(where, shapely.geometry.mapping(drawn), properties)
    except Exception as problem:
        said = " ".join(str(problem).split())[:100]
        return Feature(where, None, properties, problem=said or type(problem).__name__)


def _frame(prj: bytes | None, file: str) -> Reproject | None:
    # Without a .prj only degrees can be meant: coordinates beyond them are refused with the shape.
    text = (prj or b"").decode("utf-8", "replace").strip()
    return to_lonlat(text, where=file) if text else None


def _encoding(cpg: bytes | None) -> str:
    name = (cpg or b"").decode("ascii", "replace").strip()
    try:
        "".encode(name or "utf-8")
    except (LookupError, ValueError):
        return "utf-8"
    return name or "utf-8"
