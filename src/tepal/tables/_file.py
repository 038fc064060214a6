"""Files: read up to a limit or refused, the JSON object in one, and written whole or not at all."""

from __future__ import annotations

import json
from contextlib import suppress
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


def write_whole(path: Path, raw: bytes) -> None:
    """Write a file so that it is there whole or, if that fails, as it was before.

    Raises
    ------
    OSError
        If it cannot be written; whoever asked says what was to be written and where else it could go.
    """
    part = path.with_name(path.name + ".part")
    try:
        part.write_bytes(raw)
        part.replace(path)
    except BaseException:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        raise


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
