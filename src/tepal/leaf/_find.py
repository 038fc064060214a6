"""Where the leaves are in a picture: everything unlike the ground that hangs together with something green."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from tepal.leaf._ground import Bools, Floats, Ground, coarse, features, greenness, model, smooth_fit
from tepal.leaf._join import joined
from tepal.leaf._light import fill_holes, full_size, glints, without_shadows
from tepal.leaf._rim import behind, two_grounds

# Thresholds on the distance from the ground, in its standard deviations.
_LIKE, _UNLIKE, _SURE = 3.6, 7.0, 8.0
_LEAST_GREEN, _LEAF_GREEN = 0.09, 0.14
_REACH = 25.0  # width of the window in which the ground is averaged, in pixels of the working picture
_LEAST_AREA = 0.0012
_BLUE = 0.1  # logarithm of blue over green


@dataclass(frozen=True)
class Piece:
    """One thing on the ground: `mask` over the whole picture, holes filled; `green` its share that is lamina-green."""

    mask: Bools
    area: int
    box: tuple[slice, slice]
    at_edge: bool


@dataclass(frozen=True)
class Scene:
    """What was found. `grey`: the picture has no colour, so that light against dark had to do."""

    seen: Floats
    ground: Ground | None
    pieces: tuple[Piece, ...]
    grey: bool
    green_ground: float
    restless: float  # sd of the ground's greenness
    lamina: Bools


def find(picture: np.ndarray, enlarged: float = 1.0) -> Scene:
    """Leaves in an upright RGB picture (h, w, 3; uint8) whose longer side is about 1,000 pixels; the largest first.

    `enlarged`: by how much the picture was made larger; then colours, of which cameras keep a quarter, are smeared.
    """
    seen = features(picture)
    small = coarse(seen)
    green = greenness(small)
    edge = _frame(green.shape)
    # A small leaf on white paper is all the colour that there is.
    if float(np.percentile(np.abs(small[..., 1:]), 99)) < 0.06 and np.mean(green > _LEAF_GREEN) < _LEAST_AREA:
        return _grey(seen, small[..., 0], edge)
    far = behind(small)
    fit, spread = _level(green, edge, far)
    above = green - fit
    level = max(_LEAST_GREEN, 5 * spread)
    core = above > level
    label, count = ndimage.label(core)
    typical = level
    if count:
        sizes = ndimage.sum_labels(core, label, np.arange(1, count + 1))
        # How green leaves are here: that of the largest green thing.
        typical = float(np.median(above[label == 1 + int(np.argmax(sizes))]))
        core = above > max(level, 0.4 * typical)
    taken = full_size(ndimage.binary_dilation(core, iterations=2), picture.shape[:2])
    ground = model(seen, taken, _REACH) if far is None else two_grounds(seen, taken, far, _REACH)
    lamina = full_size(core, picture.shape[:2])
    smear = float(np.clip(enlarged, 1.0, 2.0))
    local = ndimage.maximum_filter(ground.unlike, 2 * int(5 * smear) + 1)
    likely = ground.unlike > np.clip(0.45 * local, _LIKE, _UNLIKE * smear)
    likely = _filled(likely | (lamina & (ground.unlike > _LIKE)))
    likely = without_shadows(likely, ground, typical)
    likely &= ~glints(likely, ground, seen)
    likely = _closed(joined(likely, lamina, ground.unlike))
    return Scene(
        seen,
        ground,
        # A greenish cast that runs out of the picture is the light's, not a leaf's.
        tuple(piece for piece in _pieces(likely, lamina) if typical > _LEAF_GREEN or not piece.at_edge),
        False,
        _green(float(np.median(fit)), float(np.median(small[..., 2][edge]))),
        float(green[~core].std()) if (~core).any() else 0.0,
        lamina,
    )


def _level(green: Floats, edge: Bools, far: Bools | None) -> tuple[Floats, float]:
    """How green the ground is at each block, each of two grounds by itself; and the sd about it."""
    if far is None:
        middle = float(np.median(green[edge]))
        spread = 1.4826 * float(np.median(np.abs(green[edge] - middle)))
        return smooth_fit(green, np.abs(green - middle) < max(0.1, 4 * spread))
    fit, most = np.empty_like(green), 0.0
    for part in (far, ~far):
        some = part & edge if (part & edge).sum() > 60 else part
        middle = float(np.median(green[some]))
        spread = 1.4826 * float(np.median(np.abs(green[some] - middle)))
        one, spread = smooth_fit(green, part & (np.abs(green - middle) < max(0.1, 4 * spread)))
        fit[part], most = one[part], max(most, spread)
    return fit, most


def _green(level: float, blue: float) -> float:
    """How green the ground is, as leaves are: cloth that is bluer than green is none, however little red it has."""
    return level if blue < _BLUE else 0.0


def _grey(seen: Floats, light: Floats, edge: Bools) -> Scene:
    """Silhouettes and pictures without colour: two classes of lightness, the frame's being the ground."""
    from skimage.filters import threshold_otsu

    cut = float(threshold_otsu(light))  # type: ignore[no-untyped-call]
    dark = seen[..., 0] < cut
    if float(np.median(light[edge])) < cut:
        dark = ~dark
    two = light[light < cut], light[light >= cut]
    apart = abs(float(np.median(two[0]) - np.median(two[1]))) if min(len(t) for t in two) else 0.0
    # Less than half as bright again is a shadow, not a leaf.
    likely = _filled(dark) if apart > 0.4 else np.zeros_like(dark)
    return Scene(seen, None, _pieces(likely, likely), True, 0.0, 0.0, likely)


def _frame(shape: tuple[int, ...]) -> Bools:
    edge = np.ones(shape[:2], dtype=bool)
    m = max(2, min(shape[:2]) // 10)
    edge[m:-m, m:-m] = False
    return edge


def _filled(mask: Bools) -> Bools:
    closed = ndimage.binary_closing(mask, iterations=1) | mask
    return fill_holes(closed)


def _closed(likely: Bools, radius: int = 3) -> Bools:
    """Holes filled, those too that a crack of up to `radius` pixels to each side opens to the outside."""
    wide = ndimage.maximum_filter(likely.view(np.uint8), 2 * radius + 1).view(np.bool_)
    # Deep inside only: at the margin this would round off the corner between petiole and blade.
    deep = ndimage.minimum_filter(fill_holes(wide).view(np.uint8), 2 * (radius + 7) + 1).view(np.bool_)
    return np.asarray(likely | deep)


def _pieces(likely: Bools, lamina: Bools) -> tuple[Piece, ...]:
    label, count = ndimage.label(likely, structure=np.ones((3, 3)))
    if not count:
        return ()
    green = ndimage.sum_labels(lamina & likely, label, np.arange(1, count + 1))
    boxes = ndimage.find_objects(label)
    h, w = likely.shape
    found = []
    for k in np.argsort(-green)[:12]:
        if green[k] < _LEAST_AREA * h * w:
            break
        box = boxes[k]
        mask = label == k + 1
        rows, columns = box
        touches = rows.start <= 1 or columns.start <= 1 or rows.stop >= h - 1 or columns.stop >= w - 1
        found.append(Piece(mask, int(mask[box].sum()), box, bool(touches)))
    return tuple(found)
