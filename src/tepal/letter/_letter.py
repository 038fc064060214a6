"""One letter in its three forms, from one record of what it says."""

from __future__ import annotations

from dataclasses import dataclass

from tepal.letter._data import LetterData
from tepal.letter._html import html
from tepal.letter._map import HIGH, draw, is_wide
from tepal.letter._pdf import pdf
from tepal.letter._phone import phone
from tepal.letter._sheet import sheet
from tepal.words import Words

# Points on paper. A wide site takes the whole width of the text; else the map stands beside the opening.
_SIDE = 250.0
_WIDE = 504.0
_WIDE_A4 = 487.0
# The heights that the ground may have, the one wanted first: a lower map may bring the whole letter onto one page.
_HEIGHTS = (HIGH, 172.0, 130.0)


@dataclass(frozen=True, slots=True)
class Letter:
    """A letter ready to be handed over: a tagged PDF, a self-contained page, a text for the phone."""

    pdf: bytes
    html: str
    text: str


def render(data: LetterData, words: Words) -> Letter:
    """The letter in the language and units of `words`. Same data, same bytes."""
    lines = sheet(data, words)
    wide = not data.map.empty and is_wide(data.map)
    across = _WIDE if words.units == "us" else _WIDE_A4
    width = across if wide else _SIDE
    maps = tuple(draw(data.map, words, site=data.site, width=width, high=high) for high in _HEIGHTS)
    narrow = draw(data.map, words, site=data.site, width=_SIDE, clip_id="ground-narrow") if wide else None
    return Letter(
        pdf=pdf(lines, maps, wide=wide, as_of=data.as_of),
        html=html(lines, maps[0], narrow=narrow),
        text=phone(data, words),
    )
