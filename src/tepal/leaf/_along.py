"""How wide a leaf is along a line that it follows, and where it ends."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from tepal.leaf._ground import Bools

Line = NDArray[np.float64]
# Shares of the blade: how far aside a notch is looked for, and the least depth; and by how many pixels a mask reaches
# past the end of a petiole, its last pixels being half ground.
_NOTCH_WIDE, _LEAST_NOTCH, _OVER = 0.08, 0.006, 1


@dataclass(frozen=True)
class Axis:
    """A curve (n, 2; x, y in working pixels), `along` it from the foot, and to each side the width to the margin.

    `left`, `right`: distance along the normal to the first pixel that is no leaf, so that lobes which reach back beside
    the petiole do not count as its width. `ends`: uncertainty (sd) of foot and tip along the curve.
    """

    points: Line
    along: Line
    left: Line
    right: Line

    @property
    def width(self) -> Line:
        return np.asarray(self.left + self.right)


def normals(points: Line) -> Line:
    tangent = np.gradient(points, axis=0)
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-9)
    return np.column_stack([-tangent[:, 1], tangent[:, 0]])


def resample(line: Line, step: float) -> Line:
    away = np.linalg.norm(np.diff(line, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(away)])
    keep = np.concatenate([[True], away > 1e-9])
    n = max(8, round(float(along[-1]) / step) + 1)
    at = np.linspace(0, along[-1], n)
    return np.column_stack([np.interp(at, along[keep], line[keep, k]) for k in (0, 1)])


def measure_along(mask: Bools, line: Line, root: float) -> Axis:
    """The widths along a line, after the line was drawn on to both ends of the leaf, and into a notch in its tip.

    `root`: where about the petiole ends along it.
    """
    soft = ndimage.gaussian_filter(mask.astype(np.float32), 0.7)
    line = _to_ends(soft, line)
    line = _into_notch(soft, line, max(40.0, len(line) - root))
    line = resample(line[_OVER:], 1.0)
    left, right = _sides(soft, line)
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    return Axis(line, along, left, right)


def _to_ends(soft: NDArray[Any], line: Line) -> Line:
    """The line cut or drawn on straight so that it ends where the leaf does."""
    for flip in (False, True):
        if flip:
            line = line[::-1]
        n = len(line)
        back = max(4, n // 25)
        way = line[0] - line[back]
        way = way / max(np.linalg.norm(way), 1e-9)
        reach = np.arange(1, max(30, n // 8))[:, None]
        longer = np.vstack([(line[0] + reach * way)[::-1], line])
        inside = _sample(soft, longer) > 0.5
        # From a little way in, outwards to the first pixel that is no leaf.
        start = len(reach) + max(3, n // 20)
        out = np.nonzero(~inside[:start])[0]
        first = int(out[-1]) + 1 if len(out) else 0
        if first > 0:
            a, b = _sample(soft, longer[first - 1 : first + 1])
            part = float(np.clip((b - 0.5) / max(b - a, 1e-6), 0, 1))
            start_point = longer[first] + part * (longer[first - 1] - longer[first])
            line = np.vstack([start_point, longer[first:]])
        else:
            line = longer
        line = resample(line, 1.0)
        if flip:
            line = line[::-1]
    return line


def _into_notch(soft: NDArray[Any], line: Line, blade: float) -> Line:
    """The line bent so that it ends at the bottom of a notch, if there is one beside its end.

    A notch lies between two lobes that both reach further ahead; the deepest counts.
    """
    back = line[-1] - line[-1 - int(0.08 * blade)]
    ahead = back / max(float(np.linalg.norm(back)), 1e-9)
    side = np.array([-ahead[1], ahead[0]])
    across = np.arange(-_NOTCH_WIDE * blade, _NOTCH_WIDE * blade, 0.5)
    along = np.arange(-_NOTCH_WIDE * blade, _NOTCH_WIDE * blade, 0.5)
    inside = _sample(soft, line[-1] + across[:, None, None] * side + along[None, :, None] * ahead) > 0.5
    # How far the leaf reaches without a gap.
    reach = along[np.argmin(np.column_stack([inside, np.zeros(len(across), dtype=bool)]), axis=1) - 1]
    reach = np.where(inside[:, 0], reach, along[0])
    low = np.minimum(np.maximum.accumulate(reach), np.maximum.accumulate(reach[::-1])[::-1]) - reach
    low[np.abs(across) > 0.7 * _NOTCH_WIDE * blade] = 0
    k = int(np.argmax(low))
    if low[k] < max(_LEAST_NOTCH * blade, 2.0):
        return line
    bottom = line[-1] + across[k] * side + reach[k] * ahead
    if reach[k] < 0:
        line = line[: len(line) + int(np.floor(reach[k]))]
    n = min(len(line) - 1, int(0.3 * blade))
    bend = (np.arange(1, n + 1) / n) ** 2
    return np.vstack([line[:-n], line[-n:] + bend[:, None] * across[k] * side, bottom])


def _sample(soft: NDArray[Any], points: Line) -> NDArray[Any]:
    return np.asarray(ndimage.map_coordinates(soft, [points[..., 1], points[..., 0]], order=1, mode="constant"))


def _sides(soft: NDArray[Any], line: Line) -> tuple[Line, Line]:
    normal = normals(_gentle(line))
    reach = int(np.ceil(0.75 * len(line)))
    step = 1.0
    offsets = np.arange(0, reach, step)
    found = []
    for sign in (1.0, -1.0):
        grid = line[:, None, :] + sign * offsets[None, :, None] * normal[:, None, :]
        values = ndimage.map_coordinates(soft, [grid[..., 1], grid[..., 0]], order=1, mode="constant")
        out = values < 0.5
        out[:, -1] = True
        first = np.argmax(out, axis=1)
        rows = np.arange(len(line))
        before = np.maximum(first - 1, 0)
        a, b = values[rows, before], values[rows, first]
        part = np.clip((a - 0.5) / np.maximum(a - b, 1e-6), 0, 1)
        found.append(np.where(first > 0, (before + part) * step, 0.0))
    return found[0], found[1]


def _gentle(line: Line) -> Line:
    return np.asarray(ndimage.gaussian_filter1d(line, max(2.0, 0.01 * len(line)), axis=0, mode="nearest"))
