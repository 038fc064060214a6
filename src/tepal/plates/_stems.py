"""Figures of the stem: hair, color, ridges; spines and sheath at a node."""

from __future__ import annotations

import math

from tepal.plates._curve import UP, between, hatch, spread
from tepal.plates._leaf import Blade, Place, draw_leaf, stalk
from tepal.plates._sheet import HAIR, HEAVY, LIGHT, OUTLINE, VEIN, Sheet


def stem(
    sheet: Sheet,
    *,
    asks: str = "hair",
    part: str = "main",
    hairs: float = 0,
    pattern: str = "none",
    label: str = "",
    width_mm: float = 8.0,
) -> None:
    """A piece of stem, or its top. `hairs`: how many on 10 mm of each edge; `pattern`: none, hatch or stripes."""
    wide = 15.0 if part == "main" else 10.0
    sheet.per_mm = wide / width_mm
    low, high = 94.0, (4.0 if part == "main" else 34.0)
    narrow = 1.0 if part == "main" else 0.6
    left = [complex(50 - wide / 2, low), complex(50 - wide * narrow / 2, high)]
    right = [complex(50 + wide / 2, low), complex(50 + wide * narrow / 2, high)]
    _branches(sheet, part, wide)
    weight = HEAVY if asks == "hair" else OUTLINE
    sheet.area([*left, *right[::-1]], "paper" if pattern == "none" else "wash", angular=True)
    if pattern == "stripes":
        _stripes(sheet, wide, low, high)
    elif pattern == "hatch":
        sheet.lines(hatch([*left, *right[::-1]], 3.2, 45), HAIR, part="hatch")
    for edge in (left, right):
        sheet.line(edge, weight, angular=True, part="stem")
    if hairs:
        _stem_hairs(sheet, left, right, hairs)
    if label:
        sheet.footer = sheet.words.t(label)


def _branches(sheet: Sheet, part: str, wide: float) -> None:
    if part == "main":
        for side, y in ((1, 66.0), (-1, 30.0)):
            root = complex(50 + side * wide / 2, y)
            turn = UP + side * 52
            tip = Place(root, turn, 19).point(1)
            stalk(sheet, [root - side * 2, between(root, tip, 0.5), tip], wide=4, weight=LIGHT)
            draw_leaf(sheet, Blade(1.9), Place(tip, turn, 29), weight=LIGHT, vein=HAIR, pairs=4, knots=3)
        return
    for turn, long in ((-160, 30), (-22, 30), (-128, 32), (-55, 32), (-92, 30)):
        base = Place(50 + 36j, turn, 7).point(1)
        sheet.line([50 + 36j, base], LIGHT)
        draw_leaf(sheet, Blade(2.0), Place(base, turn, long), weight=LIGHT, vein=HAIR, pairs=0, knots=2)
    root = 54 + 72j
    sheet.line([root, root + 12 - 9j], LIGHT)
    draw_leaf(sheet, Blade(2.0), Place(root + 12 - 9j, -34, 30), weight=LIGHT, vein=HAIR, pairs=0, knots=2)


def _stripes(sheet: Sheet, wide: float, low: float, high: float) -> None:
    # Red lines of unlike length and width along the stem.
    strokes = []
    for i in range(7):
        x = 50 - wide / 2 + wide * (i + 0.5) / 7
        start = high + (0, 21, 6, 33, 2, 27, 12)[i]
        while start < low - 6:
            end = min(low - 1, start + (34, 22, 46, 26, 38, 19, 30)[i])
            strokes.append((complex(x, start), complex(x, end)))
            start = end + (6, 9, 4, 8, 5, 11, 7)[i]
    sheet.lines(strokes, 1.5, part="stripes")


def _stem_hairs(sheet: Sheet, left: list[complex], right: list[complex], hairs: float) -> None:
    """Hairs stand off both edges, and on the face as short strokes."""
    tall = left[0].imag - left[1].imag
    n = max(2, round(hairs * tall / (sheet.per_mm or 1) / 10))
    strokes = []
    for i in range(n):
        t = (i + 0.5) / n
        for edge, side in ((left, -1), (right, 1)):
            z = between(edge[0], edge[1], t if side == 1 else (t + 0.5 / n) % 1)
            strokes.append((z, z + complex(side * (4.4 + (i % 3) * 0.7), -2.2 + (i % 2) * 1.6)))
    sheet.lines(strokes, VEIN if n < 24 else 0.7, part="hairs")
    face = []
    for a, b in spread(n):
        row = [between(edge[0], edge[1], 0.02 + 0.94 * b) for edge in (left, right)]
        z = between(row[0], row[1], 0.15 + 0.7 * a)
        face.append((z, z + 0.8 - 3.2j))
    sheet.lines(face, 0.7, part="face-hairs")


