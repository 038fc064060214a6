"""The letter as a tagged PDF (PDF/UA-1), set by typst from JSON."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date, datetime, timezone
from importlib.resources import files
from typing import Any

from tepal.letter._fonts import folders
from tepal.letter._ink import INK, MADDER, RULE, SOFT
from tepal.letter._map import Drawn
from tepal.letter._sheet import Sheet

MOST_PAGES = 2


def pdf(sheet: Sheet, drawn: Drawn | None, *, wide: bool, as_of: date) -> bytes:
    """The letter on one or two pages; the same data give the same bytes.

    Where citations would fill a third page the longest are cut short, and if need be left to the record.
    """
    import typst

    given = asdict(sheet) | {
        "map": None
        if drawn is None
        else {"svg": drawn.svg, "alt": drawn.alt, "width": drawn.width, "wide": wide},
        "colours": {"ink": INK, "soft": SOFT, "rule": RULE, "accent": MADDER},
        "whys_behind": False,
        "behind_shown": bool(sheet.grids or sheet.behind or sheet.sources),
    }
    source = files("tepal.letter").joinpath("letter.typ").read_bytes()
    fonts = list(folders())

    def lands(label: str, inputs: dict[str, str]) -> int:
        found = typst.query(
            source, label, field="value", one=True, font_paths=fonts, ignore_system_fonts=True, sys_inputs=inputs
        )
        return int(found)

    # The letter itself belongs on one page. Reasons for the later steps move behind it where that is what it takes.
    moved = _inputs(given | {"whys_behind": True})
    whys_behind = lands("<closes>", _inputs(given)) > 1 and lands("<closes>", moved) == 1
    for shortened in _shorter(given | {"whys_behind": whys_behind}):
        inputs = _inputs(shortened)
        if lands("<pages>", inputs) <= MOST_PAGES:
            break
    noon = datetime(as_of.year, as_of.month, as_of.day, 12, tzinfo=timezone.utc)
    made = typst.compile(
        source,
        font_paths=fonts,
        ignore_system_fonts=True,
        sys_inputs=inputs,
        format="pdf",
        pdf_standards=["ua-1"],
        timestamp=int(noon.timestamp()),
    )
    if not isinstance(made, bytes):
        raise RuntimeError("typst gave no PDF")
    return made


def _inputs(given: dict[str, Any]) -> dict[str, str]:
    return {"data": json.dumps(given, ensure_ascii=False, separators=(",", ":"))}


def _shorter(given: dict[str, Any]) -> list[dict[str, Any]]:
    sources = given["sources"]
    cut = [text if len(text) <= 70 else text[:69].rstrip() + "…" for text in sources]
    return [given, given | {"sources": cut}, given | {"sources": cut[:12]}, given | {"sources": (), "behind": given["behind"][:1]}]
