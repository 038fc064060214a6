"""The letter as a tagged PDF (PDF/UA-1), set by typst from JSON."""

from __future__ import annotations

import io
import json
from base64 import b64decode
from collections.abc import Callable, Sequence
from dataclasses import asdict
from datetime import date
from importlib.resources import files
from typing import Any

from tepal.letter._ink import INK, MADDER, RULE, SOFT
from tepal.letter._map import Drawn
from tepal.letter._runs import clip
from tepal.letter._setting import fonts, set_pdf
from tepal.letter._sheet import Picture, Sheet

MOST_PAGES = 2


def pdf(sheet: Sheet, maps: Sequence[Drawn | None], *, wide: bool, as_of: date) -> bytes:
    """The letter on one or two pages; the same data give the same bytes.

    `maps`: the map at the height wanted, then lower.
    Where citations would fill a third page the longest are cut short, and if need be left to the record.
    """
    import typst

    given = asdict(sheet) | {
        "colours": {"ink": INK, "soft": SOFT, "rule": RULE, "accent": MADDER},
        "care_behind": False,
        "whys_shown": True,
        "why_nots": True,
        "behind_shown": bool(sheet.leaf or sheet.grids or sheet.behind or sheet.sources or sheet.dont_more.lines),
        "leaf": None if sheet.leaf is None else _photo(sheet.leaf),
    }
    source = files("tepal.letter").joinpath("letter.typ").read_bytes()

    def lands(tried: dict[str, Any]) -> dict[str, int]:
        """The pages on which what to do, the cautions and the signature end, and how many pages there are."""
        found: list[dict[str, int]] = json.loads(
            typst.query(source, "<pages>", "value", font_paths=fonts(), sys_inputs=_inputs(tried))
        )
        return found[0]

    # The letter itself belongs on one page. Reasons go behind it, then the map shrinks, where that is what it takes.
    tries = [
        given | {"map": _placed(drawn, wide), "whys_behind": behind}
        for drawn, behind in [(maps[0], False)] + [(drawn, True) for drawn in maps]
    ]
    places = [lands(tried) for tried in tries]
    # The note that points to the cautions stands only where they lie a page further on.
    tries = [
        tried | {"care_behind": place["asks"] < place["cares"]} for tried, place in zip(tries, places, strict=True)
    ]
    best = [
        tried
        for wanted in ("closes", "cares", "asks")
        for tried, place in zip(tries, places, strict=True)
        if place[wanted] == 1
    ]
    given = _that_fits([*best, tries[-1]], lands)
    return set_pdf(source, _inputs(given), as_of)


def _that_fits(best: Sequence[dict[str, Any]], lands: Callable[[dict[str, Any]], dict[str, int]]) -> dict[str, Any]:
    """The first of the layouts that keeps to the pages there are, with as little left out as may be."""
    shortened: dict[str, Any] = {}
    for i, layout in enumerate(best):
        noted = layout["care_behind"] and lands(layout)["note"] == 1
        if layout["care_behind"] and not noted and i < len(best) - 1:
            continue  # a note that would itself stand on the next page points nowhere: the next layout has a lower map
        for shortened in _shorter(layout | {"care_behind": noted}):
            if lands(shortened)["pages"] <= MOST_PAGES:
                return shortened
    return shortened


def _placed(drawn: Drawn | None, wide: bool) -> dict[str, Any] | None:
    return None if drawn is None else {"svg": drawn.svg, "alt": drawn.alt, "width": drawn.width, "wide": wide}


def _photo(photo: Picture) -> dict[str, str]:
    """A JPEG travels to typst as text within a drawing: its JSON has no bytes."""
    from PIL import Image

    w, h = Image.open(io.BytesIO(b64decode(photo.jpeg))).size
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {w} {h}">'
        f'<image width="{w}" height="{h}" href="data:image/jpeg;base64,{photo.jpeg}"/></svg>'
    )
    return {"head": photo.head, "svg": svg, "says": photo.says}


def _inputs(given: dict[str, Any]) -> dict[str, str]:
    return {"data": json.dumps(given, ensure_ascii=False, separators=(",", ":"))}


def _shorter(given: dict[str, Any]) -> list[dict[str, Any]]:
    """The same letter with less and less behind it; what to do, what not to do and the cautions always stay whole."""
    sources = given["sources"]
    behind = given["behind"]
    steps: list[dict[str, Any]] = [
        {},
        {"sources": [clip(text, 60) for text in sources]},
        # All of them or none: some of a list in the order of the alphabet would name whichever come first in it.
        {"sources": [given["sources_more"]] if sources else []},
        {"why_nots": False},
        {"behind": behind[:2]},
        {"grids": given["grids"][:1]},
        {"leaf": None},
        {"behind": behind[:1]},
        {"behind": []},
        {"whys_shown": False, "behind": behind[:1]},
        {"behind": []},
        {"grids": []},
    ]
    tries, now = [], given
    for step in steps:
        now = now | step
        tries.append(now)
    return tries
