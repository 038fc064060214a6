"""Figures of one leaf: outline, tip, stalk against blade, mark, edge, hair, shine."""

from __future__ import annotations

import math

from tepal.plates._curve import UP, arc, between, hatch, inside, placed, spread
from tepal.plates._leaf import Blade, Place, draw_leaf, outline, ridge, small_leaf, stalk, veins
from tepal.plates._sheet import HAIR, HEAVY, LIGHT, OUTLINE, VEIN, Sheet


def leaf(
    sheet: Sheet,
    *,
    asks: str = "outline",
    ratio: float = 2.0,
    widest: float = 0.38,
    base: str = "egg",
    tip: str = "tapering",
    teeth: float = 0,
    waves: float = 0,
    length_mm: float = 65.0,
    width_mm: float = 0.0,
    largest: float = 0.0,
) -> None:
    """A leaf laid flat. `asks`: outline, widest, edge, length, width or ratio."""
    if width_mm:
        length_mm, largest = width_mm * ratio, largest * ratio
    most = 76.0 if asks in ("length", "width", "ratio") else 82.0
    long = most * length_mm / largest if largest and asks != "ratio" else most
    if asks == "ratio":
        # The same width for all, so that the eye compares the lengths.
        long = most * ratio / largest
        length_mm *= ratio / largest
    sheet.per_mm = long / length_mm
    x = 42 if asks in ("length", "ratio") else 50
    place = Place(complex(x, 88 - (most - long) / 4), UP, long)
    blade = Blade(ratio, widest, base, tip, teeth=int(teeth), waves=int(waves))
    weight = HEAVY if asks in ("outline", "edge") else OUTLINE
    stalk(sheet, [place.base, place.base + 7j], wide=2.4, weight=LIGHT)
    draw_leaf(sheet, blade, place, weight=weight, part="blade")
    half = blade.half(widest)
    if asks in ("length", "ratio"):
        far = complex(x + half * long + 10, 0)
        ends = [complex(far.real, z.imag) for z in (place.base, place.point(1))]
        for z, end in zip((place.base, place.point(1)), ends, strict=True):
            sheet.leader(z + 3, end)
        sheet.measure(ends[0], ends[1], name="a" if asks == "ratio" else "")
    if asks in ("width", "widest", "ratio"):
        left, right = place.point(widest, -half), place.point(widest, half)
        sheet.measure(left, right, part="width", name="b" if asks == "ratio" else "", beyond=True)
    if asks == "widest":
        # The middle of the blade, to compare with.
        sheet.leader(place.point(0.5) - 38, place.point(0.5) + 38)


def leaf_tip(sheet: Sheet, *, asks: str = "notch", notch: float = 0.0, hair_mm: float = 0.0) -> None:
    """The outer part of a leaf, near by. `notch` in blade lengths; `hair_mm`: the single hair at the tip."""
    sheet.per_mm = 2.1
    blade = Blade(1.9, 0.36, "egg", "blunt", notch=notch)
    place = Place(complex(50, 152), UP, 136)
    points, corners = outline(blade, 9)
    cut = 90.0
    edge = place.put(points)
    # Only what lies above the cut: the rest of the leaf is left away, with a torn edge.
    kept = [z for z in edge if z.imag < cut]
    tip = [i for i, z in enumerate(kept) if edge.index(z) in corners]
    sheet.line(kept, HEAVY if asks == "notch" else LIGHT, part="blade", corners=tip, fill="wash")
    torn = [between(kept[-1], kept[0], i / 8) + (2 if i % 2 else -2) * 1j * (0 < i < 8) for i in range(9)]
    sheet.line(torn, LIGHT)
    for vein in list(veins(blade, 6)):
        stroke = [z for z in place.put([vein[0] + (vein[-1] - vein[0]) * i / 8 for i in range(9)]) if z.imag < cut - 2]
        if len(stroke) > 1:
            sheet.line(stroke, VEIN if asks == "notch" else HAIR)
    if hair_mm:
        top = place.point(1 - notch)
        sheet.line(
            [top, top + complex(0.6, -0.55 * hair_mm * 2.1), top + complex(2, -hair_mm * 2.1)], HEAVY, part="hair"
        )


