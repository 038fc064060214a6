"""The curves below the drawings, against shapely, fontTools and closed forms."""

from __future__ import annotations

import cmath
import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon

from plates.measured import lines
from tepal.plates._curve import hatch, inside, placed, scalloped, smooth, spread, straight
from tepal.plates._leaf import ENDS, Blade, outline

coordinate = st.floats(0, 100, allow_nan=False).map(lambda v: round(v, 2))
point = st.builds(complex, coordinate, coordinate)


def star(radii: list[float]) -> list[complex]:
    n = len(radii)
    return [50 + 50j + cmath.rect(r, 2 * math.pi * i / n) for i, r in enumerate(radii)]


shapes = st.lists(st.floats(5, 45), min_size=5, max_size=12).map(star)


def as_polygon(ring: list[complex]) -> Polygon:
    return Polygon([(z.real, z.imag) for z in ring])


@given(shapes, st.floats(1.5, 6), st.floats(-90, 90))
def test_hatching_covers_as_much_as_shapely_would_clip(ring: list[complex], step: float, turn: float) -> None:
    strokes = hatch(ring, step, turn)
    shape = as_polygon(ring)
    for a, b in strokes:
        line = LineString([(a.real, a.imag), (b.real, b.imag)])
        assert line.difference(shape.buffer(1e-6)).length < 1e-6
    spin = cmath.rect(1, math.radians(turn))
    clipped = 0.0
    for k in range(math.floor(-150 / step), math.ceil(150 / step)):
        a, b = (complex(x, k * step) * spin for x in (-300, 300))
        clipped += LineString([(a.real, a.imag), (b.real, b.imag)]).intersection(shape).length
    assert sum(abs(b - a) for a, b in strokes) == pytest.approx(clipped, rel=1e-6, abs=1e-6)


@given(shapes, st.lists(point, min_size=1, max_size=20))
def test_inside_is_shapelys_inside(ring: list[complex], points: list[complex]) -> None:
    shape = as_polygon(ring)
    for z in points:
        if shape.exterior.distance(Point(z.real, z.imag)) > 1e-6:
            assert inside(z, ring) == shape.contains(Point(z.real, z.imag))


@settings(max_examples=40)
@given(st.lists(point, min_size=2, max_size=9), st.booleans())
def test_curves_pass_through_their_points(points: list[complex], closed: bool) -> None:
    for data in (smooth(points, closed=closed), straight(points, closed=closed)):
        drawn = [z for line in lines(data) for z in line]
        for z in points:
            # Coordinates are written in tenths.
            assert min(abs(z - other) for other in drawn) < 0.08


@given(st.integers(4, 12), st.floats(0.05, 0.4))
def test_lumps_stand_outwards_by_their_bulge(n: int, bulge: float) -> None:
    ring = [50 + 50j + cmath.rect(20, 2 * math.pi * i / n) for i in range(n)]
    (drawn,) = lines(scalloped(ring, bulge))
    chord = abs(ring[1] - ring[0])
    top = max(20, 20 * math.cos(math.pi / n) + bulge * chord)
    assert max(abs(z - 50 - 50j) for z in drawn) == pytest.approx(top, abs=0.2)
    assert as_polygon(drawn).area > as_polygon(ring).area


@given(st.floats(-170, 170), st.floats(-180, 180), st.floats(1, 80))
def test_a_bent_axis_keeps_its_length_and_turns_by_its_bend(bend: float, turn: float, size: float) -> None:
    n = 400
    axis = placed([complex(i / n, 0) for i in range(n + 1)], 3 + 4j, turn, size, bend)
    assert sum(abs(b - a) for a, b in pairwise(axis)) == pytest.approx(size, rel=1e-4)
    first, last = axis[1] - axis[0], axis[-1] - axis[-2]
    turned = math.degrees(cmath.phase(last / first))
    assert turned == pytest.approx(bend * (n - 1) / n, abs=1e-3)


@given(
    st.floats(1, 9), st.floats(0.15, 0.85), st.sampled_from(sorted(ENDS)), st.sampled_from(sorted(ENDS)),
    st.floats(0, 1),
)  # fmt: skip
def test_a_blade_is_widest_where_it_says_and_as_slender(
    ratio: float, widest: float, base: str, tip: str, t: float
) -> None:
    blade = Blade(ratio, widest, base, tip)
    assert 2 * blade.half(widest) == pytest.approx(1 / ratio)
    assert blade.half(t) <= blade.half(widest) + 1e-12
    assert blade.half(0) == pytest.approx(0, abs=1e-9)
    assert blade.half(1) == pytest.approx(0, abs=1e-9)
    points, _ = outline(blade)
    assert max(z.imag for z in points) == pytest.approx(0.5 / ratio)
    # The left side is the right one mirrored.
    sides = {(round(z.real, 9), round(z.imag, 9)) for z in points}
    assert {(x, -y) for x, y in sides} == sides


def test_an_elliptic_blade_fills_pi_quarters_of_its_box_and_a_rhomb_half() -> None:
    ends = {"rounded": math.pi / 4, "straight": 0.5}
    for end, share in ends.items():
        blade = Blade(2.0, 0.5, end, end)
        n = 20_000
        area = sum(2 * blade.half((i + 0.5) / n) for i in range(n)) / n
        assert area / (1 / blade.ratio) == pytest.approx(share, rel=0.02)


def test_spread_points_are_even() -> None:
    """Each of 16 boxes of the unit square gets its sixteenth, within a few points."""
    counts = [0] * 16
    for a, b in spread(1600):
        counts[4 * int(4 * a) + int(4 * b)] += 1
    assert min(counts) >= 94
    assert max(counts) <= 106