def stem_ridges(sheet: Sheet, *, ridges: float = 0, width_mm: float = 12.0) -> None:
    """A thick piece of stem, cut across so that its outline shows; `ridges` around it, 0 for a smooth one."""
    wide = 50.0
    sheet.per_mm = wide / width_mm
    n = int(ridges)
    knots = 4 * n if n else 12
    turn = math.pi / 2

    def rim(k: int) -> complex:
        angle = turn + 2 * math.pi * k / knots
        swell = 1 + (0.09 * math.cos(n * (angle - turn)) if n else 0)
        return complex(50 + 25 * swell * math.cos(angle), 26 + 10.5 * swell * math.sin(angle))

    top = [rim(k) for k in range(knots)]
    leftmost, rightmost = min(top, key=lambda z: z.real), max(top, key=lambda z: z.real)
    low = 92.0
    front = [rim(k) for k in range(-knots // 4, knots // 4 + 1)][::-1]
    body = [leftmost, *(z for z in front if leftmost.real < z.real < rightmost.real), rightmost]
    bottom = [complex(z.real, z.imag + low - 36) for z in reversed(body)]
    sheet.line(
        [*body, *bottom], OUTLINE, closed=True, fill="wash", corners=(0, len(body) - 1, len(body), 2 * len(body) - 1)
    )
    if n:
        valleys = [rim(k) for k in range(knots) if k % 4 == 2 and rim(k).imag > 26]
        peaks = [rim(k) for k in range(knots) if k % 4 == 0 and rim(k).imag > 26]
        sheet.lines([(z, z + (low - 37) * 1j) for z in valleys], HEAVY, part="ridges")
        sheet.lines([(z + 3j, z + (low - 40) * 1j) for z in peaks], HAIR)
    sheet.line(top, HEAVY, closed=True, fill="paper", part="rim")
    sheet.dots([complex(50 + 15 * (2 * a - 1), 26 + 5.5 * (2 * b - 1)) for a, b in spread(14)], 1.3)


def node(sheet: Sheet, *, spines: bool = False, sheath: bool = False, width_mm: float = 6.0) -> None:
    """A leaf joint of the stem: with two spines, with a papery sheath, or with neither."""
    wide = 13.0
    sheet.per_mm = wide / width_mm
    y = 56.0
    left, right = 50 - wide / 2, 50 + wide / 2
    tip = Place(complex(right - 2, y), -38, 30).point(1)
    stalk(sheet, [complex(right - 4, y + 1), between(complex(right, y), tip, 0.5) + 1j, tip], wide=4.6, weight=LIGHT)
    draw_leaf(sheet, Blade(1.9), Place(tip, -40, 30), weight=LIGHT, vein=HAIR, pairs=3, knots=3)
    edge = [
        complex(left + 1, 4), complex(left + 0.6, y - 9), complex(left - 1.6, y), complex(left, y + 8),
        complex(left, 95), complex(right, 95), complex(right, y + 8), complex(right + 1.6, y),
        complex(right - 0.6, y - 9), complex(right - 1, 4),
    ]  # fmt: skip
    sheet.line(edge, OUTLINE, fill="wash", corners=(4, 5), part="stem")
    sheet.line([complex(left - 1, y + 2.5), complex(50, y + 4.5), complex(right + 1, y + 2.5)], LIGHT)
    if not sheath:
        # The bud between stem and stalk.
        bud = Place(complex(right - 0.5, y - 3), -62, 12)
        draw_leaf(sheet, Blade(2.2, 0.4), bud, weight=LIGHT, vein=0.0, knots=2)
    if spines:
        for root, turn in ((complex(left + 0.5, y), -162), (complex(right - 1, y + 1), 4)):
            place = Place(root, turn, 24)
            needle = place.put([-0.06 + 0.055j, 0.3 + 0.035j, 1 + 0j, 0.3 - 0.035j, -0.06 - 0.055j])
            sheet.line(needle, OUTLINE, closed=True, fill="ink", corners=(0, 2, 4), part="spine")
    if sheath:
        _sheath(sheet, left, right, y)


def _sheath(sheet: Sheet, left: float, right: float, y: float) -> None:
    top = y - 27
    tube = [
        complex(left - 2.2, y + 4), complex(left - 3, y - 10), complex(left - 3.6, top),
        complex(50 - 3, top - 2.5), complex(50 + 3, top + 1), complex(right + 3.6, top - 1.5),
        complex(right + 3, y - 10), complex(right + 2.2, y + 4), complex(50, y + 6),
    ]  # fmt: skip
    sheet.line(tube, HEAVY, closed=True, fill="paper", corners=(0, 2, 5, 7), part="sheath")
    xs = [left + (right - left) * i / 5 for i in range(6)]
    sheet.lines([(complex(x, y + 3), complex(50 + (x - 50) * 1.3, top + 2)) for x in xs], HAIR)
    sheet.lines(
        [(complex(50 + (x - 50) * 1.35, top), complex(50 + (x - 50) * 1.5, top - 8)) for x in xs], VEIN, part="fringe"
    )
