"""Whole plants and their heads: spikes made of lumps, leaves on stalks, axes that branch."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tepal.plates._curve import UP, ellipse, hatch, placed
from tepal.plates._head_forms import HEADS
from tepal.plates._leaf import Blade, Place, draw_leaf, small_leaf
from tepal.plates._sheet import HAIR, LIGHT, OUTLINE, VEIN, Sheet

# How far a lump of a spike stands out, in shares of its chord.
BULGE = 0.24


@dataclass(frozen=True, slots=True)
class Spike:
    """A spike from its base: turn in degrees, length and greatest width in units, bend in degrees."""

    base: complex
    turn: float
    length: float
    wide: float
    bend: float = 0.0


def draw_spike(
    sheet: Sheet,
    spike: Spike,
    *,
    weight: float = OUTLINE,
    bristle: float = 0.0,
    dark: bool = False,
    part: str = "spike",
) -> list[complex]:
    """A dense flower spike: an outline of lumps, thickest below the middle, bristles standing out where it has them.

    The points between the lumps come back, from the base along one side to the tip and back.
    """
    lumps = max(4 if spike.length < 20 else 6, min(13, round(spike.length / spike.wide * 1.25)))
    # The lumps stand out from the points between them; both together make the width.
    broad = max(0.3 * spike.wide, spike.wide / 2 - BULGE * spike.length / lumps)
    side = []
    for i in range(lumps):
        t = i / lumps
        half = broad * (min(1.0, 0.5 + 3 * t) * (1 - t**2.6) ** 0.6)
        side.append(complex(t, half / spike.length))
    points = [*(z.conjugate() for z in side), 1 + 0j, *reversed(side)]
    edge = placed(points, spike.base, spike.turn, spike.length, spike.bend)
    if bristle:
        strokes = []
        for z in side[1:]:
            for one in (z, z.conjugate()):
                out = complex(0.8, 1.0 if one.imag >= 0 else -1.0) * bristle / spike.length
                strokes.append(placed([one, one + out], spike.base, spike.turn, spike.length, spike.bend))
        sheet.lines(strokes, VEIN, part="bristles")
    sheet.lumps(edge, BULGE, weight, part=part)
    if dark:
        sheet.lines(hatch(edge, 2.2, spike.turn + 62), VEIN)
    elif spike.wide > 5:
        _flowers(sheet, spike)
    return edge


def _flowers(sheet: Sheet, spike: Spike) -> None:
    """Rows of small scallops inside a spike, for the flowers."""
    step = max(5.0, spike.wide * 0.3)
    rows, columns = int(spike.length / step), max(1, int(spike.wide / step) - 1)
    size = min(2.4, spike.wide * 0.2)
    arcs = []
    for i in range(1, rows):
        t = i * step
        for j in range(columns + i % 2):
            across = (j - (columns + i % 2 - 1) / 2) * step
            if abs(across) < spike.wide * 0.36 * (1 - (t / spike.length) ** 2):
                arc = [complex(t - size, across - size), complex(t, across), complex(t - size, across + size)]
                arcs.append([z / spike.length for z in arc])
    sheet.lines((placed(a, spike.base, spike.turn, spike.length, spike.bend) for a in arcs), HAIR, curved=True)


def beads(sheet: Sheet, spike: Spike, *, weight: float = LIGHT, part: str = "spike") -> None:
    """A thin, loose spike: small clusters of flowers set apart along its axis."""
    axis = placed([complex(i / 3, 0) for i in range(4)], spike.base, spike.turn, spike.length, spike.bend)
    sheet.line(axis, weight, part=part)
    n = max(3, round(spike.length / (spike.wide * 1.15)))
    for i in range(n):
        t = 0.1 + 0.92 * i / n
        across = spike.wide * 0.16 * (1 if i % 2 else -1)
        r = spike.wide * 0.36 * (1 - 0.45 * t)
        z = placed([complex(t, across / spike.length)], spike.base, spike.turn, spike.length, spike.bend)[0]
        sheet.lumps(ellipse(z, r, r, 40 * i, 4), 0.26, weight)


def leaf_at(
    sheet: Sheet,
    root: complex,
    turn: float,
    blade: Blade,
    *,
    long: float,
    stalk: float,
    weight: float = LIGHT,
    droop: float = 0.0,
) -> None:
    """A leaf on its stalk: `long` the blade's length in units, `stalk` the stalk's over the blade's."""
    base = Place(root, turn, max(0.5, stalk * long)).point(1)
    sheet.line([root, base], weight)
    if long < 16:
        small_leaf(sheet, blade, Place(base, turn, long, droop), weight=weight)
    else:
        draw_leaf(sheet, blade, Place(base, turn, long, droop), weight=weight, vein=HAIR, pairs=0, knots=2)


def draw_head(
    sheet: Sheet,
    form: str,
    foot: complex,
    tall: float,
    *,
    weight: float = OUTLINE,
    bristle: float = 0.0,
    dark: bool = False,
    stem: float = 0.0,
    thick: float = 1.0,
) -> Spike:
    """An upright terminal head of one of the forms of `HEADS`: its lowest branch about at `foot`, `tall` units high.

    `stem`: its width, drawn from `foot` up into the head. The terminal spike comes back.
    """
    head = HEADS[form]
    long = tall * head.share
    wide = long / head.slender * thick
    start = foot - (tall - long) * 1j
    top = Spike(start, UP, long, wide)
    if stem:
        sheet.line([foot, start], stem, angular=True)
    for side in head.sides:
        branch = Spike(start - side.at * long * 1j, UP + side.lean, side.long * long, wide * side.wide, side.bend)
        if head.loose:
            beads(sheet, branch, part="side-spike")
        else:
            draw_spike(sheet, branch, weight=min(weight, OUTLINE), bristle=bristle, dark=dark, part="side-spike")
    if head.loose:
        beads(sheet, top, part="top-spike")
    else:
        draw_spike(sheet, top, weight=weight, bristle=bristle, dark=dark, part="top-spike")
    return top


def cluster(sheet: Sheet, centre: complex, r: float, *, prickly: bool = False, weight: float = OUTLINE,
            part: str = "cluster") -> None:  # fmt: skip
    """A small ball of flowers in a leaf joint."""
    if prickly:
        sheet.lines([(z, centre + (z - centre) * 1.75) for z in ellipse(centre, r, r, 15, 12)], LIGHT, part="bristles")
    sheet.lumps(ellipse(centre, r * 0.85, r * 0.8, 10, 8 if r > 4 else 5), 0.25, weight, part=part)
    if r > 4:
        sheet.line(ellipse(centre + complex(-r * 0.2, 0), r * 0.3, r * 0.3, 0, 6), HAIR, closed=True)
        sheet.line(ellipse(centre + complex(r * 0.35, r * 0.2), r * 0.25, r * 0.25, 0, 6), HAIR, closed=True)


def sway(k: int) -> float:
    """A little unevenness, the same each time: -1 to 1."""
    return math.sin(12.9898 * (k + 1))
