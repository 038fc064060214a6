"""Each row of the record looked at by itself: does it still say what it said when it came in?"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
from typing import Any

from pydantic import ValidationError

from tepal.ledger._append_only import FORGOTTEN
from tepal.ledger._bodies import BODIES
from tepal.ledger._ids import canonical
from tepal.ledger._values import STORED
from tepal.ledger._weather import batch_from_rows
from tepal.ledger.keeping._findings import Seen
from tepal.ledger.keeping._named import ORIGINALS, originals_named
from tepal.tables import Refused
from tepal.words import Words

_HASH = re.compile(r"[0-9a-f]{64}\Z")
_POINTS = {"stop": ("walk",), "plant": ("stop",), "photo": ("of",), "sound": ("of",), "sample": ("of",)}
"""Fields by which a kind points at another entry."""


def look_at_entries(rows: Iterable[Mapping[str, Any]], seen: Seen, words: Words) -> None:
    """Every entry: can it be read, is its hash that of what it says, is what was forgotten marked as it must be?"""
    for row in rows:
        seen.entries[row["id"]] = (row["seq"], row["site"], row["kind"])
        seen.places.append(row["seq"])
        if row["amends"] is not None:
            seen.amending.append((row["id"], row["amends"]))
        restore = words.t("Take it from a backup: restore one under another name and compare.")
        try:
            body = json.loads(row["body"])
            BODIES[row["kind"]].model_validate(body, context=STORED)
            datetime.fromisoformat(row["made_at"])
            datetime.fromisoformat(row["got_at"])
        except (ValidationError, ValueError, KeyError, TypeError, RecursionError) as problem:
            reason = problem.errors(include_url=False)[0]["msg"] if isinstance(problem, ValidationError) else problem
            what = words.t(
                "Entry {id} at place {n} cannot be read: {reason}.", id=row["id"], n=row["seq"], reason=reason
            )
            seen.found("entry_unreadable", row["id"], what, restore)
            continue
        if row.get("forgotten") or row["kind"] == "forgotten":
            seen.forgotten += 1
            _look_at_tombstone(row, body, seen, words)
        elif _hash(row, body) != row["hash"]:
            what = words.t(
                "Entry {id} at place {n} no longer says what it said when it came in.", id=row["id"], n=row["seq"]
            )
            seen.found("entry_changed", row["id"], what, restore)
        for photo in originals_named(row["kind"], row["body"]):
            seen.photos.setdefault(photo, (row["id"], row["got_at"]))
        if row["kind"] in ORIGINALS and isinstance(body.get("size_bytes"), int):
            seen.sizes.setdefault(body["sha256"], body["size_bytes"])
        for name in _POINTS.get(row["kind"], ()):
            if isinstance(body.get(name), str):
                seen.points.append((row["id"], name, body[name]))


def look_at_batches(rows: Iterable[Mapping[str, Any]], seen: Seen, words: Words) -> None:
    """Every batch of weather: its id is made from what it says."""
    for row in rows:
        seen.places.append(row["seq"])
        seen.batches += 1
        same = _reads(lambda row=row: _batch(row))  # type: ignore[misc]
        if not same:
            what = words.t(
                "Batch {id} of weather of {station}, at place {n}, no longer says what it said when it came in.",
                id=row["id"],
                station=row["station"],
                n=row["seq"],
            )
            step = words.t("Take it from a backup; or take the station's file in again with --corrects.")
            seen.found("weather_changed", row["id"], what, step)


def _batch(row: Mapping[str, Any]) -> bool:
    batch = batch_from_rows(
        row["station"],
        json.loads(row["rows"]),
        lon=row["lon"],
        lat=row["lat"],
        corrects=bool(row["corrects"]),
        seq=row["seq"],
    )
    return bool(batch.id == row["id"] and len(batch.days) == row["days"])


def _reads(what: Callable[[], bool]) -> bool:
    try:
        return what()
    except (ValueError, TypeError, KeyError, Refused):
        return False


def _hash(row: Mapping[str, Any], body: Any) -> str:
    """The hash as it was made when the entry came in, from what the row holds, whatever this version makes of it."""
    plain = {name: row[name] for name in ("id", "kind", "site", "by", "made_at", "amends") if row[name] is not None}
    return hashlib.sha256(canonical({**plain, "body": body}).encode()).hexdigest()


def _look_at_tombstone(row: Mapping[str, Any], body: Any, seen: Seen, words: Words) -> None:
    kind = row["kind"]
    whole = _reads(lambda: bool(datetime.fromisoformat(row["forgotten"]))) and bool(_HASH.match(row["hash"]))
    if kind == "forgotten":
        whole = whole and isinstance(body, dict) and body.keys() == {"was"} and body["was"] in BODIES
    else:
        whole = whole and FORGOTTEN in (row["by"] + row["body"])
    if not whole:
        what = words.t(
            "Entry {id} at place {n} is marked as forgotten, but is not what forgetting leaves.",
            id=row["id"],
            n=row["seq"],
        )
        step = words.t("If the person's data still stand in it, run `tepal forget NAME` again.")
        seen.found("tombstone", row["id"], what, step)
