"""Figures under the hand lens: bract against flower, tepals, sexes, the fruit and how it opens."""

from __future__ import annotations

import math

from tepal.plates._curve import UP, between, ellipse, placed
from tepal.plates._leaf import Blade, Place, outline
from tepal.plates._sheet import HAIR, HEAVY, LIGHT, OUTLINE, VEIN, Sheet

BRACT = Blade(4.3, 0.22, "egg", "drawn_out")
TEPALS = {
    "pointed": Blade(2.5, 0.6, "tapering", "egg"),
    "awned": Blade(2.5, 0.56, "tapering", "tapering"),
    "rounded": Blade(2.3, 0.72, "tapering", "rounded"),
    "notched": Blade(2.2, 0.74, "tapering", "blunt", notch=0.09),
}


def tepal(sheet: Sheet, kind: str, place: Place, *, weight: float = OUTLINE, part: str = "tepal") -> None:
    """One tepal with its middle vein; in an awned one the vein runs out beyond the tip."""
    blade = TEPALS[kind]
    points, corners = outline(blade, 4)
    sheet.line(place.put(points), weight, closed=True, fill="paper", corners=corners, part=part)
    end = {"awned": 1.13, "pointed": 1.0}.get(kind, 0.9 - blade.notch)
    sheet.line(place.put([0.05 + 0j, 0.5 + 0j, complex(end, 0)]), VEIN if end < 1 else weight * 0.7)


def bract(sheet: Sheet, place: Place, *, weight: float = HEAVY, part: str = "bract") -> None:
    """A bract: narrow, its thick green middle vein running out into a stiff point."""
    points, corners = outline(BRACT, 4)
    sheet.line(place.put(points), weight, closed=True, fill="wash", corners=corners, part=part)
    spine = [0.05 + 0.012j, 0.5 + 0.012j, 1 + 0j, 0.5 - 0.012j, 0.05 - 0.012j]
    sheet.line(place.put(spine), VEIN, closed=True, fill="ink", corners=(0, 2, 4))


def _styles(sheet: Sheet, top: complex, long: float, weight: float = OUTLINE) -> None:
    """Three feathery stigmas on a fruit."""
    feathers = []
    for lean, turn in ((-30, -122), (0, -90), (30, -58)):
        line = placed([0j, 0.5 + 0j, 1 + 0j], top, turn, long, lean)
        sheet.line(line, weight)
        for t in (0.35, 0.6, 0.85):
            z = between(line[0], line[2], t) if t < 0.4 else between(line[1], line[2], 2 * t - 1)
            feathers += [
                (z, z + 2.2 * complex(math.cos(a), math.sin(a)))
                for a in (math.radians(turn + 55), math.radians(turn - 55))
            ]
    sheet.lines(feathers, HAIR)


def draw_fruit(sheet: Sheet, foot: complex, high: float, *, weight: float = OUTLINE, styles: float = 0.35) -> complex:
    """A fruit on its foot: an egg with a lid line and a neck; its top comes back."""
    r = high / 2.6
    edge = [
        foot, foot + complex(-0.72 * r, -0.25 * r), foot + complex(-r, -1.1 * r), foot + complex(-0.55 * r, -1.95 * r),
        foot + complex(-0.16 * r, -2.6 * r), foot + complex(0.16 * r, -2.6 * r), foot + complex(0.55 * r, -1.95 * r),
        foot + complex(r, -1.1 * r), foot + complex(0.72 * r, -0.25 * r),
    ]  # fmt: skip
    top = foot - high * 1j
    if styles:
        _styles(sheet, top, styles * high)
    sheet.line(edge, weight, closed=True, fill="wash", part="fruit")
    return top


def flower(
    sheet: Sheet,
    *,
    asks: str = "eye",
    male: bool = False,
    tepals: float = 3,
    kind: str = "pointed",
    bract_ratio: float = 0.0,
    bract_mm: float = 0.0,
    largest: float = 1.9,
    flower_mm: float = 2.5,
) -> None:
    """One flower from the side with its bract. `asks`: eye (compare), length (bract) or ratio (bract over tepal)."""
    room = 80.0
    if bract_mm:
        sheet.per_mm = room / max(largest, flower_mm * 1.45)
        tall, long = flower_mm * sheet.per_mm, bract_mm * sheet.per_mm
    else:
        tall = min(44.0, room / largest)
        long = tall * bract_ratio
        sheet.per_mm = tall / flower_mm
    foot = 50 + 89j
    sheet.line([foot + 5j, foot], HEAVY)
    # A bract leans outwards: it is drawn so long that its tip stands as high as the bract is long.
    lean = Place(0j, UP - 27, 1.0, 18).point(1).imag
    drawn = long / -lean
    # The second bract stands behind the flower on the other side.
    bract(sheet, Place(foot + 3, UP + 27, drawn, -18), weight=LIGHT, part="bract-behind")
    if male:
        _stamens(sheet, foot, tall)
    else:
        draw_fruit(sheet, foot, tall * 0.93, styles=0.42)
    fan = {3: (-25, 25, 0), 2: (-20, 20), 1: (12,), 0: ()}[int(tepals)]
    for turn in fan:
        tepal(sheet, kind, Place(foot + turn * 0.12, UP + turn, tall, turn * 0.5), weight=OUTLINE)
    place = Place(foot - 4, UP - 27, drawn, 18)
    bract(sheet, place)
    tip = place.point(1)
    if asks == "eye":
        top = foot.imag - tall
        sheet.leader(complex(8, top), complex(92, top))
        return
    x = min(place.base.real, tip.real, 33.0) - 15
    low, high = complex(x, place.base.imag), complex(x, tip.imag)
    sheet.leader(tip, high)
    sheet.leader(place.base, low)
    sheet.measure(low, high, name="a" if asks == "ratio" else "", side=5)
    if asks == "ratio":
        right = complex(88, foot.imag), complex(88, foot.imag - tall)
        for z in right:
            sheet.leader(complex(60, z.imag), z)
        sheet.measure(*right, name="b", part="measure-tepal", side=-5)


