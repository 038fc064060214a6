"""The blade's outline: which of the flora's shapes it comes nearest to, a notch in its tip, a pale mark across it.

The shapes are drawn from their geometry, each as a small family: half-width along the blade against its greatest, and
length over width. The share of a shape is how well its family fits, against the others.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from itertools import product
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from tepal.leaf._along import Axis, normals
from tepal.leaf._find import Scene
from tepal.leaf._ground import Bools

Line = NDArray[np.float64]
_AT = np.linspace(0.04, 0.96, 24)
# How far a blade of a shape strays from its drawing: in half-widths, and in the logarithm of length over width.
_PROFILE_SD, _SLIM_SD = 0.075, 0.22
# Shares are softened, and none is nought, so that of what is told with a share of 0.65 about two thirds are so; set on
# drawings by two hands, whose shapes agree with these families in part.
_TEMPER, _FLOOR = 1.5, 0.03


def _rounded(peak: float, full: float) -> Line:
    """Zero at both ends, 1 at `peak`; a parabola for peak ½ and full 2, fuller below that, more pointed above."""
    return np.asarray(((_AT / peak) ** peak * ((1 - _AT) / (1 - peak)) ** (1 - peak)) ** full)


def _straight(peak: float) -> Line:
    return np.asarray(np.minimum(_AT / peak, (1 - _AT) / (1 - peak)))


@lru_cache(maxsize=1)
def families() -> Mapping[str, tuple[tuple[Line, float], ...]]:
    """Outline (a state of leaf_outline) → its drawings, each a profile and the log of length / width."""
    found: dict[str, list[tuple[Line, float]]] = {}

    def add(name: str, profiles: list[Line], slim: tuple[float, ...]) -> None:
        found[name] = [(profile, float(np.log(ratio))) for profile, ratio in product(profiles, slim)]

    stout = (1.1, 1.4, 1.8, 2.2, 2.6)
    add("ovate", [_rounded(p, f) for p, f in product((0.25, 0.32, 0.38, 0.44, 0.48), (1.2, 1.7, 2.2))], stout)
    add(
        "lanceolate",
        [_rounded(p, f) for p, f in product((0.25, 0.33, 0.42, 0.5), (1.4, 2.0, 2.6))],
        (3.0, 3.6, 4.4, 5.4),
    )
    add("linear", [_rounded(p, f) for p, f in product((0.4, 0.5), (0.3, 0.6, 1.0))], (6.5, 8.0, 11.0))
    add("triangular", [_straight(p) for p in (0.06, 0.1, 0.15, 0.2)], stout)
    add("rhombic", [_straight(p) for p in (0.33, 0.4, 0.46, 0.52)], stout)
    add(
        "obovate_spatulate",
        [_rounded(p, f) for p, f in product((0.54, 0.6, 0.68, 0.76), (1.2, 1.7, 2.2))],
        (*stout, 3.2),
    )
    return MappingProxyType({name: tuple(rows) for name, rows in found.items()})


def profile(axis: Axis, junction: float) -> tuple[Line, float]:
    """The blade's half-width at a fixed grid against its greatest, and the logarithm of its length over its width."""
    blade = float(axis.along[-1]) - junction
    width = np.interp(junction + _AT * blade, axis.along, ndimage.gaussian_filter1d(axis.width, 2))
    top = max(float(width.max()), 1e-6)
    return width / top, float(np.log(max(blade / top, 1e-6)))


def outline_shares(axis: Axis, junction: float) -> Mapping[str, float]:
    """State of `leaf_outline` → share, summing to 1; the likeliest first."""
    seen, slim = profile(axis, junction)
    fit: dict[str, float] = {}
    # Neighbouring widths err together: a quarter of the grid counts.
    free = len(_AT) / 4
    for name, rows in families().items():
        off = np.array(
            [
                free * np.mean((seen - drawn) ** 2) / _PROFILE_SD**2 + ((slim - ratio) / _SLIM_SD) ** 2
                for drawn, ratio in rows
            ]
        )
        # The nearest few drawings of a family, not their number, say how well it fits.
        fit[name] = float(np.mean(np.sort(off)[:3]))
    least = min(fit.values())
    weights = {name: float(np.exp(-0.5 * (value - least) / _TEMPER)) for name, value in fit.items()}
    total = sum(weights.values())
    shares = {name: (1 - _FLOOR) * weight / total + _FLOOR / len(weights) for name, weight in weights.items()}
    return dict(sorted(shares.items(), key=lambda item: -item[1]))


