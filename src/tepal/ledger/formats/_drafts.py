"""What the rows of a table say, before they are entries; and the words of the weed group that headers may use."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from typing import Any, NamedTuple

from tepal.ground import describe_place
from tepal.ledger._entry import Entry, body_plain, entry_from_plain
from tepal.ledger._ids import canonical, row_id
from tepal.ledger._sites import bare
from tepal.ledger.formats._columns import MISSING, Understood, Wanted, words_of
from tepal.ledger.formats._united_states import in_states, is_state
from tepal.tables import Refused, Row, Where

SITE = Wanted(
    "site", "site", ("site", "site name", "field", "field name", "farm field", "field id", "name of field", "location")
)
BY = Wanted(
    "by",
    "who saw it",
    ("by", "who", "observer", "scout", "scouted by", "recorder", "recorded by", "seen by whom", "person", "initials",
     "applicator", "applied by", "technician", "collector", "scout name"),
)  # fmt: skip
DATE = Wanted(
    "date",
    "date",
    ("date", "day", "on", "when", "date seen", "observed", "date observed", "date scouted", "scout date", "scouted",
     "scouting date", "date of visit", "visit date", "visited", "survey date", "date surveyed", "obs date",
     "observation date", "date sprayed", "spray date", "sprayed on", "date applied", "application date", "date done",
     "treatment date", "date treated", "date pulled", "collection date"),
)  # fmt: skip
WORDS = Wanted(
    "words",
    "remarks",
    ("words", "note", "notes", "remark", "remarks", "comment", "comments", "field notes", "notes comments",
     "comments notes", "observations", "description"),
)  # fmt: skip
ENTRY = Wanted("entry", "entry of a view", ("entry",))
LON = Wanted("lon", "longitude", ("lon", "long", "lng", "longitude", "long dd", "gps long", "gps lon", "longitude dd"))
LAT = Wanted("lat", "latitude", ("lat", "latitude", "lat dd", "gps lat", "latitude dd"))
PLACE = Wanted(
    "place",
    "place",
    ("place", "lat long", "lat lon", "lat/long", "lat/lon", "lat / long", "lat & long", "latlong", "lat lng",
     "long lat", "latitude longitude", "latitude/longitude", "gps", "gps coordinates", "gps location", "gps point",
     "coordinates", "coords", "pin", "pin drop", "map link", "location gps", "gps lat long", "location lat long"),
)  # fmt: skip
ERROR = Wanted("error_m", "error of the place", ("error", "gps error", "accuracy"), "m")

_ENOUGH = 200  # rows that show where a table is
NO_ID = row_id("draft", None, "")
_UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_YES = frozenset({"yes", "y", "true", "1", "ja", "si"})
_NO = frozenset({"no", "n", "false", "0"})


@dataclass(frozen=True, slots=True)
class LookForm:
    """A character by which plants are told: its states, or (without states) the unit of its number."""

    name: str
    states: tuple[str, ...] = ()
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """The words of a weed group: names of taxa (in `words_of` form) by code, and characters by name."""

    taxa: Mapping[str, str] = field(default_factory=dict)
    looks: Mapping[str, LookForm] = field(default_factory=dict)
    ingredients: frozenset[str] = frozenset()
    """Active ingredients by common name, in `words_of` form; none: whatever is named is taken for one."""

    def code(self, name: str) -> str | None:
        """The code of a taxon as people name it, or None."""
        words = words_of(name)
        if words in {"pigweed", "pigweeds", "unnamed", "unnamed pigweed", "amaranth", "amaranthus", "amaranthus sp"}:
            return "pigweed"
        return "other" if words == "other" else self.taxa.get(words)


@dataclass(frozen=True, slots=True)
class Defaults:
    """What stands where a file does not say it: site, person, day; and the last day that can have been."""

    site: str | None = None
    by: str | None = None
    on: date | None = None
    today: date | None = None
    station: str | None = None
    sites_in_us: Mapping[str, bool] = field(default_factory=dict)
    """Sites that the record knows, by `bare` id and name: are they in the United States?"""


@dataclass(frozen=True, slots=True)
class Draft:
    """A row's content: an entry but for its id, which needs to know of equal rows and of the ledger's sites."""

    kind: str
    site: str | None
    by: str | None
    on: date
    body: Mapping[str, Any]
    where: Where
    kept: str | None = None
    """What stood in columns that nothing was made of. It goes into the words, and not into what makes rows equal: a
    column that somebody added to a spreadsheet makes no new rows of the old ones."""
    id: str | None = None
    """Of the entry that a row of a view shows: it is not counted twice because the view came back."""


@dataclass(slots=True)
class TableDrafts:
    """The drafts of one table, the rows that were refused, and what was understood."""

    holds: str
    drafts: list[Draft]
    refused: list[Refused]
    said: list[str]


class Checked(NamedTuple):
    """A draft that broke no rule: an entry still without an id of its own."""

    entry: Entry
    where: Where
    kept: str | None = None


def checked(drafts: Iterable[Draft], *, by: str, refused: list[Refused]) -> list[Checked]:
    """Drafts as entries made at noon of their day; what breaks a rule is refused."""
    out = []
    for draft in drafts:
        made = datetime.combine(draft.on, time(12), UTC)
        data = {"kind": draft.kind, "site": draft.site, "by": draft.by or by, "made_at": made, "body": draft.body}
        try:
            entry = entry_from_plain({"id": draft.id or NO_ID, **data}, where=draft.where)
            out.append(Checked(entry, draft.where, draft.kept))
        except Refused as problem:
            refused.append(problem)
    return out


def with_ids(
    rows: Iterable[Checked], site_of: Callable[[str, Where], str], refused: list[Refused]
) -> list[tuple[Entry, Where]]:
    """Entries of one table with their ids by content; `site_of` gives the id of the site that a name means.

    A row of whose site `site_of` makes nothing is refused.
    """
    seen: Counter[tuple[str, str | None, str]] = Counter()
    out = []
    for entry, where, kept in rows:
        try:
            site = None if entry.site is None else site_of(entry.site, where)
        except Refused as problem:
            refused.append(problem)
            continue
        id = entry.id
        if id == NO_ID:
            key = (entry.kind, site, canonical(body_plain(entry.body)))
            id = row_id(*key, seen[key])
            seen[key] += 1
        body = entry.body
        if kept:
            body = body.model_copy(update={"words": "\n".join(filter(None, (body.words, kept)))})
        out.append((entry.model_copy(update={"site": site, "id": id, "body": body}), where))
    return out


def head(columns: Understood, row: Row, defaults: Defaults) -> tuple[str | None, str | None, date]:
    """Site, person and day of a row."""
    on = columns.day(row, "date") or defaults.on
    where = columns.where(row, "date")
    if on is None:
        raise Refused("no date", where=where, rule="Each row has its day.", step="Fill it in, or give --on DATE.")
    if defaults.today is not None and on > defaults.today:
        raise Refused(
            f"{on} has not been yet", where=where, rule="What is seen has happened.", step="Correct the date."
        )
    site = defaults.site or columns.text(row, "site")
    return site, columns.text(row, "by") or defaults.by, on


def in_us(columns: Understood, defaults: Defaults) -> bool:
    """Is a table about the United States, by what it says of state and place, by its sites, or by the whole record?"""
    table = columns.table
    states = [header for header in table.columns if words_of(header) in {"state", "st"}]
    told = {row.cells[header].strip() for row in table for header in states} - {""}
    if told:
        return all(is_state(text) for text in told)
    points = []
    for row in table.rows[:_ENOUGH]:
        try:
            point = place(columns, row)
        except Refused:
            continue
        if point is not None:
            points.append(point)
    if points:
        return all(in_states(*point) for point in points)
    names = {defaults.site} if defaults.site else {columns.text(row, "site") for row in table}
    known = {name: defaults.sites_in_us.get(bare(name)) for name in names if name is not None}
    if any(value is not None for value in known.values()):
        return all(value for value in known.values() if value is not None)
    return bool(defaults.sites_in_us) and all(defaults.sites_in_us.values())


def entry_shown(columns: Understood, row: Row) -> str | None:
    """The id of the entry that a row of a view of ours shows; another program's numbers mean nothing to us."""
    text = columns.text(row, "entry")
    return text if text is not None and _UUID.fullmatch(text) else None


