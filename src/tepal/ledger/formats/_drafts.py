"""What the rows of a table say, before they are entries; and the words of the weed group that headers may use."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from typing import Any

from tepal.ledger._entry import Entry, body_plain, entry_from_plain
from tepal.ledger._ids import canonical, row_id
from tepal.ledger.formats._columns import Understood, Wanted, words_of
from tepal.tables import Refused, Row, Where, parse_date

SITE = Wanted("site", "site", ("site", "site name", "field", "field name"))
BY = Wanted("by", "who saw it", ("by", "who", "observer", "scout", "recorder", "seen by whom", "person"))
DATE = Wanted("date", "date", ("date", "day", "on", "when", "date seen", "observed", "date observed"))
WORDS = Wanted("words", "remarks", ("words", "note", "notes", "remark", "remarks", "comment", "comments"))
ENTRY = Wanted("entry", "entry of a view", ("entry",))
LON = Wanted("lon", "longitude", ("lon", "long", "lng", "longitude"))
LAT = Wanted("lat", "latitude", ("lat", "latitude"))
ERROR = Wanted("error_m", "error of the place", ("error", "gps error", "accuracy"), "m")

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


@dataclass(frozen=True, slots=True)
class Draft:
    """A row's content: an entry but for its id, which needs to know of equal rows and of the ledger's sites."""

    kind: str
    site: str | None
    by: str | None
    on: date
    body: Mapping[str, Any]
    where: Where
    id: str | None = None
    """Of the entry that a row of a view shows: it is not counted twice because the view came back."""


@dataclass(slots=True)
class TableDrafts:
    """The drafts of one table, the rows that were refused, and what was understood."""

    holds: str
    drafts: list[Draft]
    refused: list[Refused]
    said: list[str]


def checked(drafts: Iterable[Draft], *, by: str, refused: list[Refused]) -> list[tuple[Entry, Where]]:
    """Drafts as entries made at noon of their day, still without ids of their own; what breaks a rule is refused."""
    out = []
    for draft in drafts:
        made = datetime.combine(draft.on, time(12), UTC)
        data = {"kind": draft.kind, "site": draft.site, "by": draft.by or by, "made_at": made, "body": draft.body}
        try:
            out.append((entry_from_plain({"id": draft.id or NO_ID, **data}, where=draft.where), draft.where))
        except Refused as problem:
            refused.append(problem)
    return out


def with_ids(entries: Iterable[tuple[Entry, Where]], site_of: Callable[[str], str]) -> list[tuple[Entry, Where]]:
    """Entries of one table with their ids by content; `site_of` gives the id of the site that a name means."""
    seen: Counter[tuple[str, str | None, str]] = Counter()
    out = []
    for entry, where in entries:
        site = None if entry.site is None else site_of(entry.site)
        if entry.id != NO_ID:
            out.append((entry.model_copy(update={"site": site}), where))
            continue
        key = (entry.kind, site, canonical(body_plain(entry.body)))
        out.append((entry.model_copy(update={"site": site, "id": row_id(*key, seen[key])}), where))
        seen[key] += 1
    return out


def head(columns: Understood, row: Row, defaults: Defaults) -> tuple[str | None, str | None, date]:
    """Site, person and day of a row."""
    raw = columns.text(row, "date")
    where = columns.where(row, "date")
    on = parse_date(raw, where) if raw else defaults.on
    if on is None:
        raise Refused("no date", where=where, rule="Each row has its day.", step="Fill it in, or give --on DATE.")
    if defaults.today is not None and on > defaults.today:
        raise Refused(
            f"{on} has not been yet", where=where, rule="What is seen has happened.", step="Correct the date."
        )
    site = defaults.site or columns.text(row, "site")
    return site, columns.text(row, "by") or defaults.by, on


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
    """[lon, lat] of a row; None where both are empty."""
    lon = columns.number(row, "lon", low=-180, high=180)
    lat = columns.number(row, "lat", low=-90, high=90)
    if (lon is None) != (lat is None):
        raise Refused(
            "half a place",
            where=columns.where(row, "lat" if lat is None else "lon"),
            rule="A place has longitude and latitude.",
            step="Fill in the other.",
        )
    return None if lon is None or lat is None else [lon, lat]


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
