"""What a plate shows, measured on its SVG: parts as polylines in plate units, read with fontTools' own path parser."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from xml.etree.ElementTree import Element

from defusedxml.ElementTree import fromstring
from fontTools.pens.recordingPen import RecordingPen
from fontTools.svgLib.path import parse_path
from shapely.geometry import MultiPoint, Polygon

SVG = "{http://www.w3.org/2000/svg}"
Line = list[complex]


def tree(svg: str) -> Element:
    return fromstring(svg)


def lines(data: str, steps: int = 12) -> list[Line]:
    """The subpaths of path data, curves taken at `steps` points each."""
    pen = RecordingPen()
    parse_path(data, pen)
    found: list[Line] = []
    for command, points in pen.value:
        zs = [complex(*point) for point in points]
        if command == "moveTo":
            found.append(zs)
        elif command == "lineTo":
            found[-1] += zs
        elif command == "curveTo":
            found[-1] += [_bezier([found[-1][-1], *zs], i / steps) for i in range(1, steps + 1)] if zs else []
        elif command == "qCurveTo":
            found[-1] += [_bezier([found[-1][-1], *zs], i / steps) for i in range(1, steps + 1)]
    return found


def _bezier(points: Line, t: float) -> complex:
    # De Casteljau, with the start kept: curves are walked from the same first point.
    points = list(points)
    while len(points) > 1:
        points = [a + (b - a) * t for a, b in pairwise(points)]
    return points[0]


def parts(svg: str, name: str) -> list[Line]:
    """Every subpath of the elements named so."""
    return [line for d in datas(svg, name) for line in lines(d)]


def datas(svg: str, name: str | None = None) -> Iterator[str]:
    for element in tree(svg).iter(f"{SVG}path"):
        if name is None or element.get("data-part") == name:
            yield element.attrib["d"]


def part(svg: str, name: str) -> Line:
    (found,) = parts(svg, name)
    return found


def box(*some: Line) -> tuple[float, float, float, float]:
    """left, top, right, bottom"""
    points = [z for line in some for z in line]
    xs, ys = [z.real for z in points], [z.imag for z in points]
    return min(xs), min(ys), max(xs), max(ys)


def size(*some: Line) -> tuple[float, float]:
    left, top, right, bottom = box(*some)
    return right - left, bottom - top


def polygon(line: Line) -> Polygon:
    return Polygon([(z.real, z.imag) for z in line])


def long_and_wide(line: Line) -> tuple[float, float]:
    """Length and width of a shape however it lies: the sides of its least rectangle."""
    ring = MultiPoint([(z.real, z.imag) for z in line]).minimum_rotated_rectangle.exterior.coords
    a, b = (abs(complex(*ring[i + 1]) - complex(*ring[i])) for i in (0, 1))
    return max(a, b), min(a, b)


def width_at(line: Line, y: float) -> float:
    """How wide an upright shape is at a height of the page."""
    xs = []
    for a, b in zip(line, [*line[1:], line[0]], strict=True):
        if (a.imag <= y) != (b.imag <= y):
            xs.append(a.real + (b.real - a.real) * (y - a.imag) / (b.imag - a.imag))
    return max(xs) - min(xs) if len(xs) > 1 else 0.0


def widest(line: Line) -> float:
    """Where an upright leaf is widest: 0 at its base (below), 1 at its tip."""
    _, top, _, bottom = box(line)
    n = 200
    widths = [(width_at(line, bottom - (bottom - top) * i / n), i / n) for i in range(1, n)]
    most = max(widths)[0]
    best = [t for width, t in widths if width > 0.995 * most]
    return sum(best) / len(best)


def length(line: Line) -> float:
    return sum(abs(b - a) for a, b in pairwise(line))
