"""What light does to the ground beside a leaf, and is no leaf: its shadow, and where cloth or a board shines."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from tepal.leaf._ground import Bools, Floats, Ground

_NO_COLOUR, _DEEPEST_SHADOW = 0.3, -1.0
_THIN = 11.0  # half as wide as petioles are at the most, in pixels of the working picture
_SLIM = 30.0  # how much longer than wide a seam is, as a ratio of variances
# Logarithms: how much bluer than green cloth is; how far off the line from its colour to white a glint may lie.
_BLUE, _OFF_LINE = 0.15, 0.16


def without_shadows(likely: Bools, ground: Ground, typical: float) -> Bools:
    """Dark rims along a green body are its shadow, however odd their colour; a petiole sticks out instead."""
    # At half size, which is fine enough for shadows.
    residual, whole = ground.residual[::2, ::2], likely[::2, ::2]
    colour, thin = residual[..., 1:], _THIN / 2
    green = whole & (-0.5 * colour.sum(axis=2) > 0.45 * typical)
    body = ndimage.distance_transform_edt(green) > thin
    # Opened and then closed: no petiole, and no gap where the midrib has another colour.
    wide = fill_holes(ndimage.distance_transform_edt(~body) <= 2 * thin + 0.5)
    body = ndimage.distance_transform_edt(wide) > thin
    size = float(np.sqrt(body.sum() / np.pi))
    # A petiole may hang together with a shadow: what is further off stays, and is joined again if it is one.
    near = 0.15 * size
    strength = np.hypot(colour[..., 0], colour[..., 1]) / (1.41 * typical)
    dark = whole & ~body & (residual[..., 0] < -0.12)
    far = ndimage.distance_transform_edt(~body)
    # Without any colour and close by, it is shadow; with a little, it must lie along the body rather than stick out.
    shadow = dark & (strength < _NO_COLOUR) & (far < near) & (residual[..., 0] > _DEEPEST_SHADOW)
    label, count = ndimage.label(
        dark & ((strength < 0.45) | ((strength < 0.8) & (-0.5 * colour.sum(axis=2) < 0.25 * typical)))
    )
    index = np.arange(1, count + 1)
    reach = np.asarray(ndimage.maximum(far, label, index)) if count else np.empty(0)
    touching = np.asarray(ndimage.sum_labels(far < 1.5, label, index)) if count else np.empty(0)
    drop = (reach < 0.8 * touching) & (touching > 0.35 * size)
    shadow |= np.concatenate([[False], drop])[label] & (far < near)
    shadow |= np.concatenate([[False], drop & (reach < 0.3 * touching)])[label]
    # A seam between fingers, or the rim of a hand: dark, with no colour of its own, and on to the edge of the picture.
    to_edge = np.zeros(count + 1, dtype=bool)
    for edge in (label[0], label[-1], label[:, 0], label[:, -1]):
        to_edge[edge] = True
    to_edge[0] = False
    plain = (label > 0) & (strength < _NO_COLOUR)
    seams = to_edge[label] & plain
    seams |= _gone_on(seams, plain)
    shadow |= seams
    dropped = full_size(shadow, likely.shape, 2)
    return np.asarray(likely & ~dropped)


def _gone_on(seams: Bools, plain: Bools) -> Bools:
    """What is of no colour and lies straight ahead of a seam: where a petiole lies across it, it goes on beyond."""
    label, count = ndimage.label(seams, structure=np.ones((3, 3)))
    rows, columns = np.nonzero(plain & ~seams)
    on = np.zeros_like(seams)
    for k in range(1, count + 1):
        own = np.column_stack(np.nonzero(label == k)).astype(float)
        if len(own) < 3 * _THIN:
            continue
        middle = own.mean(axis=0)
        (small, large), ways = np.linalg.eigh(np.cov(own.T))
        if large < _SLIM * max(small, 0.2):
            continue
        away = np.column_stack([rows, columns]) - middle
        along, across = np.abs(away @ ways[:, 1]), np.abs(away @ ways[:, 0])
        # As far again as it is long.
        ahead = (across < max(3.0, 2.5 * float(np.sqrt(small)))) & (along < 3 * float(np.sqrt(3 * large)))
        on[rows[ahead], columns[ahead]] = True
    return on


def glints(likely: Bools, ground: Ground, seen: Floats) -> Bools:
    """Where blue cloth shines: brighter than itself, and of a colour between its own and white's.

    Nothing of a leaf is bluer than white; on other grounds a pale petiole might be taken for a glint.
    """
    level = seen[..., 1:] - ground.residual[..., 1:]
    blue = level[..., 1] > _BLUE
    if blue.mean() < 0.3:
        return np.zeros_like(likely)
    paler = likely & blue & (ground.residual[..., 0] > -0.05) & (seen[..., 2] > -0.04)
    # Along the line to white: what it has lost of its blue it has gained in red, in the same proportion.
    turned = np.abs(seen[..., 1] * level[..., 1] - seen[..., 2] * level[..., 0]) / np.hypot(
        level[..., 0], level[..., 1]
    )
    shines = paler & (turned < _OFF_LINE)
    # The margin of a leaf mixes both within two pixels: a glint is wider.
    core = ndimage.minimum_filter(shines.view(np.uint8), 5)
    near = ndimage.maximum_filter(core, 15).view(np.bool_)
    return np.asarray(near & paler & (turned < 2 * _OFF_LINE))


def full_size(small: Bools, shape: tuple[int, int], step: int = 4) -> Bools:
    big = np.repeat(np.repeat(small, step, axis=0), step, axis=1)
    pad = ((0, max(0, shape[0] - big.shape[0])), (0, max(0, shape[1] - big.shape[1])))
    return np.asarray(np.pad(big, pad, mode="edge")[: shape[0], : shape[1]])


def fill_holes(mask: Bools) -> Bools:
    """The mask with all that is not joined to the outside of the picture; ten times as quick as by dilation."""
    label, count = ndimage.label(~mask)
    outside = np.zeros(count + 1, dtype=bool)
    for edge in (label[0], label[-1], label[:, 0], label[:, -1]):
        outside[edge] = True
    # A dark rim around a scan makes no hole of the whole picture.
    outside |= np.bincount(label.ravel(), minlength=count + 1) > 0.03 * mask.size
    outside[0] = False
    return np.asarray(~outside[label])
