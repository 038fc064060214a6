"""Where the petiole ends and the blade begins: the change-point of the width, and of the colour beside the midrib.

From the foot on, the width is that of a petiole that may widen towards the blade; from the junction J on, a lamina is
added that grows as a power of the distance from J:

    w(s) = a + b exp(-(J - s) / λ) + c max(0, s - J)^k

The same holds for the width that has the lamina's colour, with no petiole in it. Every J on a grid is fitted by linear
least squares for each λ and k; the sum of squares over the grid is the evidence.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tepal.leaf._along import Axis, normals
from tepal.leaf._ground import Floats

Line = NDArray[np.float64]
# As shares of the blade: what each clue errs beyond its sd, and how much earlier than the margin colour shows the
# lamina. Measured on photos drawn by two hands with seeds of their own, where margins that begin slowly let the width
# err by 2 to 8 % and the colour by 1 %; on real leaves, of which points are known to 1 %, both err alike.
_WIDTH_SD, _COLOUR_SD, _COLOUR_EARLY = 0.015, 0.013, 0.004
# In standard deviations: how far apart two colours must be to be a clue, and from where on it is a good one.
_APART, _WELL_APART = 1.5, 4.0
_POWERS = (0.35, 0.5, 0.7, 0.85, 1.0, 1.25, 1.6)


@dataclass(frozen=True)
class Junction:
    """Place along the axis and its sd, in working pixels; `clues` are the single estimates that it is made of."""

    at: float
    sd: float
    clues: dict[str, float]


def first_guess(axis: Axis) -> tuple[float, float, float]:
    """A rough junction, the width there, and the place of the widest point."""
    w, s = axis.width, axis.along
    n = len(w)
    smooth = np.convolve(np.pad(w, 4, mode="edge"), np.ones(9) / 9, mode="valid")
    widest = int(np.argmax(np.where(np.arange(n) < 0.97 * n, smooth, 0)))
    top = smooth[widest]
    # Backwards from the widest point to where it is thin, then on to where it stops becoming thinner.
    below = np.nonzero(smooth[: widest + 1] < 0.25 * top)[0]
    rough = int(below[-1]) if len(below) else 0
    stalk = smooth[: rough + 1]
    thin = (
        float(np.median(stalk[len(stalk) // 6 : max(len(stalk) // 6 + 1, int(0.85 * len(stalk)))]))
        if len(stalk)
        else 0.0
    )
    thin = min(thin, 0.22 * top)
    lift = thin + 0.07 * (top - thin)
    below = np.nonzero(smooth[: widest + 1] < lift)[0]
    rough = int(below[-1]) if len(below) else 0
    return float(s[rough]), thin, float(s[widest])


def change_point(
    s: Line, w: Line, grid: Line, noise: Line, *, flares: tuple[float, ...] = (0.0,)
) -> tuple[float, float, float]:
    """The best J of a grid, its sd from the curvature of the sum of squares, and the power of the growth after it."""
    weight = 1.0 / noise
    y = w * weight
    cost = np.full((len(grid), len(_POWERS), len(flares)), np.inf)
    past = np.clip(s[None, :] - grid[:, None], 0, None)
    before = np.clip(grid[:, None] - s[None, :], 0, None)
    scale = max(float(past.max()), 1.0)
    for b, flare in enumerate(flares):
        columns = [np.broadcast_to(weight, past.shape)]
        if flare:
            columns.append(np.exp(-before / flare) * weight)
        for a, k in enumerate(_POWERS):
            design = np.stack([*columns, (past / scale) ** k * weight], axis=2)
            normal = np.einsum("jnp,jnq->jpq", design, design) + 1e-9 * np.eye(design.shape[2])
            right = np.einsum("jnp,n->jp", design, y)
            x = np.linalg.solve(normal, right[..., None])[..., 0]
            rest = float(y @ y) - np.einsum("jp,jp->j", x, right)
            bad = x[:, -1] <= 0
            if flare:
                bad |= (x[:, 1] < 0) | (x[:, 1] > 2.5 * np.abs(x[:, 0]) + 1.0)
            cost[:, a, b] = np.where(bad, np.inf, rest)
    least = float(cost.min())
    if not np.isfinite(least):
        return float("nan"), float("inf"), 1.0
    # Neighbouring rows of pixels err together: a quarter of them count. What the model lacks widens it too.
    free = max(4.0, len(s) / 4 - 4)
    scale_ = max(1.0, least / len(s)) * len(s) / free
    chance = np.exp(-0.5 * (cost - least) / scale_)
    weights = chance.sum(axis=(1, 2))
    weights /= weights.sum()
    at = float(weights @ grid)
    sd = float(np.sqrt(weights @ (grid - at) ** 2))
    power = float((chance.sum(axis=(0, 2)) @ np.array(_POWERS)) / chance.sum())
    return at, sd, power


def lamina_width(
    axis: Axis, seen: Floats, guess: float, thin: float, *, low: float, high: float
) -> tuple[Line, Line, float]:
    """Along the axis from `low` to `high`: how much of the width has the lamina's colour, in pixels; and how far the
    colours of petiole and lamina are apart, in their standard deviations."""
    s, blade = axis.along, axis.along[-1] - guess
    rows = np.nonzero((s >= low) & (s <= high))[0]
    reach = int(np.ceil(max(6.0, min(0.2 * blade, float(axis.width[rows].max()) / 2))))
    off = np.arange(-reach, reach + 1, dtype=float)
    colours = _strip(axis, seen, rows, off)
    inside = (off[None, :] <= axis.left[rows, None] - 0.5) & (-off[None, :] <= axis.right[rows, None] - 0.5)
    stalk = (s[rows] < guess - 0.04 * blade) & (s[rows] > guess - 0.3 * blade)
    middle = np.abs(off) <= max(1.0, 0.3 * thin)
    petiole = colours[stalk][:, middle][inside[stalk][:, middle]]
    later = np.nonzero((s > guess + 0.08 * blade) & (s < guess + 0.45 * blade))[0][::3]
    wide = np.arange(-int(0.3 * blade), int(0.3 * blade) + 1, 3, dtype=float)
    far = _strip(axis, seen, later, wide)
    share = np.where(
        wide[None, :] >= 0,
        wide[None, :] / np.maximum(axis.left[later, None], 1),
        -wide[None, :] / np.maximum(axis.right[later, None], 1),
    )
    lamina = far[(share > 0.3) & (share < 0.85)]
    if len(petiole) < 12 or len(lamina) < 30:
        return s[rows], np.zeros(len(rows)), 0.0
    a, b = np.median(petiole, axis=0), np.median(lamina, axis=0)
    scatter = _spread(petiole - a) + _spread(lamina - b) + np.diag([0.03**2, 0.015**2, 0.015**2])
    way = np.linalg.solve(scatter, b - a)
    apart = float(np.sqrt(max(way @ (b - a), 0.0) * 2))
    q = np.clip(((colours - a) @ way) / max(float(way @ (b - a)), 1e-9), 0, 1)
    return s[rows], np.asarray((q * inside).sum(axis=1)), apart


def _strip(axis: Axis, seen: Floats, rows: NDArray[np.intp], off: Line) -> Line:
    normal = normals(axis.points)[rows]
    at = axis.points[rows, None, :] + off[None, :, None] * normal[:, None, :]
    x = np.clip(np.rint(at[..., 0]).astype(np.intp), 0, seen.shape[1] - 1)
    y = np.clip(np.rint(at[..., 1]).astype(np.intp), 0, seen.shape[0] - 1)
    return np.asarray(seen[y, x], dtype=np.float64)


def _spread(away: Line) -> Line:
    limit = 3 * 1.4826 * np.median(np.abs(away), axis=0) + 1e-3
    inside = away[np.all(np.abs(away) < limit, axis=1)]
    return np.asarray(inside.T @ inside / max(len(inside), 1))


def locate(axis: Axis, seen: Floats | None = None) -> Junction:
    s = axis.along
    guess, thin, widest = first_guess(axis)
    blade = s[-1] - guess
    low, high = max(0.0, guess - 0.45 * blade), min(guess + 0.2 * blade, guess + 0.8 * (widest - guess))
    low = min(low, max(0.0, guess - 10))
    use = (s >= low + min(0.1 * (guess - low), 12)) & (s <= high)
    grid = np.arange(max(low, guess - 0.15 * blade), min(high, guess + 0.1 * blade), max(1.0, blade / 400))
    flares = (0.0, 0.02 * blade, 0.05 * blade, 0.12 * blade)
    clues = {"guess": guess}
    if len(grid) < 3 or use.sum() < 6:
        # It is nowhere wider, or all the way to its end: no leaf with a petiole, as is told when that is looked at.
        return Junction(guess, max(blade, 1.0), clues)
    noise = np.sqrt(0.6**2 + (0.06 * np.clip(axis.width - thin, 0, None)) ** 2)
    at, sd, power = change_point(s[use], axis.width[use], grid, noise[use], flares=flares)
    clues["width"] = at
    clues["width_sd"] = sd
    clues["power"] = power
    if seen is not None:
        where, amount, apart = lamina_width(axis, seen, guess, thin, low=float(s[use][0]), high=high)
        clues["apart"] = apart
        if apart > _APART:
            grain = np.sqrt(0.8**2 + (0.08 * amount) ** 2)
            clues["colour"], clues["colour_sd"], _ = change_point(where, amount, grid, grain)
    return _together(clues, blade)


def _together(clues: dict[str, float], blade: float) -> Junction:
    """The clues weighed by what they err: by their own evidence, and by what all of their kind err besides."""
    told = []
    if np.isfinite(clues["width"]):
        told.append((clues["width"], np.hypot(clues["width_sd"], _WIDTH_SD * blade)))
    if np.isfinite(clues.get("colour", np.nan)):
        alike = max(1.0, _WELL_APART / clues["apart"])
        told.append((clues["colour"] + _COLOUR_EARLY * blade, np.hypot(clues["colour_sd"], _COLOUR_SD * alike * blade)))
    if not told:
        return Junction(clues["guess"], 0.06 * blade, clues)
    weights = np.array([1 / sd**2 for _, sd in told])
    places = np.array([place for place, _ in told])
    at = float(weights @ places / weights.sum())
    # What two clues are apart is doubt that neither knows of.
    apart = float(np.sqrt(weights @ (places - at) ** 2 / weights.sum()))
    return Junction(at, float(np.sqrt(1 / weights.sum() + apart**2)), clues)
