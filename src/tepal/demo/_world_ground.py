"""Shapes and distances of the made world: rectangles, laps, distances to a line, points in a polygon."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

HALF_MILE = 804.672


def rectangle(width: float, height: float) -> FloatArray:
    return np.array([[-width, -height], [width, -height], [width, height], [-width, height]]) / 2


def laps(width: float, height: float, spacing: float) -> FloatArray:
    """A walk up and down the rows, so many metres apart."""
    points = []
    for k, east in enumerate(np.arange(-width / 2 + spacing / 2, width / 2, spacing)):
        ends = [[east, -height / 2 + 4], [east, height / 2 - 4]]
        points += ends if k % 2 == 0 else ends[::-1]
    return np.array(points)


def along(rng: np.random.Generator, line: FloatArray, n: int) -> FloatArray:
    """n places at even steps along a broken line, the first one at random: wherever they fall, shape = (n, 2)."""
    ends = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    steps = (rng.random() + np.arange(n)) / n * ends[-1]
    return np.column_stack([np.interp(steps, ends, line[:, k]) for k in (0, 1)])


def distance(points: FloatArray, line: FloatArray) -> FloatArray:
    """Distance of each point (shape = (n, 2)) to a broken line (shape = (m, 2)), metres."""
    best = np.full(len(points), np.inf)
    for a, b in pairwise(line):
        along = np.clip(((points - a) @ (b - a)) / ((b - a) @ (b - a)), 0, 1)
        best = np.minimum(best, np.hypot(*(points - a - along[:, None] * (b - a)).T))
    return best


def inside(points: FloatArray, corners: FloatArray) -> npt.NDArray[np.bool_]:
    """Which points (shape = (n, 2)) lie in a simple polygon, by the crossing rule."""
    x, y = points.T
    inside = np.zeros(len(points), dtype=bool)
    for (ax, ay), (bx, by) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        crosses = (ay > y) != (by > y)
        with np.errstate(divide="ignore", invalid="ignore"):
            inside ^= crosses & (x < (bx - ax) * (y - ay) / (by - ay) + ax)
    return inside
