"""The bytes of a file, never more than a limit, and the JSON object in them; or a refusal."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from tepal.tables._refused import Refused, Where

# Above any honest map or table of a county; a file above it is a mistake or an attack.
MAX_BYTES = 50_000_000


def read_bytes(path: Path | str, *, most: int = MAX_BYTES, name: str | None = None) -> bytes:
    """All of a file; `name` is what refusals call it, its own if not given.

    Raises
    ------
    Refused
        If it cannot be read, or has more than `most` bytes.
    """
    path = Path(path)
    shown = name or path.name
    try:
        size = path.stat().st_size
        raw = b"" if size > most else path.read_bytes()
    except (OSError, ValueError) as problem:  # a NUL in a name is a ValueError
        raise Refused(
            f"the file cannot be read: {getattr(problem, 'strerror', None) or problem}",
            where=shown,
            rule="A readable file is needed.",
            step="Check the name and the rights.",
        ) from None
    if size > most:
        raise Refused(f"{size} bytes", where=shown, rule=f"At most {most} are read.", step="Split the file.")
    return raw


def geojson_object(raw: bytes, *, file: str) -> dict[str, Any]:
    """The JSON object that the bytes of a GeoJSON file are; what it says is for `tepal.ground` to check.

    Raises
    ------
    Refused
        If they are no JSON object of finite numbers.
    """
    try:
        data = json.loads(raw, parse_constant=_no_constant)
    except json.JSONDecodeError as problem:
        raise Refused(
            f"torn JSON: {problem.msg}",
            where=Where(file, problem.lineno),
            rule="GeoJSON is one JSON object.",
            step="Export it again.",
        ) from None
    except (ValueError, RecursionError):  # no Unicode, no finite number, or nested without end
        raise Refused(
            "no JSON text", where=file, rule="GeoJSON is UTF-8 text of finite numbers.", step="Export it again."
        ) from None
    if not isinstance(data, dict):
        raise Refused("no JSON object", where=file, rule="GeoJSON is one JSON object.", step="Export it again.")
    return data


def _no_constant(name: str) -> float:
    raise ValueError(name)
