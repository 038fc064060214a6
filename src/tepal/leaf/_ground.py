"""The ground under a leaf: what it would look like at every pixel, and how unlike it each pixel is.

Colours are logarithms of the camera's values, so that a shadow moves only the first of three features: lightness,
red over green, blue over green.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Floats = NDArray[np.float32]
Bools = NDArray[np.bool_]

# Added to 0..255 before the logarithm: dark pixels are mostly noise of the camera.
_DARK = 12.0
_COARSE = 4
# Least sd of the ground's lightness and colours: JPEG leaves less, but no real ground is that even.
_LEAST = np.array([0.02, 0.012, 0.012])


@dataclass(frozen=True)
class Ground:
    """`unlike` (h, w): Mahalanobis distance of each pixel from the ground around it, shadows forgiven.

    `residual` (h, w, 3): features less those of the ground; `scatter` (3, 3): covariance of the ground's residuals.
    """

    unlike: Floats
    residual: Floats
    scatter: NDArray[np.float64]


def features(picture: NDArray[Any], blur: float = 0.8) -> Floats:
    """Lightness, red over green, blue over green of an RGB picture (h, w, 3) of 0..255; shape (h, w, 3)."""
    v = np.log(picture.astype(np.float32) + _DARK)
    out = np.empty_like(v)
    out[..., 0] = v.mean(axis=2)
    out[..., 1] = v[..., 0] - v[..., 1]
    out[..., 2] = v[..., 2] - v[..., 1]
    return np.asarray(ndimage.gaussian_filter(out, (blur, blur, 0), truncate=3.0))


def greenness(seen: Floats) -> Floats:
    """Green over the geometric mean of red and blue: near 0 for paper, card, skin, wood and blue cloth."""
    return np.asarray(-0.5 * (seen[..., 1] + seen[..., 2]))


def coarse(values: Floats, step: int = _COARSE) -> Floats:
    """Means of blocks of `step` × `step` pixels; what is left over at the edges is dropped."""
    h, w = values.shape[0] // step, values.shape[1] // step
    cut = values[: h * step, : w * step]
    return np.asarray(cut.reshape(h, step, w, step, *values.shape[2:]).mean(axis=(1, 3)))


def smooth_fit(values: Floats, trusted: Bools, rounds: int = 6, reach: float = 2.5) -> tuple[Floats, float]:
    """A quadratic surface through `values` (h, w) where `trusted`, outliers left out; and the robust sd about it."""
    h, w = values.shape
    y, x = np.mgrid[0:h, 0:w]
    x, y = (x / w - 0.5).ravel(), (y / h - 0.5).ravel()
    terms = np.column_stack([np.ones_like(x), x, y, x * x, x * y, y * y])
    flat, keep = values.ravel().astype(np.float64), trusted.ravel().copy()
    surface, spread = np.full_like(flat, np.median(flat[keep])), 0.0
    for turn in range(rounds):
        away = flat - surface
        spread = max(1.4826 * float(np.median(np.abs(away[keep]))), 1e-3)
        inside = trusted.ravel() & (np.abs(away) < reach * spread * (2 if turn == 0 else 1))
        if inside.sum() < 60:
            break
        keep = inside
        columns = terms if turn > 1 else terms[:, :3]
        fit = np.linalg.lstsq(columns[keep], flat[keep], rcond=None)[0]
        surface = columns @ fit
    return surface.reshape(h, w).astype(np.float32), spread


def model(seen: Floats, taken: Bools, sigma: float) -> Ground:
    """The ground around each pixel, from pixels that are not `taken` (the leaf, as far as it is known) nor unlike."""
    h, w = taken.shape
    half = coarse(seen, 2)
    free = coarse(1.0 - taken.astype(np.float32), 2) > 0.99
    level = np.empty_like(half)
    weight = free.astype(np.float32)
    scatter = np.eye(3)
    distance = np.zeros(half.shape[:2], dtype=np.float32)
    for turn in range(3):
        mass = _blur(weight, sigma / 2)
        for k in range(3):
            level[..., k] = _blur(half[..., k] * weight, sigma / 2)
        wide = 4 * sigma / 2
        if turn == 0:
            far_mass = _blur(weight, wide)
            far = np.stack([_blur(half[..., k] * weight, wide) for k in range(3)], axis=2)
        # Under the leaf there is no ground in reach: what lies further off stands in.
        lack = 0.03
        level = (level + lack * far / np.maximum(far_mass, 1e-6)[..., None]) / (mass + lack)[..., None]
        residual = half - level
        clean = weight > 0.5
        scatter = _scatter(residual[clean])
        distance = unlikeness(residual, scatter)
        if turn < 2:
            out = ndimage.binary_dilation(distance > 3.5, iterations=2)
            weight = (free & ~out).astype(np.float32)
            if weight.mean() < 0.02:
                weight = free.astype(np.float32)
    full = _grow(level, (h, w))
    residual = seen - full
    # The finest grain is averaged away at half size.
    clean_full = np.kron(weight, np.ones((2, 2), dtype=np.float32)) > 0.5
    whole = residual[: clean_full.shape[0], : clean_full.shape[1]][clean_full]
    scatter = _scatter(whole[:: max(1, len(whole) // 60000)])
    return Ground(unlikeness(residual, scatter), residual, scatter)


def _grow(values: Floats, shape: tuple[int, int]) -> Floats:
    big = np.repeat(np.repeat(values, 2, axis=0), 2, axis=1)
    pad = ((0, max(0, shape[0] - big.shape[0])), (0, max(0, shape[1] - big.shape[1])), (0, 0))
    return np.asarray(np.pad(big, pad, mode="edge")[: shape[0], : shape[1]])


def _blur(values: Floats, sigma: float) -> Floats:
    # Three running means are a Gaussian to within a per cent, at a cost that does not grow with sigma.
    size = max(3, 2 * round(sigma * 0.95) + 1)
    for _ in range(3):
        values = ndimage.uniform_filter(values, size, mode="nearest")
    return values


def _scatter(rows: NDArray[Any]) -> NDArray[np.float64]:
    """Covariance with the tails cut off, scaled back as for a normal distribution, not below `_LEAST`."""
    if len(rows) < 50:
        return np.diag(_LEAST**2) * 4
    middle = np.median(rows, axis=0)
    spread = np.maximum(1.4826 * np.median(np.abs(rows - middle), axis=0), _LEAST)
    inside = np.all(np.abs(rows - middle) < 3.0 * spread, axis=1)
    covariance = np.cov(rows[inside].T.astype(np.float64)) * 1.03
    return np.asarray(covariance + np.diag(_LEAST**2))


def unlikeness(residual: Floats, scatter: NDArray[np.float64], slack: float = 0.15) -> Floats:
    """Mahalanobis distance; being darker by up to `slack` in the logarithm costs nothing, further darkness half."""
    colour = np.linalg.inv(scatter[1:, 1:])
    slope = scatter[0, 1:] @ colour
    sd = float(np.sqrt(scatter[0, 0] - slope @ scatter[1:, 0]))
    # In the dark the camera's noise is a larger part of the light, and colours are as much less certain.
    c = residual[..., 1:] * np.exp(0.7 * np.minimum(residual[..., 0], 0))[..., None]
    squared = colour[0, 0] * c[..., 0] ** 2 + 2 * colour[0, 1] * c[..., 0] * c[..., 1] + colour[1, 1] * c[..., 1] ** 2
    light = residual[..., 0] - (slope[0] * c[..., 0] + slope[1] * c[..., 1])
    light = np.where(light > 0, light, 0.5 * np.minimum(light + slack, 0)) / sd
    # Where there is hardly any colour, rounding may leave the sum of squares a trace below nothing.
    return np.asarray(np.sqrt(np.maximum(squared + light**2, 0)), dtype=np.float32)
