"""Whole plants: standing, bushy or flat; their height measured."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

from tepal.plates._curve import UP, placed
from tepal.plates._head_forms import HEADS
from tepal.plates._leaf import Blade
from tepal.plates._plants import Spike, beads, cluster, draw_head, draw_spike, leaf_at, sway
from tepal.plates._seedlings import GROUND, soil
from tepal.plates._sheet import LIGHT, OUTLINE, VEIN, Sheet

BLADE = Blade(2.0)


@dataclass(frozen=True, slots=True)
class Looks:
    """What a small drawing of a whole plant shows. Lengths are shares of the plant's height.

    `head` is a form of `tepal.plates._plants.HEADS`, axillary_clusters, balls_and_spike, or empty; `stalk` is the
    leaf stalk over the blade; `bristle` in units.
    """

    habit: str = "erect"
    blade: Blade = BLADE
    leaf: float = 0.2
    stalk: float = 0.6
    head: str = ""
    head_share: float = 0.3
    bristle: float = 0.0
    spines: bool = False
    weight: float = OUTLINE


def draw_plant(sheet: Sheet, looks: Looks, foot: complex, tall: float) -> None:
    """A whole plant of that height in units."""
    if looks.habit == "mat":
        _mat(sheet, looks, foot, tall)
    elif looks.habit == "bushy":
        _bushy(sheet, looks, foot, tall)
    else:
        _erect(sheet, looks, foot, tall)


def _erect(sheet: Sheet, looks: Looks, foot: complex, tall: float) -> None:
    headed = looks.head in HEADS
    top = tall * (1 - (looks.head_share if headed else 0.06))
    sheet.line([foot, foot - top * 1j], looks.weight, angular=True)
    nodes = 8
    heights = [top * (0.08 + 0.92 * (k / nodes) ** 0.85) for k in range(nodes)]
    for k in range(1, 5):
        side = 1 if k % 2 else -1
        _branch(
            sheet, looks, Spike(foot - heights[k] * 1j, UP + side * 48, tall * (0.36 - 0.045 * k), 0, -30 * side), 4
        )
    for k, y in enumerate(heights):
        side = -1 if k % 2 else 1
        long = tall * looks.leaf * (1.0 - 0.055 * k)
        turn, stalk = UP + side * (68 - 3.5 * k + 5 * sway(k)), looks.stalk * (1 - 0.06 * k)
        leaf_at(sheet, foot - y * 1j, turn, looks.blade, long=long, stalk=stalk,
                weight=LIGHT, droop=12 * side)  # fmt: skip
        if looks.spines:
            sheet.lines([(foot - y * 1j, foot - y * 1j + complex(s * 5, -1.5)) for s in (-1, 1)], LIGHT)
        _clusters(sheet, looks, foot - y * 1j, max(1.7, tall * 0.022), k)
    end = foot - top * 1j
    if headed:
        draw_head(sheet, looks.head, end, tall - top, weight=LIGHT, bristle=looks.bristle)
        return
    if looks.head == "balls_and_spike":
        draw_spike(sheet, Spike(end, UP, tall * 0.2, 3.2, 8), weight=LIGHT)
    for turn in (-42, 42, -14, 16):
        leaf_at(sheet, end, UP + turn, looks.blade, long=tall * looks.leaf * 0.5, stalk=0.2)


def _branch(sheet: Sheet, looks: Looks, axis: Spike, leaves: int) -> None:
    line = placed([complex(i / 4, 0) for i in range(5)], axis.base, axis.turn, axis.length, axis.bend)
    sheet.line(line, LIGHT)
    for i in range(leaves):
        t = 0.35 + 0.6 * i / leaves
        root = placed([complex(t, 0)], axis.base, axis.turn, axis.length, axis.bend)[0]
        turn = axis.turn + axis.bend * t
        long = axis.length * min(0.5, 1.6 * looks.leaf) * (1 - 0.3 * t)
        leaf_at(
            sheet, root, turn + (58 if i % 2 else -58), looks.blade, long=long, stalk=looks.stalk * 0.5, weight=VEIN
        )
        _clusters(sheet, looks, root, 1.6, i)
    end, turn = line[-1], axis.turn + axis.bend
    if looks.head in HEADS:
        long = axis.length * (0.5 if looks.head_share > 0.3 else 0.36)
        tip = Spike(end, turn, long, max(2.4, long / 6))
        if HEADS[looks.head].loose:
            beads(sheet, tip, weight=VEIN, part="")
        else:
            draw_spike(sheet, tip, weight=VEIN, bristle=looks.bristle * 0.7, part="")
    else:
        leaf_at(sheet, end, turn, looks.blade, long=axis.length * min(0.4, 1.3 * looks.leaf), stalk=0.1, weight=VEIN)


def _clusters(sheet: Sheet, looks: Looks, root: complex, r: float, k: int) -> None:
    if looks.head in ("axillary_clusters", "balls_and_spike"):
        side = 1 if k % 2 else -1
        cluster(sheet, root + complex(side * r * 0.5, -r * 0.4), r, weight=LIGHT, part="")


def _bushy(sheet: Sheet, looks: Looks, foot: complex, tall: float) -> None:
    for turn, long, bend in ((-72, 0.86, 34), (72, 0.86, -34), (-52, 0.96, 30), (52, 0.96, -30), (-30, 0.98, 22),
                             (32, 0.98, -22), (-9, 0.95, 8), (12, 0.9, -8)):  # fmt: skip
        _branch(sheet, looks, Spike(foot - tall * 0.03j, UP + turn, tall * long, 0, bend), 5)


def _mat(sheet: Sheet, looks: Looks, foot: complex, tall: float) -> None:
    # `tall` is the reach along the ground, seen from a little above: what goes back or forth is shortened.
    reach = {-14: 0.5, 195: 0.5, -50: 0.44, 227: 0.42, 16: 0.5, 164: 0.5, 48: 0.46, 133: 0.46, 98: 0.36}
    for angle, long in reach.items():
        flat = cmath.rect(tall * long, math.radians(angle))
        tip = complex(flat.real, flat.imag * 0.42)
        _branch(sheet, looks, Spike(foot, math.degrees(cmath.phase(tip)), abs(tip), 0, 0), 5)


def habit(sheet: Sheet, *, form: str = "erect", height_mm: float = 1000.0) -> None:
    """How a plant grows. `form`: erect, bushy or mat."""
    small = Blade(1.9, 0.62, "tapering", "egg")
    looks = {
        "erect": Looks("erect", Blade(2.0), 0.19, 0.6, weight=2.0),
        "bushy": Looks("bushy", small, 0.1, 0.4),
        "mat": Looks("mat", small, 0.16, 0.3),
    }[form]
    tall = {"erect": 84.0, "bushy": 64.0, "mat": 88.0}[form]
    sheet.per_mm = tall / height_mm
    ground = {"erect": GROUND, "bushy": GROUND, "mat": 56.0}[form]
    if form != "mat":
        soil(sheet, ground, left=6, right=94)
    draw_plant(sheet, looks, complex(50, ground), tall)
    if form == "mat":
        sheet.lines([(z, z + 5 - 3j) for z in (6 + 80j, 24 + 88j, 44 + 86j, 62 + 90j, 80 + 84j, 92 + 78j)], VEIN)


def height(sheet: Sheet, *, height_mm: float = 0.0, largest: float = 1.0, head: bool = True) -> None:
    """A plant with its height measured from the ground to the highest point."""
    tall = 84 * height_mm / largest
    sheet.per_mm = tall / height_mm
    soil(sheet, left=6, right=94)
    looks = Looks(head="few_stiff_branches" if head else "", weight=OUTLINE if tall > 40 else LIGHT, leaf=0.17)
    draw_plant(sheet, looks, complex(44, GROUND), tall)
    far = 44 + max(20.0, tall * 0.38)
    sheet.leader(complex(46, GROUND - tall), complex(far, GROUND - tall))
    sheet.measure(complex(far, GROUND), complex(far, GROUND - tall))


def growth(sheet: Sheet, *, rate: float = 0.1, largest: float = 0.2) -> None:
    """The same plant twice, 100 degree days apart; what it grew is measured. `rate` in cm a degree day."""
    per_cm = 76 / (10 + 100 * largest)
    sheet.per_mm = per_cm / 10
    soil(sheet, left=6, right=94)
    first, second = 10 * per_cm, (10 + 100 * rate) * per_cm
    draw_plant(sheet, Looks(weight=LIGHT), complex(20, GROUND), first)
    draw_plant(sheet, Looks(leaf=0.17), complex(58, GROUND), second)
    sheet.leader(complex(22, GROUND - first), complex(88, GROUND - first))
    sheet.leader(complex(60, GROUND - second), complex(88, GROUND - second))
    sheet.measure(complex(88, GROUND - first), complex(88, GROUND - second))
