"""Entries as lines of JSON: the faithful form."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping
from contextlib import suppress
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

from tepal.ledger._entry import Entry, body_plain, entry_from_plain
from tepal.ledger._ids import canonical, row_id
from tepal.ledger.formats._drafts import Defaults
from tepal.tables import Refused, Where, read_bytes

MAX_BYTES = 1_000_000_000
MAX_LINE = 10_000_000


def read_entries(path: Path, defaults: Defaults) -> tuple[list[tuple[Entry, Where]], list[Refused]]:
    """The entries of a file, in order, and the lines that were refused.

    A line without `id` gets one from what it says; without `made_at`, noon of its `on`; without `site` or `by`, the
    defaults. `seq` and `got_at` are the store's own: what a line says of them is not used.
    """
    good: list[tuple[Entry, Where]] = []
    refused: list[Refused] = []
    equal: Counter[str] = Counter()
    # Not splitlines: U+2028 inside a text is no end of line.
    for number, line in enumerate(read_bytes(path, most=MAX_BYTES).removeprefix(b"\xef\xbb\xbf").split(b"\n"), start=1):
        if not line.strip():
            continue
        where = Where(path.name, number)
        try:
            good.append((_entry(_object(line, where), where, defaults, equal), where))
        except Refused as problem:
            refused.append(problem)
    return good, refused


def _object(line: bytes, where: Where) -> dict[str, Any]:
    if len(line) > MAX_LINE:
        raise Refused(
            f"{len(line)} bytes", where=where, rule=f"A line has at most {MAX_LINE}.", step="Correct the line."
        )
    try:
        data = json.loads(line.decode(), parse_constant=_no_constant, object_pairs_hook=_no_doubles)
    except json.JSONDecodeError as problem:
        raise Refused(
            f"torn JSON: {problem.msg}", where=where, rule="Each line is one JSON object.", step="Correct the line."
        ) from None
    except (UnicodeDecodeError, RecursionError) as problem:
        raise Refused(
            f"no JSON text: {type(problem).__name__}",
            where=where,
            rule="A line is UTF-8 text, not deeply nested.",
            step="Correct the line.",
        ) from None
    except ValueError as problem:
        raise Refused(
            str(problem), where=where, rule="JSON has no such thing here.", step="Correct the line."
        ) from None
    if not isinstance(data, dict):
        raise Refused("no JSON object", where=where, rule="Each line is one JSON object.", step="Correct the line.")
    return data


def _entry(data: dict[str, Any], where: Where, defaults: Defaults, equal: Counter[str]) -> Entry:
    data = {key: value for key, value in data.items() if key not in {"seq", "got_at"}}
    if data.get("site") is None and defaults.site is not None:
        data["site"] = defaults.site
    if data.get("by") is None and defaults.by is not None:
        data["by"] = defaults.by
    body = data.get("body")
    on = body.get("on") if isinstance(body, Mapping) else None
    if data.get("made_at") is None and isinstance(on, str):
        # Where `on` is no date, the body's own check says so.
        with suppress(ValueError):
            data["made_at"] = datetime.combine(date.fromisoformat(on), time(12), UTC)
    if data.get("id") is not None:
        return entry_from_plain(data, where=where)
    first = entry_from_plain({**data, "id": row_id("line", None, "")}, where=where)
    row = canonical([first.by, first.made_at.isoformat(), first.amends, body_plain(first.body)])
    key = canonical([first.kind, first.site, row])
    equal[key] += 1
    return first.model_copy(update={"id": row_id(first.kind, first.site, row, equal[key] - 1)})


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is no number")


def _no_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    out = dict(pairs)
    if len(out) != len(pairs):
        doubled = next(key for key, n in Counter(key for key, _ in pairs).items() if n > 1)
        raise ValueError(f"field {doubled!r} twice")
    return out
