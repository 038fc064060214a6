"""The line that a leaf follows from the foot of its petiole to its tip."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from tepal.leaf._along import Line, resample
from tepal.leaf._ground import Bools


def farthest(mask: Bools, starts: list[tuple[int, int]]) -> tuple[NDArray[Any], tuple[int, int]]:
    """Length of the shortest way inside `mask` from `starts` to each pixel (inf outside), and the farthest pixel."""
    from skimage.graph import MCP_Geometric

    cost = np.where(mask, 1.0, -1.0)
    way = MCP_Geometric(cost).find_costs(starts)[0]
    inside = np.where(np.isfinite(way), way, -1.0)
    at = np.unravel_index(int(np.argmax(inside)), inside.shape)
    return way, (int(at[0]), int(at[1]))


@dataclass(frozen=True)
class Limb:
    """A thin part that sticks out of a leaf's body: its far end, how far it reaches, and its half-width midway."""

    end: tuple[int, int]
    reach: float
    half: float
    blunt: float  # how wide its outer fifth is against the rest: 1 for a bar, a fifth for a point
    pixels: NDArray[np.intp]  # (n, 2) rows and columns
    corner: float  # the radius with which the body's corners were rounded


def limbs(mask: Bools) -> tuple[list[Limb], float]:
    """Thin parts of a leaf, the farthest-reaching first, and the radius of the largest circle in the leaf."""
    inner = ndimage.distance_transform_edt(np.pad(mask, 1))[1:-1, 1:-1]
    radius = float(inner.max())
    thick = 0.35 * radius
    way = ndimage.distance_transform_edt(inner <= thick) - thick - 0.5
    thin = mask & (way > 0)
    label, count = ndimage.label(thin, structure=np.ones((3, 3)))
    if not count:
        return [], radius
    found = []
    for k in range(1, count + 1):
        rows, columns = np.nonzero(label == k)
        if len(rows) < 6:
            continue
        far = way[rows, columns]
        order = int(np.argmax(far))
        reach = float(far.max() - far.min())
        if reach < 3:
            continue
        midway = np.abs(far - (far.min() + 0.6 * reach)) < max(1.5, 0.12 * reach)
        # Mean thickness midway: twice the mean distance to the margin, for a bar.
        half = 2.0 * float(inner[rows, columns][midway].mean()) if midway.any() else thick
        outward = (far - far.min()) / reach
        blunt = 3.0 * float((outward > 0.8).sum()) / max(float(((outward > 0.2) & (outward <= 0.8)).sum()), 1.0)
        found.append(
            Limb((int(rows[order]), int(columns[order])), reach, half, blunt, np.column_stack([rows, columns]), thick)
        )
    return sorted(found, key=lambda limb: -limb.reach), radius


def follow(mask: Bools, limb: Limb, others: list[Limb]) -> tuple[Line, float]:
    """A line from the foot of a petiole through the middle of the leaf to its tip, and where the petiole's limb ends.

    The petiole: middles of all that lies equally far from the foot. The blade: a cubic through the middles between its
    margins, as seen along the chord; margins with holes and lobes would pull anything freer about.
    """
    way, _ = farthest(mask, [limb.end])
    tip, pointed = _tip(mask, way)
    root = float(way[limb.pixels[:, 0], limb.pixels[:, 1]].max())
    stalk = _middles(way, limb)
    # Beside its root the limb takes in some of the blade's base, as far as the body's corners are rounded.
    spare = min(limb.corner, 0.45 * root)
    stalk = stalk[: max(2, len(stalk) - int(spare / _STEP))]
    stalk = _until_it_turns(stalk)
    start, end = stalk[-1], np.array([tip[1], tip[0]], dtype=float)
    # A drawn-out tip is followed like a petiole.
    drawn_out = [
        other for other in others
        if other is not limb
        and np.abs(np.subtract(other.end, tip)).sum() <= 6
        and other.half < 0.35 * other.corner
        and other.reach > max(0.06 * float(way[tip]), 1.5 * other.corner)
    ]  # fmt: skip
    body = mask.copy()
    body[limb.pixels[:, 0], limb.pixels[:, 1]] = False
    stalk = smooth(stalk, 0.06) if len(stalk) > 6 else stalk
    if drawn_out:
        rest = body.copy()
        rest[drawn_out[0].pixels[:, 0], drawn_out[0].pixels[:, 1]] = False
        point = _middles(way, drawn_out[0])
        point = np.vstack([point[min(len(point) - 1, int(0.4 * limb.corner / _STEP)) :], end])
        blade = np.vstack([_blade_line(rest, start, point[0], pinned=True), point[1:]])
        line = smooth(np.vstack([stalk[:-1], blade]), 0.012)
        # One half of a lopsided blade may look like a drawn-out tip: a midrib has no kink.
        if _straight_enough(line[int(0.8 * root) :]):
            return line, root
    blade = _blade_line(body, start, end, pinned=pointed)
    if not pointed:
        blade = _blade_line(body, start, blade[-1], pinned=False)
    return smooth(np.vstack([stalk[:-1], blade]), 0.012), root


_STEP = 3.0
_POINT = 0.355  # of a window at the tip of a blade, the share that is leaf


