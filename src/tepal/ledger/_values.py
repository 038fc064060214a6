"""The small types that entry bodies are made of: each refuses what could not be meant."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime, timedelta, timezone
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, PlainValidator, ValidationInfo

FIRST_YEAR, LAST_YEAR = 1900, 2200
MAX_COUNT = 10_000_000
MAX_POSITIONS = 200_000
MAX_LEAVES = 50
STORED: Mapping[str, bool] = {"stored": True}
"""Validation context of what a ledger gives back: dear checks that were made when it was taken are left out."""
LATEST_ZONE = timezone(timedelta(hours=-10))  # Hawaii, the last of the United States to reach an hour

_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
# A mark that turns the direction of writing can make a name read as another; in one line there is no need for it.
_TURNS = re.compile(r"[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
_LINE_BREAK = re.compile(r"[\r\n\t]")
_CODE = re.compile(r"(pigweed|other|[A-Z][A-Z0-9_]{2,11}(x[A-Z][A-Z0-9_]{2,11})?)\Z")
_SHA256 = re.compile(r"[0-9a-f]{64}\Z")
_UUID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[1-8][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}\Z")
_GROUP = re.compile(r"(0|[1-9][0-9]?|unknown|NC)\Z")


class Broken(ValueError):
    """A rule between fields that is broken, told of the field that breaks it."""

    def __init__(self, field: str, value: object, rule: str) -> None:
        self.field, self.value = field, value
        super().__init__(rule)


class Part(BaseModel):
    """What every body and every part of one is: frozen, no unknown fields, no NaN."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, validate_default=False)


def _clean(value: str) -> str:
    if _CONTROL.search(value):
        raise ValueError("Text may not hold control signs.")
    try:
        value.encode("utf-8")
    except UnicodeEncodeError:
        raise ValueError("Text must be whole Unicode.") from None
    return value


def _one_line(value: str) -> str:
    value = _clean(value)
    if _LINE_BREAK.search(value) or value != value.strip():
        raise ValueError("It is one line without spaces at its ends.")
    if _TURNS.search(value):
        raise ValueError("It has no invisible marks that turn the direction of writing.")
    return value


def _code(value: str) -> str:
    if not _CODE.match(value):
        raise ValueError("A plant is named by its code (AMAPA, or AMAPAxAMATU for a cross), or pigweed, or other.")
    return value


def _hash(value: str) -> str:
    if not _SHA256.match(value):
        raise ValueError("A content hash is a SHA-256: 64 signs of 0-9 and a-f.")
    return value


def _identifier(value: str) -> str:
    lower = value.lower()
    if not _UUID.match(lower):
        raise ValueError("An id is a UUID (version 7 where a person makes an entry); a row from a file needs none.")
    return lower


def _group(value: str) -> str:
    if not _GROUP.match(value):
        raise ValueError("A site of action is its WSSA/HRAC group number, NC where it is not classified, or unknown.")
    return value


def _whole(value: object) -> object:
    # JSON written by a spreadsheet says 3.0 for 3; True and "3" are mistakes.
    if isinstance(value, float) and math.isfinite(value) and value == int(value):
        return int(value)
    return value


def _look(value: object) -> object:
    several = isinstance(value, (list, tuple))
    items: Sequence[object] = value if isinstance(value, (list, tuple)) else [value]
    if not 1 <= len(items) <= MAX_LEAVES:
        raise ValueError(f"A list of looks has 1 to {MAX_LEAVES} leaves.")
    for item in items:
        if isinstance(item, str) and 1 <= len(item) <= 60 and _one_line(item):
            continue
        if isinstance(item, bool) or not isinstance(item, (int, float)) or not math.isfinite(item):
            raise ValueError("A look is a state, a finite number, or a list of either.")
    return tuple(items) if several else value


