"""A leaf from its shape: length to width, widest point, base, tip, notch, edge; and its veins."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from tepal.plates._curve import placed
from tepal.plates._sheet import HAIR, OUTLINE, VEIN, Fill, Sheet

# A side of a blade runs from 0 at its end to 1 at the widest point, u, as 1 - (1 - u)^k, all raised to j: k = j = 1 is
# a straight side, k = 2 and j = 1/2 a quarter of an ellipse, j above 1 a drawn-out tip.
ENDS = {
    "rounded": (2.0, 0.5),
    "egg": (2.0, 0.75),
    "wedge": (1.25, 1.0),
    "straight": (1.0, 1.0),
    "tapering": (1.8, 1.12),
    "drawn_out": (2.0, 1.7),
    "acute": (1.6, 0.9),
    "blunt": (2.3, 0.62),
    "parallel": (7.0, 0.6),
    "square": (12.0, 0.35),
}


@dataclass(frozen=True, slots=True)
class Blade:
    """The shape of a blade of length 1: `ratio` length over width, `widest` from the base, `notch` depth at the tip.

    `teeth`: teeth a side; `waves`: waves a side. `base` and `tip` are names of `ENDS`.
    """

    ratio: float = 2.0
    widest: float = 0.38
    base: str = "egg"
    tip: str = "tapering"
    notch: float = 0.0
    teeth: int = 0
    waves: int = 0

    def half(self, t: float) -> float:
        """Half the width at `t` from the base, in blade lengths."""
        end, u = (self.base, t / self.widest) if t < self.widest else (self.tip, (1 - t) / (1 - self.widest))
        k, j = ENDS[end]
        return float((1 - (1 - min(1.0, max(0.0, u))) ** k) ** j / (2 * self.ratio))


def outline(blade: Blade, knots: int = 6) -> tuple[list[complex], list[int]]:
    """Knots of the closed outline, base at 0, tip at 1 of the real axis, and which of them are corners."""
    if blade.teeth:
        return _toothed(blade)
    stations = [_eased(i / (2 * knots), blade.widest) for i in range(2 * knots + 1)]
    if blade.waves:
        stations = [i / (4 * blade.waves) for i in range(4 * blade.waves + 1)]
    side = []
    for t in stations:
        width = blade.half(t)
        if blade.waves:
            width += 0.018 * math.sin(2 * math.pi * blade.waves * t) * min(1.0, 6 * t * (1 - t))
        side.append(complex(t, width))
    corners = [0, len(side) - 1]
    if blade.notch:
        side = [z for z in side if z.real < 1 - 0.45 * blade.notch or z.imag > 0.3 / blade.ratio * blade.notch]
        side, corners = _notched(blade, side)
    elif blade.tip in ("rounded", "blunt"):
        corners = [0]
    other = [z.conjugate() for z in reversed(side[1:-1])]
    if blade.base in ("rounded", "square", "blunt"):
        corners = [c for c in corners if c]
    return side + other, corners


def _eased(s: float, widest: float) -> float:
    # Knots stand close where the outline bends: at both ends and at the widest point.
    if s < 0.5:
        return widest * (1 - math.cos(math.pi * s))
    return widest + (1 - widest) * math.sin(math.pi * (s - 0.5))


def _notched(blade: Blade, side: list[complex]) -> tuple[list[complex], list[int]]:
    """The side with its tip cut in: two lobes and a notch between them."""
    lobe = 0.55 * blade.notch + 0.012
    kept = [z for z in side if z.real <= 1 - 1.2 * lobe and z.imag > lobe] or side[:-2]
    first = side.index(kept[0])
    kept = side[:first] + kept
    kept += [complex(1 - 0.25 * lobe, 1.35 * lobe), complex(1, 0.72 * lobe), complex(1 - blade.notch, 0)]
    return kept, [0, len(kept) - 1]


def _toothed(blade: Blade) -> tuple[list[complex], list[int]]:
    side = [0j]
    for i in range(blade.teeth):
        a, b = (0.06 + 0.88 * (i + s) / blade.teeth for s in (0.1, 0.95))
        side += [complex(a, 0.86 * blade.half(a)), complex(b, 1.1 * blade.half(b) + 0.006)]
    side.append(1 + 0j)
    points = side + [z.conjugate() for z in reversed(side[1:-1])]
    return points, list(range(len(points)))


def veins(blade: Blade, pairs: int = 6) -> Iterator[list[complex]]:
    """The middle vein, then the side veins, each from the middle vein towards the edge."""
    yield [0j, complex(0.96 - blade.notch, 0)]
    for i in range(pairs):
        start = 0.08 + 0.72 * i / pairs
        # A side vein leaves at about 45 degrees and bends towards the tip; it ends short of the edge.
        end = min(0.95 - blade.notch, start + 0.11 + 0.36 * blade.half(start + 0.08))
        reach = 0.84 * blade.half(end)
        for side in (1, -1):
            bend = complex(start + 0.42 * (end - start), 0.55 * reach * side)
            yield [complex(start, 0), bend, complex(end, reach * side)]


@dataclass(frozen=True, slots=True)
class Place:
    """Where a leaf lies: its base on the plate, its turn in degrees (-90 is up), length in units, bend in degrees."""

    base: complex
    turn: float
    length: float
    bend: float = 0.0

    def put(self, points: list[complex]) -> list[complex]:
        return placed(points, self.base, self.turn, self.length, self.bend)

    def point(self, t: float, across: float = 0.0) -> complex:
        """A point of the blade: `t` along it and `across` its axis, in blade lengths."""
        return self.put([complex(t, across)])[0]


def draw_leaf(
    sheet: Sheet,
    blade: Blade,
    place: Place,
    *,
    weight: float = OUTLINE,
    fill: Fill | None = "wash",
    pairs: int = 6,
    part: str = "",
    vein: float = VEIN,
    knots: int = 6,
) -> list[complex]:
    """Draw a blade with its veins; the outline's knots on the plate come back."""
    points, corners = outline(blade, knots)
    edge = place.put(points)
    sheet.line(edge, weight, part=part, closed=True, fill=fill, corners=corners, angular=bool(blade.teeth))
    if vein:
        first, *rest = veins(blade, pairs)
        sheet.line(place.put(_filled(first)) if place.bend else place.put(first), vein * 1.25)
        sheet.lines((place.put(v) for v in rest), vein * 0.8 if vein > HAIR else vein, curved=True)
    return edge