def fold(sheet: Sheet, *, stalk_ratio: float = 1.0, length_mm: float = 65.0) -> None:
    """The leaf stalk folded back over the blade; `stalk_ratio`: its length over the blade's."""
    long = 62.0
    sheet.per_mm = long / length_mm
    place = Place(complex(50, 86), UP, long)
    blade = Blade(2.0, 0.36, "egg", "tapering")
    draw_leaf(sheet, blade, place, weight=OUTLINE, part="blade")
    end = 86 - stalk_ratio * long
    x = 55.4
    turn = arc(complex((50 + x) / 2, 88.5), (x - 50) / 2, 180, 0, 5)
    path = [50 + 86j, *turn, *(complex(x, 86 + (end - 86) * t) for t in (0.1, 0.5, 1))]
    stalk(sheet, path, wide=4.8, weight=HEAVY, part="stalk")
    sheet.leader(complex(20, 86 - long), complex(80, 86 - long))


def stalk_and_blade(
    sheet: Sheet,
    *,
    stalk_ratio: float = 0.0,
    stalk_mm: float = 0.0,
    largest: float = 1.0,
    where: str = "",
    blade_mm: float = 65.0,
) -> None:
    """A leaf with its whole stalk, both measured, or the stalk alone where its length in mm is given."""
    r = stalk_ratio or stalk_mm / blade_mm
    most = largest if stalk_ratio else largest / blade_mm
    long = min(50.0, 86 / (1 + most))
    sheet.per_mm = long / blade_mm
    x = 58 if where else 46
    base = complex(x, 3 + long)
    place = Place(base, UP, long)
    blade = Blade(2.0, 0.38, "egg", "tapering")
    end = base + 1j * r * long
    stalk(sheet, [base, between(base, end, 0.5), end], wide=2.4, weight=HEAVY, part="stalk")
    # A bit of the stem from which the stalk was broken.
    sheet.line([end + complex(-7, 2.5), end + complex(7, 0.5)], LIGHT)
    draw_leaf(sheet, blade, place, part="blade")
    far = x + blade.half(0.38) * long + 9
    marks = [(end, base, "a")] + ([(base, place.point(1), "b")] if stalk_ratio else [])
    for low, high, name in marks:
        a, b = complex(far, low.imag - 0.8), complex(far, high.imag + 0.8)
        sheet.measure(a, b, name=name if stalk_ratio else "", part=f"measure-{name}")
    sheet.leader(base + 3, complex(far, base.imag))
    if where:
        _which_leaf(sheet, where)


def _which_leaf(sheet: Sheet, where: str) -> None:
    """A small plant that shows at which height the leaf was taken."""
    x, low, high = 16.0, 92.0, 14.0
    sheet.line([complex(x, low), complex(x, high)], LIGHT, angular=True)
    sheet.line([complex(x - 10, low), complex(x + 10, low)], VEIN, angular=True)
    asked = {"lower": 1, "middle": 3, "upper": 5}[where]
    for i in range(7):
        y, side = low - 10 - 10.5 * i, -1 if i % 2 else 1
        size = 11 - 1.0 * i
        turn = UP + side * (62 - 6 * i)
        place = Place(placed([0.45 + 0j], complex(x, y), turn, size)[0], turn, size)
        sheet.line([complex(x, y), place.base], OUTLINE if i == asked else VEIN)
        small_leaf(sheet, Blade(2.0), place, weight=VEIN, fill="ink" if i == asked else "paper")


def chevron(sheet: Sheet, *, mark: bool = True, length_mm: float = 65.0) -> None:
    """A leaf with, or without, the pale V across its blade; the green is hatched, the mark left white."""
    long = 82.0
    sheet.per_mm = long / length_mm
    place = Place(50 + 88j, UP, long)
    blade = Blade(1.9, 0.38, "egg", "tapering")
    points, corners = outline(blade, 9)
    edge = place.put(points)
    stalk(sheet, [place.base, place.base + 7j], wide=2.4, weight=LIGHT)
    sheet.area(edge, "wash", corners=corners)
    # Each arm runs along a side vein, from the middle vein nearly to the edge.
    low, high = 0.86 * blade.half(0.6), 0.86 * blade.half(0.74)
    band = [
        place.point(0.34, 0), place.point(0.6, low), place.point(0.74, high), place.point(0.5, 0),
        place.point(0.74, -high), place.point(0.6, -low),
    ]  # fmt: skip
    sheet.lines(hatch(edge, 2.0, 25, holes=[band] if mark else []), VEIN)
    if mark:
        sheet.line(band, LIGHT, closed=True, fill="paper", angular=True, part="mark")
    sheet.line(edge, OUTLINE, closed=True, corners=corners, part="blade")
    sheet.line([place.base, place.point(0.96)], LIGHT)