def _straight_enough(line: Line) -> bool:
    """Does a midrib nowhere turn by more than 30 degrees within a tenth of its length?"""
    over = max(2, len(line) // 20)
    step = line[over:] - line[:-over]
    before, after = step[:-over], step[over:]
    along = np.sum(before * after, axis=1) / (np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1) + 1e-9)
    return bool(len(along) == 0 or along.min() > 0.87)


def _until_it_turns(stalk: Line, over: int = 5) -> Line:
    """The line up to where it turns by more than 40 degrees within a few steps: there it has left the petiole."""
    for k in range(max(2 * over, len(stalk) // 2), len(stalk) - over):
        before, after = stalk[k] - stalk[k - over], stalk[k + over] - stalk[k]
        if before @ after < 0.77 * np.linalg.norm(before) * np.linalg.norm(after):
            return stalk[: k + 1]
    return stalk


def _middles(way: NDArray[Any], limb: Limb) -> Line:
    """The middles of a limb's pixels that lie equally far along the way."""
    rows, columns = limb.pixels.T
    bins = (way[rows, columns] / _STEP).astype(np.intp)
    bins -= bins.min()
    count = np.bincount(bins)
    full = count > 0
    return np.column_stack(
        [np.bincount(bins, columns)[full] / count[full], np.bincount(bins, rows)[full] / count[full]]
    )


def _tip(mask: Bools, way: NDArray[Any]) -> tuple[tuple[int, int], bool]:
    """The far end of the blade: the farther and the more pointed the better; and whether it is a point at all."""
    far = np.where(np.isfinite(way), way, 0.0)
    reach = float(far.max())
    share = ndimage.gaussian_filter(mask.astype(np.float32), max(3.0, 0.03 * reach))
    # A straight margin has half of the window in the leaf, a point less.
    score = far * (1 + 0.35 * (0.5 - share))
    at = np.unravel_index(int(np.argmax(np.where(far > 0.75 * reach, score, 0.0))), far.shape)
    # The corner of a blunt or notched tip is as sharp as a point, but not so large.
    near = ndimage.gaussian_filter(mask.astype(np.float32), max(3.0, 0.02 * reach))
    return (int(at[0]), int(at[1])), bool(near[at] < _POINT)


def _blade_line(body: Bools, start: Line, end: Line, *, pinned: bool) -> Line:
    """A cubic from `start` to `end`, or, not pinned, to where the middles lead: a blunt blade's far end is anywhere."""
    chord = end - start
    length = float(np.linalg.norm(chord))
    ahead = chord / max(length, 1e-9)
    rows, columns = np.nonzero(body)
    u = (columns - start[0]) * ahead[0] + (rows - start[1]) * ahead[1]
    v = -(columns - start[0]) * ahead[1] + (rows - start[1]) * ahead[0]
    step = max(2.0, length / 150)
    inside = (u > 0.04 * length) & (u < (0.97 if pinned else 0.9) * length)
    bins = (u[inside] / step).astype(np.intp)
    n = int(length / step) + 1
    low, high = np.full(n, np.inf), np.full(n, -np.inf)
    np.minimum.at(low, bins, v[inside])
    np.maximum.at(high, bins, v[inside])
    known = np.isfinite(low) & np.isfinite(high)
    at = (np.arange(n)[known] + 0.5) * step / length
    middle = 0.5 * (low[known] + high[known])
    # Zero at both ends: a parabola and its skew; and what the far end is off.
    terms = np.column_stack([at * (1 - at), at * (1 - at) * (at - 0.5), at])
    weight = np.ones(len(at))
    coefficients = np.zeros(3)
    for _ in range(4):
        if len(at) < 8:
            break
        scaled = terms * weight[:, None]
        ridge = np.diag([1e-6, 0.05, 1e9 if pinned else 1e-3]) * len(at) * 0.02
        coefficients = np.linalg.solve(scaled.T @ terms + ridge, scaled.T @ middle)
        away = np.abs(middle - terms @ coefficients)
        scale = max(1.4826 * float(np.median(away)), 0.004 * length)
        weight = 1 / (1 + (away / (1.5 * scale)) ** 2)
    # Midribs bend less than the middles of a lopsided or folded blade.
    most = np.array([0.32, 0.8, 0.3]) * length
    coefficients = most * np.tanh(coefficients / most)
    t = np.linspace(0, 1, 200)
    across = t * (1 - t) * (coefficients[0] + coefficients[1] * (t - 0.5)) + coefficients[2] * t
    return np.asarray(start + (t * length)[:, None] * ahead + across[:, None] * np.array([-ahead[1], ahead[0]]))


def smooth(line: Line, share: float, step: float = 1.0) -> Line:
    """Resampled at `step` pixels and smoothed by `share` of its length, the ends drawn on straight."""
    line = resample(line, step)
    n = len(line)
    sigma = max(2.0, share * n)
    pad = min(n - 1, int(3 * sigma))
    before = 2 * line[0] - line[pad:0:-1]
    after = 2 * line[-1] - line[-2 : -pad - 2 : -1]
    whole = ndimage.gaussian_filter1d(np.vstack([before, line, after]), sigma, axis=0)
    return resample(whole[len(before) : len(before) + n], step)