def need_site(site: str | None, columns: Understood, row: Row) -> None:
    if site is None:
        raise Refused(
            "no site",
            where=columns.where(row, "site"),
            rule="Each row is of a site.",
            step="Add a column site, or give --site NAME.",
        )


def place(columns: Understood, row: Row) -> list[float] | None:
    """[lon, lat] of a row, from two columns or from one that has both; None where they are empty."""
    lon = columns.number(row, "lon", low=-180, high=180)
    lat = columns.number(row, "lat", low=-90, high=90)
    if (lon is None) != (lat is None):
        raise Refused(
            "half a place",
            where=columns.where(row, "lat" if lat is None else "lon"),
            rule="A place has longitude and latitude.",
            step="Fill in the other.",
        )
    if lon is not None and lat is not None:
        return [lon, lat]
    said = columns.text(row, "place")
    if said is None or said.casefold() in MISSING:
        return None
    claimed = describe_place(said)
    if claimed.point is None:
        why = f" {claimed.notes[0]}" if claimed.notes else ""
        raise Refused(
            f"place {said!r} was not understood",
            where=columns.where(row, "place"),
            rule=f"A place in one cell is two coordinates, as 41.512, -93.214, or a shared map link.{why}",
            step="Correct the cell; what is no coordinates goes into a column notes.",
        )
    return [claimed.point.lon, claimed.point.lat]


def yes_no(columns: Understood, row: Row, key: str) -> bool | None:
    raw = columns.text(row, key)
    if raw is None or raw.casefold() in {"unknown", "?", "na", "n/a"}:
        return None
    if raw.casefold() in _YES:
        return True
    if raw.casefold() in _NO:
        return False
    raise Refused(f"{raw!r}", where=columns.where(row, key), rule="It is yes, no or empty.", step="Correct the cell.")


def one_of(columns: Understood, row: Row, key: str, words: Mapping[str, str]) -> str | None:
    """The cell as one of the values of `words`, which is keyed by `words_of` form."""
    raw = columns.text(row, key)
    if raw is None:
        return None
    found = words.get(words_of(raw))
    if found is None:
        raise Refused(
            f"{columns.columns[key].wanted.says} is {raw!r}",
            where=columns.where(row, key),
            rule=f"It is one of {', '.join(dict.fromkeys(words.values()))}.",
            step="Correct the cell.",
        )
    return found


def present(**values: Any) -> dict[str, Any]:
    """The values that are given."""
    return {key: value for key, value in values.items() if value is not None}
