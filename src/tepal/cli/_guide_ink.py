"""Drawings for a terminal: the SVG of plates as rows of braille signs, eight dots to a sign; ink only."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from tepal.plates import bare

# Dots of a braille sign by (row, column), as Unicode numbers them.
_DOTS = np.array([[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]])
_BLANK = 0x2800
# Rendered finer than the dots, so that a hair thinner than a dot still counts by what it covers.
_FINE = 6
# Share of a dot that ink must cover. The light wash of a plate stays below it everywhere.
_COVERED = 0.34
# Darkness from which a pixel is ink and not wash.
_INK = 0.45
# How thick strokes are at least, in dots, by their width in units of the plate: a dot is coarser than any pen, so
# that fine veins become a trace, outlines one dot, and what is asked about stands out.
_THINNEST = ((0.9, 0.5), (2.0, 0.9), (float("inf"), 1.7))

_STROKE = re.compile(r'stroke-width="([0-9.]+)"')
_VIEW = re.compile(r'viewBox="([^"]+)"')
_UNITS_PIXEL = 0.5


@lru_cache(maxsize=64)
def dotted(svgs: Sequence[str], columns: int, rows: int) -> tuple[tuple[str, ...], ...]:
    """Each drawing in at most `columns` by `rows` signs, all at one scale, their proportions kept, blank edges cut off.

    All have the same number of lines, and lines the same length.
    """
    # Writing and the scale bar could not be read at this size.
    drawings = [bare(svg) for svg in svgs]
    left, top, width, height = _inked(drawings)
    # An odd number of dots across puts the middle line of a leaf on one dot instead of between two.
    scale = min((2 * columns - 1) / width, 4 * rows / height)
    wide, high = (max(round(scale * size), 1) for size in (width, height))
    view = f'viewBox="{left:g} {top:g} {width:g} {height:g}"'
    return tuple(_signs(_rendered(_VIEW.sub(view, _thickened(svg, scale), count=1), wide, high)) for svg in drawings)


def _thickened(svg: str, dots: float) -> str:
    """The same with strokes as thick as dots of `1 / dots` units need."""

    def wider(found: re.Match[str]) -> str:
        width = float(found.group(1))
        least = next(least for below, least in _THINNEST if width < below)
        return f'stroke-width="{max(width, least / dots):.2f}"'

    return _STROKE.sub(wider, svg)


def _inked(svgs: Sequence[str]) -> tuple[float, float, float, float]:
    """The part of the sheet that holds ink in any of the drawings: left, top, width, height in its units."""
    found = _VIEW.search(svgs[0])
    if found is None:
        raise ValueError("a plate has a viewBox")
    left, top, width, height = (float(part) for part in found.group(1).split())
    wide, high = round(width / _UNITS_PIXEL / _FINE), round(height / _UNITS_PIXEL / _FINE)
    ink = np.logical_or.reduce([_rendered(svg, wide, high) for svg in svgs])
    if not ink.any():
        return left, top, width, height
    (up, down), (near, far) = ((line[0], line[-1] + 1) for line in (np.flatnonzero(ink.any(axis=k)) for k in (1, 0)))
    across, along = width / ink.shape[1], height / ink.shape[0]
    return left + near * across, top + up * along, (far - near) * across, (down - up) * along


def _rendered(svg: str, wide: int, high: int) -> npt.NDArray[np.bool_]:
    """Where ink is, shape = (high, wide) times `_FINE`."""
    import typst
    from PIL import Image

    # One point a pixel at 72 to the inch.
    size = f"width: {wide * _FINE}pt, height: {high * _FINE}pt"
    source = (
        f"#set page({size}, margin: 0pt, fill: white)\n"
        f'#image(bytes(sys.inputs.svg), format: "svg", {size}, fit: "stretch")'
    )
    made = typst.compile(source.encode(), sys_inputs={"svg": svg}, format="png", ppi=72.0)
    if not isinstance(made, bytes):
        raise RuntimeError("typst gave no picture")
    grey = np.asarray(Image.open(io.BytesIO(made)).convert("L"), dtype=np.float64)
    return np.asarray(grey < 255 * (1 - _INK))


def _signs(ink: npt.NDArray[np.bool_]) -> tuple[str, ...]:
    covered = ink.reshape(ink.shape[0] // _FINE, _FINE, ink.shape[1] // _FINE, _FINE).mean(axis=(1, 3)) > _COVERED
    high, wide = (-(-size // cell) for size, cell in zip(covered.shape, (4, 2), strict=True))
    whole = np.zeros((4 * high, 2 * wide), dtype=bool)
    whole[: covered.shape[0], : covered.shape[1]] = covered
    signs = (whole.reshape(high, 4, wide, 2) * _DOTS[None, :, None, :]).sum(axis=(1, 3)) + _BLANK
    # A sign without dots is a space: many typefaces draw it as a box, and readers aloud would spell it.
    return tuple("".join(" " if sign == _BLANK else chr(sign) for sign in row) for row in signs)
