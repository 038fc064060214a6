"""A page set by typst as PDF/UA-1, whatever signs people's names are written in."""

from __future__ import annotations

import re
import unicodedata
from datetime import UTC, date, datetime
from functools import lru_cache
from typing import TYPE_CHECKING

from tepal.letter._fonts import folders

if TYPE_CHECKING:
    from typst import Fonts

MISSING = "□"
_NOT_SHOWN = re.compile(r'the text `"(.+?)"` could not be displayed', re.DOTALL)
_MOST = 60


def set_pdf(source: bytes, inputs: dict[str, str], as_of: date) -> bytes:
    """The PDF of a template; the same inputs give the same bytes.

    PDF/UA-1 refuses a page with a sign that its typeface lacks. A name in another script, or a drawn sign in a remark,
    would then cost the grower the letter: such signs are set as a box instead.
    """
    import typst

    noon = datetime(as_of.year, as_of.month, as_of.day, 12, tzinfo=UTC)
    for _ in range(_MOST):
        try:
            made = typst.compile(
                source,
                font_paths=fonts(),
                sys_inputs=inputs,
                format="pdf",
                pdf_standards=["ua-1"],
                timestamp=int(noon.timestamp()),
            )
        except typst.TypstError as problem:
            lacking = _NOT_SHOWN.search(str(problem))
            if lacking is None:
                raise
            inputs = {key: _without(text, lacking[1]) for key, text in inputs.items()}
            continue
        if isinstance(made, bytes):
            return made
        break
    raise RuntimeError("typst gave no PDF")


@lru_cache(maxsize=1)
def fonts() -> Fonts:
    """Our typefaces and no other of the machine's: a letter looks, and is, the same everywhere."""
    import typst

    return typst.Fonts(include_system_fonts=False, font_paths=list(folders()))


def _without(text: str, lacking: str) -> str:
    """The text with a box for each sign of the scripts that `lacking` is of: one that is missing is seldom alone."""
    scripts = {_script(sign) for sign in lacking if not sign.isspace()}
    return "".join(
        MISSING if sign in lacking or (ord(sign) > 127 and _script(sign) in scripts) else sign for sign in text
    )


def _script(sign: str) -> str:
    # The first word of a letter's name is its script: CYRILLIC SMALL LETTER DE, CJK UNIFIED IDEOGRAPH-7530.
    name = unicodedata.name(sign, "")
    return (
        name.partition(" ")[0] if unicodedata.category(sign).startswith("L") and not name.startswith("LATIN") else name
    )
