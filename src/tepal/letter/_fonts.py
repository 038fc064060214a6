"""Our typefaces: folders for typst, a small subset for a page that must carry its own."""

from __future__ import annotations

import base64
import io
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path

_FAMILIES = ("fontpkg_atkinson_hyperlegible", "fontpkg_source_serif_4")
# Basic Latin, Latin-1 (English, Spanish), and the typographic signs our sentences use.
_SIGNS = (
    *range(0x20, 0x7F), *range(0xA0, 0x100), 0x2013, 0x2014, 0x2018, 0x2019, 0x201C, 0x201D, 0x2022, 0x2026, 0x2212,
)  # fmt: skip


@lru_cache(maxsize=1)
def folders() -> tuple[str, ...]:
    """The folders with the font files of both families."""
    found = []
    for family in _FAMILIES:
        spec = find_spec(family)
        if spec is None or spec.origin is None:
            raise RuntimeError(f"the font package {family} is not installed")
        found.append(str(Path(spec.origin).parent / "files"))
    return tuple(found)


@lru_cache(maxsize=2)
def embedded(weight: str) -> str:
    """Atkinson Hyperlegible, `Regular` or `Bold`, as a base64 WOFF of the signs that Latin texts need (about 12 kB)."""
    from fontTools import subset

    options = subset.Options()
    options.hinting = False
    options.layout_features = ["kern", "liga"]
    # The file's own date, not today's: the same letter has the same bytes.
    options.recalc_timestamp = False
    font = subset.load_font(str(Path(folders()[0]) / f"AtkinsonHyperlegible-{weight}.ttf"), options)
    subsetter = subset.Subsetter(options)
    subsetter.populate(unicodes=_SIGNS)
    subsetter.subset(font)
    font.flavor = "woff"
    out = io.BytesIO()
    font.save(out)
    return base64.b64encode(out.getvalue()).decode("ascii")
