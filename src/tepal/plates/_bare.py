"""A plate without its writing and scale bar: for where they could not be read, or would be in one language of two."""

from __future__ import annotations

import re

_WRITING = re.compile(r'<text\b.*?</text>|<path[^>]*data-part="scale"[^>]*/>', re.DOTALL)


def bare(svg: str) -> str:
    """The same drawing, nothing written on it."""
    return _WRITING.sub("", svg)
