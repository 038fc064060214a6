"""Figures of seedlings: seed leaves, first true leaf, how the leaves stand, the root."""

from __future__ import annotations

from tepal.plates._curve import UP, between, hatch, inside, spread
from tepal.plates._leaf import Blade, Place, draw_leaf, outline, small_leaf, stalk, veins
from tepal.plates._sheet import HAIR, HEAVY, LIGHT, OUTLINE, VEIN, Sheet

GROUND = 88.0


def soil(sheet: Sheet, y: float = GROUND, *, left: float = 12, right: float = 88) -> None:
    """The line of the ground with a few strokes below it."""
    sheet.line([complex(left, y), complex(right, y)], LIGHT, angular=True)
    step = (right - left) / 6
    sheet.lines([(complex(left + step * (i + 0.5), y + 2), complex(left + step * i, y + 5)) for i in range(6)], HAIR)


def seed_leaves(
    sheet: Sheet,
    *,
    ratio: float = 4.2,
    widest: float = 0.5,
    base: str = "blunt",
    tip: str = "blunt",
    length_mm: float = 11.0,
    hairs: float = 0,
    asks: str = "shape",
) -> None:
    """A seedling with its pair of seed leaves. `asks`: their shape, or hair."""
    # Round ones are as wide as long: drawn smaller, so that both find room.
    long = 41.0 if ratio > 2.4 else 33.0
    sheet.per_mm = long / length_mm
    blade = Blade(ratio, widest, base, tip)
    y = 48.0
    weight = HEAVY if asks == "shape" else OUTLINE
    soil(sheet)
    stalk(sheet, [complex(49, GROUND), complex(51, 70), complex(50, y)], wide=3.4, weight=LIGHT)
    for side in (1, -1):
        place = Place(complex(50 + 6 * side, y - 2), -16 if side == 1 else 196, long, -14 * side)
        sheet.line([complex(50, y), place.base], weight)
        edge = draw_leaf(sheet, blade, place, weight=weight, vein=0.0, part="seed-leaf")
        if hairs:
            _fringe(sheet, edge, place.point(0.5), int(hairs))
    if hairs:
        left = [complex(49, GROUND - 5 - 4 * i) for i in range(7)]
        sheet.lines([(z - 1, z - 5 - 2j) for z in left] + [(z + 3, z + 7 - 2j) for z in left], VEIN, part="hairs")
    _bud(sheet, complex(50, y - 1))


def seed_leaf(
    sheet: Sheet,
    *,
    asks: str = "length",
    ratio: float = 4.0,
    length_mm: float = 11.0,
    largest: float = 0.0,
    dark: bool = False,
    vein: bool = False,
    label: str = "",
) -> None:
    """One seed leaf laid flat beside the seedling that it came from. `asks`: length, ratio, underside or vein."""
    most = 80.0
    long = most * length_mm / largest if largest and asks == "length" else most
    if asks == "ratio":
        long = most * ratio / largest
        length_mm *= ratio / largest
    sheet.per_mm = long / length_mm
    _which_seed_leaf(sheet)
    blade = Blade(ratio, 0.5, "blunt", "blunt")
    place = Place(complex(62, 84 - (most - long) / 3), UP, long)
    stalk(sheet, [place.base, place.base + 4j, place.base + 8j], wide=3, weight=LIGHT)
    edge = draw_leaf(sheet, blade, place, weight=OUTLINE, vein=0.0, part="seed-leaf", knots=4)
    if dark:
        sheet.lines(hatch(edge, 2.3, -40), LIGHT, part="hatch")
    if vein:
        sheet.line([place.base, place.point(0.88)], HEAVY, part="vein", angular=True)
    half = blade.half(0.5) * long
    if asks in ("length", "ratio"):
        far = 62 + half + 9
        for z in (place.base, place.point(1)):
            sheet.leader(z + 2, complex(far, z.imag))
        sheet.measure(
            complex(far, place.base.imag), complex(far, place.point(1).imag), name="a" if asks == "ratio" else ""
        )
    if asks == "ratio":
        sheet.measure(
            place.point(0.5, -blade.half(0.5)), place.point(0.5, blade.half(0.5)), part="width", name="b", beyond=True
        )
    if label:
        sheet.footer = sheet.words.t(label)


