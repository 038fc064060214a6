"""Files of a command: GeoJSON read with a refusal that says what is wrong; anything written whole or not at all."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from tepal.tables import Refused, Where


def read_bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as problem:
        raise Refused(
            f"the file cannot be read: {problem.strerror or problem}",
            where=path.name,
            rule="A readable file is needed.",
            step="Check the name and the rights.",
        ) from None


def read_geojson(path: Path) -> dict[str, Any]:
    return parse_geojson(read_bytes(path), path)


def parse_geojson(raw: bytes, path: Path) -> dict[str, Any]:
    try:
        data = json.loads(raw)
    except ValueError as problem:
        line = problem.lineno if isinstance(problem, json.JSONDecodeError) else None
        raise Refused(
            "this is no JSON", where=Where(path.name, line), rule="GeoJSON is needed here.", step="Export it again."
        ) from None
    if not isinstance(data, dict):
        raise Refused("this is no GeoJSON", where=path.name, rule="GeoJSON is an object.", step="Export it again.")
    return data


def write_whole(path: Path, text: str | bytes) -> None:
    """Whole or not at all."""
    raw = text.encode() if isinstance(text, str) else text
    part = path.with_name(path.name + ".part")
    try:
        part.write_bytes(raw)
        part.replace(path)
    except OSError as problem:
        part.unlink(missing_ok=True)
        raise Refused(
            f"the file cannot be written: {problem.strerror or problem}",
            where=path.name,
            rule="A folder that may be written to is needed.",
            step="Give another place.",
        ) from None