def _as_date(value: object) -> object:
    if isinstance(value, datetime):
        raise ValueError("A date is written YYYY-MM-DD.")
    if isinstance(value, date):
        return value
    if isinstance(value, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", value):
        try:
            return date.fromisoformat(value)
        except ValueError:
            pass
    raise ValueError("A date is written YYYY-MM-DD and is on the calendar.")


def _as_moment(value: object) -> object:
    if isinstance(value, str):
        try:
            value = datetime.fromisoformat(value)
        except ValueError:
            value = None
    if not isinstance(value, datetime):
        raise ValueError("A moment is written 2026-06-14T09:30:00-05:00 (no zone means UTC).")
    # A whole number of seconds of offset is all that ISO 8601 text carries back.
    return value.replace(tzinfo=UTC) if value.tzinfo is None else value


def _as_latest_moment(value: object) -> object:
    moment = _as_moment(value)
    zoned = isinstance(moment, datetime) and not (isinstance(value, datetime) and value.tzinfo is None)
    if isinstance(value, str) and isinstance(moment, datetime):
        zoned = datetime.fromisoformat(value).tzinfo is not None
    return moment if zoned or not isinstance(moment, datetime) else moment.replace(tzinfo=LATEST_ZONE)


def _sane_year(value: date) -> date:
    if not FIRST_YEAR <= value.year <= LAST_YEAR:
        raise ValueError(f"The year lies between {FIRST_YEAR} and {LAST_YEAR}.")
    return value


Text = Annotated[str, Field(min_length=1, max_length=20_000), AfterValidator(_clean)]
Line = Annotated[str, Field(min_length=1, max_length=200), AfterValidator(_one_line)]
Code = Annotated[str, AfterValidator(_code)]
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Size = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=1e9)]
Positive = Annotated[float, Field(strict=True, allow_inf_nan=False, gt=0, le=1e9)]
Share = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=1)]
Bearing = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, lt=360)]
Height = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=500)]
Count = Annotated[int, BeforeValidator(_whole), Field(strict=True, ge=0, le=MAX_COUNT)]
Year = Annotated[int, BeforeValidator(_whole), Field(strict=True, ge=FIRST_YEAR, le=LAST_YEAR)]
YesNo = Annotated[bool, Field(strict=True)]
Day = Annotated[date, BeforeValidator(_as_date), AfterValidator(_sane_year)]
Moment = Annotated[datetime, BeforeValidator(_as_moment), AfterValidator(_sane_year)]
if TYPE_CHECKING:
    Look = str | int | float | tuple[str | int | float, ...]
else:
    # Pydantic warns when it writes a tuple that is one branch of a union; the validator has settled the type.
    Look = Annotated[Any, PlainValidator(_look)]
# A re-entry time without a zone is a local one; read as the latest it can mean, nobody is sent in too early.
LatestMoment = Annotated[datetime, BeforeValidator(_as_latest_moment), AfterValidator(_sane_year)]
Hash = Annotated[str, AfterValidator(_hash)]
Identifier = Annotated[str, AfterValidator(_identifier)]
Group = Annotated[str, AfterValidator(_group)]
Lon = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=-180, le=180)]
Lat = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=-90, le=90)]
Point = tuple[Lon, Lat]
Region = Literal["SE", "CB", "UM", "SP", "NE"]
Stage = Literal["cotyledon", "seedling_2-4_leaf", "vegetative", "reproductive", "mature_seed", "unknown"]

_DEPTH = {"Point": 0, "MultiPoint": 1, "LineString": 1, "MultiLineString": 2, "Polygon": 2, "MultiPolygon": 3}


def _positions(value: Any, depth: int) -> Any:
    if depth == 0:
        if not isinstance(value, Sequence) or isinstance(value, str) or not 2 <= len(value) <= 4:
            raise ValueError("A position is [longitude, latitude].")
        lon, lat = value[0], value[1]
        for number, limit in ((lon, 180), (lat, 90)):
            if isinstance(number, bool) or not isinstance(number, (int, float)) or not abs(number) <= limit:
                raise ValueError("A position is [longitude, latitude] in degrees.")
        # Heights from a receiver are dropped: nothing in the house uses them.
        return [float(lon), float(lat)]
    if not isinstance(value, Sequence) or isinstance(value, str) or not 1 <= len(value) <= MAX_POSITIONS:
        raise ValueError("Coordinates are nested lists of positions, none empty.")
    return [_positions(item, depth - 1) for item in value]


def _geometry(value: Any, kinds: tuple[str, ...]) -> dict[str, Any]:
    kind = value.get("type") if isinstance(value, Mapping) else None
    if kind not in kinds:
        raise ValueError(f"A GeoJSON geometry is needed: {' or '.join(kinds)}.")
    coordinates = _positions(value.get("coordinates"), _DEPTH[kind])
    lines = {"LineString": [coordinates], "MultiLineString": coordinates}.get(kind, ())
    if any(len(line) < 2 for line in lines):
        raise ValueError("A line has at least two positions.")
    return {"type": kind, "coordinates": coordinates}


def _area(value: Any, info: ValidationInfo) -> dict[str, Any]:
    if info.context is STORED:
        return dict(value)
    geometry = _geometry(value, ("Polygon", "MultiPolygon"))
    from tepal.ground import boundary_from_geojson  # shapely is slow to import and sites are few

    # The check is the point: it refuses what crosses itself or has no area. The text is kept as it was drawn.
    boundary_from_geojson(geometry, where="boundary")
    return geometry


def _any_geometry(value: Any) -> dict[str, Any]:
    return _geometry(value, tuple(_DEPTH))


def _track(value: Any) -> dict[str, Any]:
    return _geometry(value, ("LineString", "MultiLineString"))


Area = Annotated[dict[str, Any], BeforeValidator(_area)]
Geometry = Annotated[dict[str, Any], BeforeValidator(_any_geometry)]
Track = Annotated[dict[str, Any], BeforeValidator(_track)]
