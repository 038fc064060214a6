"""A ground that ends within the picture: a hand, a card or a sheet, and what lies behind it.

Two grounds are told apart by colour alone, so that no shadow makes a second one.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy import ndimage

from tepal.leaf._ground import Bools, Floats, Ground, greenness, model, unlikeness
from tepal.leaf._light import full_size

# On a grid of blocks of 4 x 4 pixels. Greener than that is a leaf's; as wide is what is no petiole.
_LEAFY, _WIDE = 0.14, 5
# The least share of the picture that is behind, and of one that lies in it as a whole, which no leaf fills;
# logarithms of colour, and standard deviations, between both.
_LEAST, _INNER, _APART, _CLEAR = 0.02, 0.25, 0.1, 3.0
# In pixels of the working picture: on both sides of the rim either ground may be; nearer to it, both mixed.
_EITHER, _MIXED = 14, 7
_MIXTURES = (0.2, 0.4, 0.6, 0.8)


def behind(small: Floats) -> Bools | None:
    """Which blocks of `small` (h, w, 3; features) lie behind the ground that ends within the picture; None if none.

    It may be either of the two: neither is known to be the one that carries the leaf.
    """
    from skimage.filters import threshold_otsu

    colour = ndimage.median_filter(small[..., 1:], size=(5, 5, 1), mode="nearest")
    plain = greenness(small) < _LEAFY
    if plain.mean() < 0.3:
        return None
    rows = colour[plain]
    middle = rows.mean(axis=0)
    main = np.linalg.eigh(np.cov((rows - middle).T))[1][:, -1]
    along = (colour - middle) @ main
    cut = float(threshold_otsu(along[plain]))  # type: ignore[no-untyped-call]
    sides = along > cut
    if (sides & plain).sum() > 0.5 * plain.sum():
        sides = ~sides
    far = _on_to_edge(sides & plain)
    if not far.any() and (sides & plain).mean() > _INNER:
        # A hand or a sheet that lies in the picture as a whole.
        far = _on_to_edge(~sides & plain)
        sides = ~sides
    rest = plain & ~ndimage.binary_dilation(far, iterations=2)
    if far.mean() < _LEAST or rest.mean() < _LEAST:
        return None
    two = along[far], along[rest]
    apart = abs(float(np.median(two[0]) - np.median(two[1])))
    spread = sum(1.4826 * float(np.median(np.abs(one - np.median(one)))) for one in two)
    if apart < max(_APART, _CLEAR * spread):
        return None
    # A leaf that lies on the rim belongs to both: each of its blocks to what is nearest.
    known = far | (plain & ~sides)
    nearest = ndimage.distance_transform_edt(~known, return_distances=False, return_indices=True)
    return np.asarray(far[tuple(nearest)])


def _on_to_edge(mask: Bools) -> Bools:
    """The wide parts of a mask that reach the edge of the picture."""
    padded = np.pad(mask, _WIDE, mode="edge")
    wide = ndimage.binary_opening(padded, np.ones((_WIDE, _WIDE), dtype=bool))[_WIDE:-_WIDE, _WIDE:-_WIDE]
    label, _ = ndimage.label(wide)
    edges = np.unique(np.concatenate([label[0], label[-1], label[:, 0], label[:, -1]]))
    return np.asarray(np.isin(label, edges[edges > 0]))


def two_grounds(seen: Floats, taken: Bools, far: Bools, sigma: float) -> Ground:
    """Each ground modelled without the other; about the rim a pixel is as unlike as from the likelier one.

    `far`: as from `behind`. What lies between both in colour, within a few pixels of the rim, is a mixture of them.
    """
    there = full_size(far, taken.shape)
    away = np.where(there, ndimage.distance_transform_edt(there), ndimage.distance_transform_edt(~there))
    rim = away < _MIXED
    here, beyond = (model(seen, taken | rim | other, sigma) for other in (there, ~there))
    unlike = np.where(there, beyond.unlike, here.unlike)
    residual = np.where(there[..., None], beyond.residual, here.residual)
    near = away < _EITHER
    other = np.where(there, here.unlike, beyond.unlike)
    swap = near & (other < unlike)
    unlike = np.where(swap, other, unlike)
    residual[swap] = np.where(there[..., None], here.residual, beyond.residual)[swap]
    rows = np.nonzero(rim)
    levels = seen[rows] - here.residual[rows], seen[rows] - beyond.residual[rows]
    least = unlike[rows]
    for part in _MIXTURES:
        away_ = seen[rows] - (1 - part) * levels[0] - part * levels[1]
        least = np.minimum(least, np.minimum(unlikeness(away_, here.scatter), unlikeness(away_, beyond.scatter)))
    unlike[rows] = least
    larger = here if far.mean() < 0.5 else beyond
    return replace(larger, unlike=unlike.astype(np.float32), residual=residual)
