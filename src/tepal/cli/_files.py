"""Files of a command: GeoJSON read with a refusal that says what is wrong; anything written whole or not at all."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from tepal import tables
from tepal.tables import Refused, geojson_object, read_bytes


def read_geojson(path: Path) -> dict[str, Any]:
    return geojson_object(read_bytes(path), file=path.name)


def write_whole(path: Path, text: str | bytes) -> None:
    """Whole or not at all."""
    try:
        tables.write_whole(path, text.encode() if isinstance(text, str) else text)
    except OSError as problem:
        raise Refused(
            f"the file cannot be written: {problem.strerror or problem}",
            where=path.name,
            rule="A folder that may be written to is needed.",
            step="Give another place.",
        ) from None