def _which_seed_leaf(sheet: Sheet) -> None:
    """A small seedling; the seed leaf that is looked at is black."""
    foot, top = 19 + 84j, 19 + 58j
    sheet.line([5 + 84j, 33 + 84j], VEIN, angular=True)
    sheet.line([foot, top], LIGHT, angular=True)
    for turn in (UP - 14, UP + 14):
        small_leaf(sheet, Blade(2.4), Place(top, turn, 7), weight=VEIN)
    for turn, fill in ((196, "paper"), (-16, "ink")):
        points, corners = outline(Blade(4.0, 0.5, "blunt", "blunt"), 2)
        sheet.line(
            Place(top, turn, 16).put(points),
            VEIN,
            closed=True,
            fill="ink" if fill == "ink" else "paper",
            corners=corners,
        )


def _bud(sheet: Sheet, where: complex) -> None:
    for side in (1, -1):
        draw_leaf(sheet, Blade(2.4), Place(where, UP + 22 * side, 12), weight=LIGHT, vein=0.0, knots=2)


def _fringe(sheet: Sheet, edge: list[complex], middle: complex, n: int) -> None:
    strokes = []
    for i in range(n):
        k = i * len(edge) / n
        z = between(edge[int(k)], edge[(int(k) + 1) % len(edge)], k % 1)
        up = -1 if z.imag < middle.imag + (z.real - middle.real) * -0.29 * (1 if middle.real > 50 else -1) else 1
        strokes.append((z, z + complex(0.8 * (-1) ** i, 4.2 * up)))
    sheet.lines(strokes, VEIN, part="hairs")


def first_leaf(sheet: Sheet, *, notch: float = 0.0, length_mm: float = 14.0) -> None:
    """A seedling with its first true leaf opened; its tip is what is asked about."""
    long = 54.0
    sheet.per_mm = long / length_mm
    soil(sheet)
    stalk(sheet, [50 + GROUND * 1j, 50 + 80j, 50 + 72j], wide=3.2, weight=LIGHT)
    for side in (1, -1):
        place = Place(complex(50 + 2 * side, 73), -8 if side == 1 else 188, 34, -12 * side)
        draw_leaf(sheet, Blade(4.2, 0.5, "blunt", "blunt"), place, weight=LIGHT, vein=0.0)
    stalk(sheet, [50 + 72j, 50 + 67j, 50 + 62j], wide=2.4, weight=LIGHT)
    blade = Blade(1.35, 0.42, "egg", "blunt", notch=notch)
    draw_leaf(sheet, blade, Place(50 + 62j, UP, long), weight=HEAVY, part="blade", pairs=4, knots=8)


def arrangement(sheet: Sheet, *, opposite: bool = False, length_mm: float = 20.0) -> None:
    """A seedling whose first true leaves stand one at a time, or as a pair."""
    sheet.per_mm = 27 / length_mm
    soil(sheet)
    heights = (50.0, 50.0, 27.0) if opposite else (58.0, 46.0, 33.0)
    stalk(sheet, [50 + GROUND * 1j, 50 + 60j, 50 + 20j], wide=3, weight=LIGHT)
    for side in (1, -1):
        place = Place(complex(50 + 2 * side, 76), -6 if side == 1 else 186, 27, -10 * side)
        draw_leaf(sheet, Blade(4.2, 0.5, "blunt", "blunt"), place, weight=LIGHT, vein=0.0, knots=4)
    for i, y in enumerate(heights):
        side = 1 if i % 2 else -1
        turn = UP + side * (58 - 12 * (i == 2))
        root = complex(50 + 1.5 * side, y)
        base = Place(root, turn, 9).point(1)
        sheet.line([root, base], OUTLINE)
        draw_leaf(
            sheet,
            Blade(1.6, 0.4, "egg", "egg"),
            Place(base, turn, 27 - 5 * (i == 2)),
            weight=HEAVY,
            pairs=3,
            part=f"leaf-{i}",
        )
        sheet.dots([complex(50, y)], 4.2, part=f"node-{i}")
    for side in (1, -1):
        draw_leaf(sheet, Blade(2.6), Place(50 + 20j, UP + 18 * side, 13), weight=LIGHT, vein=0.0, knots=2)