def _stamens(sheet: Sheet, foot: complex, tall: float) -> None:
    for turn in (-24, -11, 2, 14, 26):
        place = Place(foot, UP + turn, tall * 1.16, turn * 0.6)
        sheet.line(place.put([0j, 0.5 + 0j, 1 + 0j]), VEIN)
        for side in (0.035, -0.035):
            sheet.line(
                ellipse(place.point(1.03, side), 1.8, tall * 0.11, turn * 1.5, 6),
                LIGHT,
                closed=True,
                fill="paper",
                part="anther",
            )


def tepal_ring(sheet: Sheet, *, tepals: float = 5, kind: str = "pointed", length_mm: float = 2.5) -> None:
    """A seed-bearing flower opened flat: its tepals around the fruit."""
    centre, r = 50 + 48j, 11.5
    long = 32.0
    sheet.per_mm = long / length_mm
    n = int(tepals)
    for i in range(n):
        turn = UP + 360 * (i + 0.5 * (n == 3)) / n if n > 1 else UP + 40
        scale = 1.0 if n > 2 else 0.45
        tepal(sheet, kind, Place(Place(centre, turn, r * 0.7).point(1), turn, long * scale + 4), weight=HEAVY)
    sheet.line(ellipse(centre, r, r, 0, 10), OUTLINE, closed=True, fill="wash", part="fruit")
    _from_above(sheet, centre, r)


def _from_above(sheet: Sheet, centre: complex, r: float) -> None:
    sheet.line(ellipse(centre, r * 0.72, r * 0.72), HAIR, closed=True)
    sheet.lines([(centre, Place(centre, t, r * 0.62).point(1)) for t in (-90, 30, 150)], OUTLINE)


def tepal_tips(sheet: Sheet, *, first: str = "pointed", second: str = "awned", length_mm: float = 2.5) -> None:
    """Two tepals laid flat, to see their tips; with neither, the bare fruit."""
    long = 64.0
    sheet.per_mm = long / length_mm
    if not first:
        sheet.per_mm = 40.0
        draw_fruit(sheet, 50 + 88j, 62, weight=HEAVY, styles=0.3)
        return
    for x, kind in ((27, first), (73, second)):
        place = Place(complex(x, 88), UP, long)
        points, corners = outline(TEPALS[kind], 6)
        edge = place.put(points)
        sheet.line(edge, OUTLINE, closed=True, fill="wash", corners=corners, part="tepal")
        # The outer third again, heavier: there the answer is.
        outer = [i for i, z in enumerate(edge) if z.imag < place.point(0.72).imag]
        sheet.line([edge[i] for i in outer], HEAVY, corners=[outer.index(c) for c in corners if c in outer], part="tip")
        end = {"awned": 1.14, "pointed": 0.97}.get(kind, 0.9 - TEPALS[kind].notch)
        sheet.line([place.base, place.point(end)], HEAVY if kind == "awned" else OUTLINE, angular=True)
        for side in (1, -1):
            sheet.line(
                place.put([complex(0.12, 0.02 * side), complex(0.45, 0.07 * side), complex(0.8, 0.1 * side)]), HAIR
            )


def sex(sheet: Sheet, *, male: bool = False, female: bool = False, length_mm: float = 3.0) -> None:
    """Flowers of a plant near by: with stamens, with a fruit and stigmas, or both kinds."""
    both = male and female
    tall = 40.0 if both else 56.0
    sheet.per_mm = tall / length_mm
    for x, is_male in ((27, True), (73, False)) if both else ((50, male),):
        foot = complex(x, 88)
        sheet.line([foot + 5j, foot], OUTLINE)
        if is_male:
            for turn in (-34, 34):
                tepal(sheet, "pointed", Place(foot, UP + turn, tall * 0.8, turn * 0.5), weight=LIGHT, part="")
            _open_stamens(sheet, foot, tall)
            tepal(sheet, "pointed", Place(foot - 3, UP - 14, tall * 0.62, -6), weight=LIGHT, part="")
            tepal(sheet, "pointed", Place(foot + 3, UP + 14, tall * 0.62, 6), weight=LIGHT, part="")
        else:
            draw_fruit(sheet, foot, tall * 0.95, weight=HEAVY, styles=0.45)
            for turn in (-26, 26):
                tepal(
                    sheet,
                    "pointed",
                    Place(foot + turn * 0.1, UP + turn, tall * 0.72, turn * 0.4),
                    weight=LIGHT,
                    part="",
                )


def _open_stamens(sheet: Sheet, foot: complex, tall: float) -> None:
    for turn in (-22, -11, 0, 11, 22):
        place = Place(foot, UP + turn, tall * 1.18, turn * 0.3)
        sheet.line(place.put([0j, 0.5 + 0j, 1 + 0j]), OUTLINE, part="stamen")
        for side in (1, -1):
            z = place.point(1.06, 0.045 * side)
            sheet.line(
                ellipse(z, tall * 0.045, tall * 0.12, 1.5 * turn + 14 * side, 6),
                LIGHT,
                closed=True,
                fill="wash",
                part="anther",
            )