def notch_depth(mask: Bools, axis: Axis, junction: float) -> float:
    """Depth of a notch in the tip as a share of the blade: how far the blade reaches past the end of its axis.

    Both sides must reach past it: one alone is a slanting tip.
    """
    blade = float(axis.along[-1]) - junction
    back = max(4, int(0.06 * blade))
    ahead = axis.points[-1] - axis.points[-1 - back]
    ahead = ahead / max(float(np.linalg.norm(ahead)), 1e-9)
    side = np.array([-ahead[1], ahead[0]])
    reach = []
    for sign in (1.0, -1.0):
        across = np.arange(0.5, 0.12 * blade, 0.5)
        along = np.arange(0.0, 0.12 * blade, 0.5)
        grid = axis.points[-1] + sign * across[:, None, None] * side + along[None, :, None] * ahead
        inside = ndimage.map_coordinates(mask.astype(np.float32), [grid[..., 1], grid[..., 0]], order=1) > 0.5
        reach.append(float(along[np.nonzero(inside.any(axis=0))[0][-1]]) if inside.any() else 0.0)
    return min(reach) / max(blade, 1e-6)


def chevron(scene: Scene, axis: Axis, junction: float) -> str:
    """`present`, `absent` or `cannot_tell`: one pale V across the blade, its point toward the tip or the base.

    Lightness is averaged along Vs of several slants, on each half by itself; a mark stands out on both, alone, where
    veins come in rows.
    """
    if scene.grey:
        return "cannot_tell"
    blade = float(axis.along[-1]) - junction
    rows = np.nonzero((axis.along > junction + 0.12 * blade) & (axis.along < junction + 0.92 * blade))[0]
    if len(rows) < 60:
        return "cannot_tell"
    normal = normals(axis.points)[rows]
    best = 0.0
    grain = 1.0
    halves = []
    for sign, side in ((1.0, axis.left), (-1.0, axis.right)):
        share = np.linspace(0.15, 0.75, 12)
        off = share[None, :] * side[rows, None]
        at = axis.points[rows, None, :] + sign * off[..., None] * normal[:, None, :]
        x = np.clip(np.rint(at[..., 0]).astype(np.intp), 0, scene.seen.shape[1] - 1)
        y = np.clip(np.rint(at[..., 1]).astype(np.intp), 0, scene.seen.shape[0] - 1)
        light = scene.seen[y, x, 0].astype(np.float64)
        halves.append((light - ndimage.gaussian_filter(light, (0.1 * blade, 2)), off))
    for slant in (-1.2, -0.9, -0.6, 0.6, 0.9, 1.2):
        both = []
        for light, off in halves:
            place = np.rint(np.arange(len(rows))[:, None] + slant * off + len(rows)).astype(np.intp)
            total = np.bincount(place.ravel(), light.ravel(), minlength=3 * len(rows))
            count = np.bincount(place.ravel(), minlength=3 * len(rows))
            mean = np.where(count >= 6, total / np.maximum(count, 1), 0.0)
            both.append(ndimage.gaussian_filter1d(mean, max(1.5, 0.012 * blade)))
        together = np.minimum(*both)
        told = together[together != 0]
        spread = (1.4826 * float(np.median(np.abs(told))) if len(told) else 0.0) + 1e-3
        peak = int(np.argmax(together))
        away = np.abs(np.arange(len(together)) - peak) > 0.12 * blade
        second = float(together[away].max()) if away.any() else 0.0
        height = float(together[peak])
        if height > best and height > 2.0 * max(second, 0.0):
            best, grain = height, spread
    if best > 0.07 and best > 3.5 * grain:
        return "present"
    return "absent" if best < 0.035 else "cannot_tell"