def canopy(sheet: Sheet, *, star: bool = False, width_mm: float = 180.0) -> None:
    """The plant seen from above: a tight star of leaves on long stalks, or leaves that stand loosely."""
    sheet.per_mm = 92 / width_mm
    centre = 50 + 47j
    n = 22 if star else 9
    for i in range(n):
        turn = 137.508 * i + 20
        if star:
            # Young leaves inwards, each a little shorter, their stalks long enough to fill every gap.
            far = 46 * (1 - 0.93 * i / n) ** 0.8 + 4
            long = far * 0.56
            blade = Blade(1.55, 0.42, "egg", "tapering")
        else:
            turn = (47, 222, 128, 318, 85, 265, 170, 5, 300)[i]
            far, long = (45, 43, 37, 36, 24, 23, 17, 15, 10)[i], (30, 28, 26, 25, 18, 17, 13, 12, 9)[i]
            blade = Blade(2.6, 0.42, "egg", "tapering")
        place = Place(Place(centre, turn, far - long).point(1), turn, long)
        sheet.line([centre, place.base], LIGHT)
        small_leaf(sheet, blade, place, weight=OUTLINE if i < n - 4 else LIGHT)
        sheet.lines([place.put(vein) for vein in veins(blade, 3 if long > 14 else 0)], HAIR)
    if not star:
        sheet.dots([centre], 5)


def root(sheet: Sheet, *, dark: bool = False, label: str = "", length_mm: float = 90.0) -> None:
    """A pulled plant: the main root with its side roots, hatched where it is red."""
    sheet.per_mm = 60 / length_mm
    for turn, long in ((-150, 24), (-30, 24), (-118, 26), (-62, 26), (-90, 24)):
        base = Place(50 + 28j, turn, 7).point(1)
        sheet.line([50 + 28j, base], LIGHT)
        draw_leaf(sheet, Blade(1.8), Place(base, turn, long - 7), weight=LIGHT, vein=HAIR, pairs=0, knots=2)
    sheet.line([32 + 38j, 68 + 38j], HAIR, angular=True, dashed=True)
    edge = [
        46.5 + 28j, 45 + 38j, 44 + 46j, 45.5 + 56j, 47.5 + 68j, 48.6 + 80j, 49 + 94j,
        50.4 + 94j, 51.5 + 80j, 53.5 + 68j, 55 + 56j, 56.5 + 46j, 55 + 38j, 53.5 + 28j,
    ]  # fmt: skip
    for y, side, long in ((50, 1, 20), (55, -1, 24), (62, 1, 22), (68, -1, 16), (74, 1, 15), (80, -1, 11)):
        start = complex(50 + side * 3, y)
        sheet.line([start, start + complex(side * long * 0.5, 3), start + complex(side * long, 9)], VEIN)
    sheet.line(edge, HEAVY, closed=True, fill="paper", corners=(0, 6, 7, 13), part="root")
    if dark:
        sheet.lines(hatch(edge, 2.0, 90), OUTLINE, part="hatch")
    if label:
        sheet.footer = sheet.words.t(label)


def mealy(sheet: Sheet, *, dust: bool = False, length_mm: float = 60.0) -> None:
    """The youngest leaves at the top of a plant, with or without a mealy dust."""
    sheet.per_mm = 88 / length_mm
    stalk(sheet, [50 + 94j, 50 + 80j, 50 + 66j], wide=4.5, weight=LIGHT)
    grains: list[complex] = []
    for turn, long in ((-165, 40), (-15, 40), (-132, 48), (-48, 48), (-90, 54)):
        base = Place(50 + 68j, turn, 6).point(1)
        sheet.line([50 + 68j, base], LIGHT)
        place = Place(base, turn, long)
        edge = draw_leaf(sheet, Blade(1.75, 0.4), place, pairs=3, vein=HAIR, part="blade", knots=3)
        if dust:
            grains = [g for g in grains if not inside(g, edge)]
            full = place.put(outline(Blade(1.95, 0.4), 5)[0])
            grains += [z for a, b in spread(420) if inside(z := complex(4 + 92 * a, 4 + 80 * b), full)]
    sheet.dots(grains, 2.2, part="dust")