def leaf_surface(
    sheet: Sheet,
    *,
    asks: str = "hair",
    side: str = "upper",
    hairs: float = 0,
    along_veins: bool = False,
    shine: bool = False,
    label: str = "",
    dark: bool = False,
    length_mm: float = 65.0,
) -> None:
    """The surface of a leaf. `asks`: hair (a number of `hairs`), shine or colour; `side`: upper or under."""
    long = 84.0
    sheet.per_mm = long / length_mm
    place = Place(50 + 89j, UP, long)
    blade = Blade(1.55, 0.4, "egg", "tapering")
    points, corners = outline(blade, 8)
    edge = place.put(points)
    stalk(sheet, [place.base, place.base + 6j], wide=2.4, weight=LIGHT)
    sheet.line(edge, OUTLINE, closed=True, fill="wash", corners=corners, part="blade")
    if dark:
        sheet.lines(hatch(edge, 2.3, -55), VEIN, part="hatch")
    found = [place.put(v) for v in veins(blade, 5)]
    if side == "under":
        # Below, the veins stand out: each is a ridge with two edges.
        for v in found[1:]:
            ridge(sheet, v, 1.8)
        ridge(sheet, [between(found[0][0], found[0][1], i / 4) for i in range(5)], 3.0)
    else:
        sheet.line(found[0], LIGHT)
        sheet.lines(found[1:], HAIR, curved=True)
    if asks == "hair":
        sheet.lines(_hairs(edge, found, int(hairs), along_veins), LIGHT, part="hairs")
    if asks == "shine":
        _shine(sheet, place, edge, shine)
    if label:
        sheet.footer = sheet.words.t(label)


def _hairs(edge: list[complex], found: list[list[complex]], n: int, along_veins: bool) -> list[tuple[complex, complex]]:
    tips = []
    if along_veins:
        for k, v in enumerate(found):
            many = 8 if k == 0 else 3
            tips += [(between(v[0], v[-1], (i + 0.7) / (many + 0.5)), k + i) for i in range(many)][: n or None]
        return [(z, z + complex(3.4 if k % 2 else -3.4, -3.2)) for z, k in tips[:n]]
    low = min(z.imag for z in edge)
    high = max(z.imag for z in edge)
    strokes: list[tuple[complex, complex]] = []
    for a, b in spread(12 * n):
        z = complex(20 + 60 * a, low + (high - low) * b)
        if inside(z, edge) and len(strokes) < n:
            lean = 1.1 if len(strokes) % 2 else -1.1
            strokes.append((z, z + complex(lean, -3.9)))
    return strokes


def _shine(sheet: Sheet, place: Place, edge: list[complex], shine: bool) -> None:
    """Shining: dark with sharp white lights; dull: the same grey all over."""
    if not shine:
        dots = [complex(20 + 60 * a, 4 + 86 * b) for a, b in spread(420)]
        sheet.dots([z for z in dots if inside(z, edge)], 1.1, part="stipple")
        return
    lights = []
    for side in (1, -1):
        # Two long lights beside the middle vein, as on a blade that bends down to both sides.
        for low, high, near, wide in ((0.16, 0.62, 0.05, 0.085), (0.3, 0.5, 0.2, 0.03)):
            spine = [low + (high - low) * i / 6 for i in range(7)]
            swell = [math.sin(math.pi * i / 6) for i in range(7)]
            inner = [place.point(t, side * near) for t in spine]
            outer = [place.point(t, side * (near + wide * w)) for t, w in zip(spine, swell, strict=True)]
            lights.append([*inner, *outer[5:0:-1]])
    sheet.lines(hatch(edge, 1.7, 62, holes=lights), VEIN, part="hatch")
    for light in lights:
        sheet.line(light, HAIR, closed=True, fill="paper", corners=(0, 6))