def _filled(ends: list[complex]) -> list[complex]:
    return [ends[0] + (ends[-1] - ends[0]) * i / 4 for i in range(5)]


def stalk(sheet: Sheet, points: list[complex], *, wide: float = 2.6, weight: float = OUTLINE, part: str = "") -> None:
    """A leaf stalk as a band along the points, its axis drawn unseen for those who measure."""
    left, right = [], []
    for i, z in enumerate(points):
        ahead = points[min(i + 1, len(points) - 1)] - points[max(i - 1, 0)]
        normal = 1j * ahead / abs(ahead) * wide / 2
        left.append(z + normal)
        right.append(z - normal)
    edge = left + right[::-1]
    n = len(left)
    sheet.line(edge, weight, part=part, closed=True, fill="paper", corners=(0, n - 1, n, 2 * n - 1))


def small_leaf(sheet: Sheet, blade: Blade, place: Place, *, weight: float = OUTLINE, fill: Fill = "wash") -> None:
    """A leaf of a small drawing: four knots, no veins."""
    half = blade.half(blade.widest)
    edge = place.put([0j, complex(blade.widest, half), 1 + 0j, complex(blade.widest, -half)])
    corners = (0,) if blade.tip in ("rounded", "blunt") else (0, 2)
    sheet.line(edge, weight, closed=True, fill=fill, corners=corners)


def ridge(sheet: Sheet, points: list[complex], wide: float, *, weight: float = VEIN, fill: Fill = "paper") -> None:
    """A vein that stands out: a band along the points that runs to a point at their end."""
    left, right = [], []
    for i, z in enumerate(points[:-1]):
        ahead = points[i + 1] - points[max(i - 1, 0)]
        normal = 1j * ahead / abs(ahead) * wide / 2 * (1 - 0.35 * i / len(points))
        left.append(z + normal)
        right.append(z - normal)
    n = len(left)
    sheet.line([*left, points[-1], *right[::-1]], weight, closed=True, fill=fill, corners=(0, n, 2 * n))
