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


@lru_cache(maxsize=1)
def embedded() -> dict[str, str]:
    """The faces that a page uses, as base64 WOFF of the signs that Latin texts need (12 to 15 kB each).

    `regular`, `bold` of Atkinson Hyperlegible; `title`, `name` (italic) of Source Serif 4.
    """
    read, serif = (Path(folder) for folder in folders())
    return {
        "regular": _subset(read / "AtkinsonHyperlegible-Regular.ttf"),
        "bold": _subset(read / "AtkinsonHyperlegible-Bold.ttf"),
        "title": _subset(serif / "SourceSerif4[opsz,wght].ttf", {"wght": 600, "opsz": 20}),
        "name": _subset(serif / "SourceSerif4-Italic[opsz,wght].ttf", {"wght": 400, "opsz": 11}),
    }


def _subset(path: Path, axes: dict[str, float] | None = None) -> str:
    from fontTools import subset  # type: ignore[import-untyped]
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]
    from fontTools.varLib import instancer  # type: ignore[import-untyped]

    options = subset.Options()
    options.hinting = False
    options.layout_features = ["kern"]
    options.notdef_outline = True
    # The file's own date, not today's: the same letter has the same bytes.
    font = TTFont(path, lazy=True, recalcTimestamp=False)
    if axes is not None:
        # A variable face has a thousand alternates and kerning for each weight; a title and a name need neither.
        for table in ("GSUB", "GPOS", "GDEF"):
            if table in font:
                del font[table]
    subsetter = subset.Subsetter(options)
    subsetter.populate(unicodes=_SIGNS)
    subsetter.subset(font)
    if axes is not None:
        font = instancer.instantiateVariableFont(font, axes)
    font.flavor = "woff"
    out = io.BytesIO()
    font.save(out)
    return base64.b64encode(out.getvalue()).decode("ascii")
