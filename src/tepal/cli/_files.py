"""Files of a command: GeoJSON read with a refusal that says what is wrong; anything written whole or not at all."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from tepal.tables import Refused, geojson_object, read_bytes


def read_geojson(path: Path) -> dict[str, Any]:
    return geojson_object(read_bytes(path), file=path.name)


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
