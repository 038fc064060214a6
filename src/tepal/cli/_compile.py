"""`tepal plant --compile`: the tables, texts and drawings that an implementation without Python reads; golden cases."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tepal.cli._guide_today import today_texts
from tepal.plant import compiled, golden, texts
from tepal.tables import Refused, write_whole
from tepal.words import Words

if TYPE_CHECKING:
    from tepal.flora import Flora

LANGUAGES = ("en", "es")


def compile_to(folder: Path, flora: Flora) -> list[Path]:
    """Write `tables.json`, `texts.LANGUAGE.json`, `plates.LANGUAGE.json` and `golden.jsonl`; gives back their paths.

    Raises
    ------
    Refused
        If the folder cannot be made or written to.
    """
    files: dict[str, Iterable[Mapping[str, Any]]] = {"tables.json": [compiled(flora)]}
    for language in LANGUAGES:
        words = Words(language)
        files[f"texts.{language}.json"] = [texts(flora, words) | {"today": today_texts(flora, words)}]
        files[f"plates.{language}.json"] = [_plates(flora, words)]
    files["golden.jsonl"] = golden(flora)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, objects in files.items():
            write_whole(folder / name, "".join(f"{_line(value)}\n" for value in objects).encode())
    except OSError as problem:
        raise Refused(
            f"the tables cannot be written: {problem.strerror or problem}",
            where=str(folder),
            rule="A folder that can be written to is needed.",
            step="Name another.",
        ) from None
    return [folder / name for name in files]


def _plates(flora: Flora, words: Words) -> dict[str, Any]:
    """Drawings by character and state: title, alternative text, the length that 100 units stand for, the SVG."""
    from tepal.plates import draw_all

    found: dict[str, dict[str, Any]] = {}
    for plate in draw_all(flora, words=words):
        told = {
            "title": plate.title,
            "alt": plate.alt,
            "scale_mm": plate.scale_mm,
            "value": plate.value,
            "svg": plate.svg,
        }
        found.setdefault(plate.character, {})[plate.state] = {k: v for k, v in told.items() if v is not None}
    return {"language": words.language, "plates": found}


def _line(value: Mapping[str, Any]) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
