"""Whole plants: standing, bushy or flat; their height measured."""

from __future__ import annotations

from dataclasses import dataclass, field

from tepal.plates._curve import UP, ellipse, placed
from tepal.plates._head_forms import HEADS
from tepal.plates._leaf import Blade, Place, small_leaf
from tepal.plates._plants import Spike, beads, draw_head, draw_spike, sway
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


@dataclass(slots=True)
class _Parts:
    """Parts of a plant while it grows; drawn kind by kind, so that one kind shares an element of the SVG."""

    looks: Looks
    stems: list[list[complex]] = field(default_factory=list)
    stalks: list[tuple[complex, complex]] = field(default_factory=list)
    blades: list[Place] = field(default_factory=list)
    joints: list[tuple[complex, float]] = field(default_factory=list)
    spikes: list[Spike] = field(default_factory=list)

    def leaf(self, root: complex, turn: float, long: float, stalk: float, droop: float = 0.0) -> None:
        base = Place(root, turn, max(0.5, stalk * long)).point(1)
        self.stalks.append((root, base))
        self.blades.append(Place(base, turn, long, droop))

    def branch(self, axis: Spike, leaves: int, long: float) -> None:
        """A side branch: leaves by turns along it, at its end a spike or a leaf."""
        looks = self.looks

        def at(t: float) -> complex:
            return placed([complex(t, 0)], axis.base, axis.turn, axis.length, axis.bend)[0]

        self.stems.append([at(i / 4) for i in range(5)])
        for i in range(leaves):
            t = 0.3 + 0.66 * i / leaves
            side = 1 if i % 2 else -1
            self.leaf(at(t), axis.turn + axis.bend * t + 56 * side, long * (1 - 0.35 * t), looks.stalk * 0.5)
            self.joints.append((at(t), 1.5))
        end, turn = at(1), axis.turn + axis.bend
        if looks.head in HEADS:
            reach = axis.length * (0.5 if looks.head_share > 0.25 else 0.36)
            self.spikes.append(Spike(end, turn, reach, max(2.6, reach / 5)))
        else:
            self.leaf(end, turn, long * 0.8, 0.1)

    def draw(self, sheet: Sheet) -> None:
        looks = self.looks
        sheet.lines(self.stems, LIGHT, curved=True)
        sheet.lines(self.stalks, VEIN)
        for place in self.blades:
            small_leaf(sheet, looks.blade, place, weight=LIGHT)
        if looks.head in ("axillary_clusters", "balls_and_spike"):
            for root, r in self.joints:
                sheet.lumps(ellipse(root, r, r, 10, 5), 0.25, LIGHT)
        for spike in self.spikes:
            if HEADS[looks.head].loose:
                beads(sheet, spike, weight=VEIN, part="")
            else:
                draw_spike(sheet, spike, weight=LIGHT, bristle=looks.bristle * 0.7, part="")


# Height in units of a plant that fills the plate; of a mat its reach.
SIZES = {"erect": 84.0, "bushy": 66.0, "mat": 96.0}


def draw_plant(sheet: Sheet, looks: Looks, foot: complex, tall: float) -> None:
    """A whole plant of that height in units; a flat one reaches as far to both sides together."""
    if looks.habit == "erect":
        _erect(sheet, looks, foot, tall)
        return
    parts = _Parts(looks)
    # Each branch: degrees from upright, length in shares of `tall`, bend; to both sides.
    rays: tuple[tuple[float, float, float], ...]
    if looks.habit == "mat":
        rays, leaves = ((89, 0.46, 2), (78, 0.47, 18), (66, 0.4, 36), (44, 0.2, 50), (10, 0.12, 0)), 6
    else:
        rays, leaves = ((72, 0.8, -36), (52, 0.92, -32), (31, 0.96, -22), (10, 0.95, -8)), 5
    for i, (lean, long, bend) in enumerate(rays):
        for side in (-1, 1):
            stretch = 1 - 0.05 * ((i + side) % 3)
            axis = Spike(foot - 0.5j, UP + side * lean, tall * long * stretch, 0, side * bend)
            parts.branch(axis, leaves if long > 0.3 else 2, tall * looks.leaf)
    parts.draw(sheet)


def _erect(sheet: Sheet, looks: Looks, foot: complex, tall: float) -> None:
    headed = looks.head in HEADS
    top = tall * (1 - (looks.head_share if headed else 0.2 if looks.head == "balls_and_spike" else 0.08))
    end = foot - top * 1j
    parts = _Parts(looks)
    nodes = 9
    heights = [top * (0.07 + 0.9 * (k / (nodes - 1)) ** 0.88) for k in range(nodes)]
    long = tall * looks.leaf
    for k in range(1, 6):
        side = 1 if k % 2 else -1
        axis = Spike(foot - heights[k] * 1j, UP + side * 50, tall * (0.37 - 0.042 * k), 0, -32 * side)
        parts.branch(axis, 4, long * 0.75)
    for k, y in enumerate(heights):
        side = -1 if k % 2 else 1
        turn, stalk = UP + side * (66 - 2.5 * k + 5 * sway(k)), looks.stalk * (1 - 0.06 * k)
        parts.leaf(foot - y * 1j, turn, long * (1 - 0.045 * k), stalk, 14 * side)
        parts.joints.append((foot - y * 1j, max(1.9, tall * 0.024)))
    if not headed:
        for turn in (-42, 42, -14, 16):
            parts.leaf(end, UP + turn, long * 0.6, 0.2)
    sheet.line([foot, end], looks.weight, angular=True)
    if looks.spines:
        roots = [foot - y * 1j for y in heights]
        sheet.lines([(z, z + complex(side * 5, -1.5)) for z in roots for side in (-1, 1)], LIGHT)
    parts.draw(sheet)
    if headed:
        draw_head(sheet, looks.head, end, tall - top, weight=LIGHT, bristle=looks.bristle)
    elif looks.head == "balls_and_spike":
        draw_spike(sheet, Spike(end, UP, tall * 0.19, 3.4, 8), weight=LIGHT)


def habit(sheet: Sheet, *, form: str = "erect", height_mm: float = 1000.0) -> None:
    """How a plant grows. `form`: erect, bushy or mat; of a mat `height_mm` is how far it reaches."""
    small = Blade(1.9, 0.62, "tapering", "rounded")
    looks = {
        "erect": Looks("erect", BLADE, 0.16, 0.6, weight=2.0),
        "bushy": Looks("bushy", small, 0.13, 0.4),
        "mat": Looks("mat", small, 0.085, 0.3),
    }[form]
    tall = SIZES[form]
    sheet.per_mm = tall / height_mm
    soil(sheet, left=3, right=97)
    draw_plant(sheet, looks, complex(50, GROUND), tall)


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
