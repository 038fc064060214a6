"""Points in the plane as complex numbers: smooth curves through them, placing, bending, hatching, scattering.

Plate coordinates: x to the right, y down, 100 units wide. A turn of -90 degrees points up the page.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable, Iterator, Sequence

Points = Sequence[complex]
UP = -90.0


def number(value: float) -> str:
    """A number with at most one decimal, written short."""
    text = f"{value:.1f}".removesuffix(".0")
    if text in ("-0", "0"):
        return "0"
    return text.replace("0.", ".", 1) if text.startswith(("0.", "-0.")) else text


def at(z: complex) -> str:
    """A point as path data."""
    z = _rounded(z) / 10
    return f"{number(z.real)} {number(z.imag)}"


def _rounded(z: complex) -> complex:
    # To tenths, so that steps from point to point add up to what was meant.
    return complex(round(z.real * 10), round(z.imag * 10))


def _steps(points: Iterable[complex], start: complex) -> str:
    """Points in tenths as steps from `start`; a minus sign parts numbers as well as a space does."""
    texts = [number(part / 10) for z in points for part in ((z - start).real, (z - start).imag)]
    return "".join(f" {t}" if i and t[0] != "-" else t for i, t in enumerate(texts))


def straight(points: Points, *, closed: bool = False) -> str:
    """Path data of straight lines through the points."""
    here = _rounded(points[0])
    parts = [f"M{at(points[0])}"]
    for z in map(_rounded, points[1:]):
        if z != here:
            parts.append("l" + _steps([z], here))
            here = z
    return "".join(parts) + ("h0" if len(parts) == 1 else "") + ("z" if closed else "")


def smooth(points: Points, *, closed: bool = False, corners: Iterable[int] = ()) -> str:
    """Path data of cubic curves through the points, with a break of direction at each corner (an index)."""
    n, sharp = len(points), {index % len(points) for index in corners}
    if n < 3:
        return straight(points, closed=closed)

    def along(i: int, ahead: bool) -> complex:
        ends = not closed and i in (0, n - 1)
        if ends or i in sharp:
            other = points[(i + 1) % n] if ahead else points[i - 1]
            return _unit(other - points[i] if ahead else points[i] - other)
        return _unit(points[(i + 1) % n] - points[i - 1])

    parts = [f"M{at(points[0])}"]
    for i in range(n if closed else n - 1):
        a, b = points[i], points[(i + 1) % n]
        reach = abs(b - a) / 3
        handles = (a + reach * along(i, True), b - reach * along((i + 1) % n, False), b)
        parts.append("c" + _steps(map(_rounded, handles), _rounded(a)))
    return "".join(parts) + ("z" if closed else "")


def scalloped(points: Points, bulge: float) -> str:
    """Path data of a closed outline of lumps: one from each point to the next, rounded outwards.

    The points run clockwise on the page. `bulge`: how far a lump stands out, in shares of its chord.
    """
    parts, n = [f"M{at(points[0])}"], len(points)
    for i, a in enumerate(points):
        b = points[(i + 1) % n]
        parts.append("q" + _steps(map(_rounded, (((a + b) / 2 - 1j * (b - a) * 2 * bulge), b)), _rounded(a)))
    return "".join(parts) + "z"


def _unit(z: complex) -> complex:
    return z / abs(z) if z else 0j


def placed(points: Points, where: complex, turn: float, size: float = 1.0, bend: float = 0.0) -> list[complex]:
    """The points with their real axis turned by `turn` degrees and scaled; `bend` degrees of turn over unit length."""
    out = cmath.rect(size, math.radians(turn))
    k = math.radians(bend)
    return [where + out * (_bent(z, k) if k else z) for z in points]


def _bent(z: complex, k: float) -> complex:
    # The real axis becomes an arc of curvature k; what stands across it stays across it.
    heading = cmath.exp(1j * k * z.real)
    return (heading - 1) / (1j * k) + 1j * z.imag * heading


def mirrored(points: Points) -> list[complex]:
    """The other side of the real axis."""
    return [z.conjugate() for z in points]


def ellipse(centre: complex, across: float, along: float, turn: float = 0.0, knots: int = 8) -> list[complex]:
    """Knots of an ellipse with these half axes."""
    spin = cmath.rect(1, math.radians(turn))
    angles = (2 * math.pi * i / knots for i in range(knots))
    return [centre + spin * complex(across * math.cos(a), along * math.sin(a)) for a in angles]


def arc(centre: complex, radius: float, start: float, end: float, knots: int = 6) -> list[complex]:
    """Knots of an arc from `start` to `end` degrees."""
    return [centre + cmath.rect(radius, math.radians(start + (end - start) * i / (knots - 1))) for i in range(knots)]


def crescent(centre: complex, radius: float, start: float, end: float, wide: float) -> list[complex]:
    """Knots of a sickle along an arc, `wide` at its middle and pointed at both ends (knots 0 and 6)."""
    outer = arc(centre, radius, start, end, 7)
    inner = [centre + (z - centre) * (1 - wide / radius * math.sin(math.pi * i / 6)) for i, z in enumerate(outer)]
    return outer + inner[5:0:-1]


def between(a: complex, b: complex, t: float) -> complex:
    return a + (b - a) * t


def spread(n: int, *, seed: int = 0) -> Iterator[tuple[float, float]]:
    """n points of the unit square, evenly and without pattern: the R2 sequence of the plastic number."""
    g = 1.32471795724474602596
    for i in range(1 + seed, n + 1 + seed):
        yield (0.5 + i / g) % 1.0, (0.5 + i / g**2) % 1.0


def hatch(outline: Points, step: float, turn: float, *, holes: Sequence[Points] = ()) -> list[tuple[complex, complex]]:
    """Parallel strokes, `step` apart and at `turn` degrees, inside the outline and outside the holes."""
    spin = cmath.rect(1, math.radians(-turn))
    rings = [[z * spin for z in ring] for ring in (outline, *holes)]
    low = min(z.imag for z in rings[0])
    high = max(z.imag for z in rings[0])
    strokes = []
    for k in range(math.ceil(low / step), math.floor(high / step) + 1):
        y = k * step
        # Even-odd: a stroke runs from each odd crossing of the rings to the next even one.
        xs = sorted(x for ring in rings for x in _crossings(ring, y))
        strokes += [(complex(a, y) / spin, complex(b, y) / spin) for a, b in zip(xs[::2], xs[1::2], strict=False)]
    return strokes


def _crossings(ring: Points, y: float) -> Iterator[float]:
    for a, b in zip(ring, [*ring[1:], ring[0]], strict=True):
        if (a.imag <= y) != (b.imag <= y):
            yield a.real + (b.real - a.real) * (y - a.imag) / (b.imag - a.imag)


def inside(z: complex, ring: Points) -> bool:
    """Whether the point lies inside the ring."""
    return sum(x < z.real for x in _crossings(ring, z.imag)) % 2 == 1
