"""How closely to walk where: the share of plants that evenly spaced passes see, and the spacing that risk deserves."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from tepal.walk._ways import site_of

FloatArray = npt.NDArray[np.float64]

# Passes closer than this many widths of sight see hardly more; passes farther apart than the last are rare enough.
_CLOSEST, _FARTHEST_M = 0.8, 2000.0
# Pieces of a zone below this many square metres are cutting scraps.
_SCRAP_M2 = 4.0


@dataclass(frozen=True, slots=True)
class Zone:
    """A part of the site of one weight: where it is (shapely, metres), and plants per area relative to 1."""

    area: BaseGeometry
    weight: float


def zones_of(site: BaseGeometry, prior: Sequence[tuple[BaseGeometry, float]]) -> list[Zone]:
    """The site cut by weight, the greatest where polygons overlap, 1 outside all; the heaviest first."""
    zones: list[Zone] = []
    taken: BaseGeometry = shapely.MultiPolygon()
    for weight in sorted({weight for _, weight in prior}, reverse=True):
        area = shapely.union_all([shapely.make_valid(area) for area, w in prior if w == weight])
        piece = _swept(site.intersection(area).difference(taken))
        taken = shapely.union(taken, area)
        if not piece.is_empty:
            zones.append(Zone(piece, weight))
    rest = _swept(site.difference(taken)) if prior else site
    if not rest.is_empty:
        same = [zone for zone in zones if zone.weight == 1.0]
        zones = [zone for zone in zones if zone.weight != 1.0]
        zones.append(Zone(site_of(shapely.union_all([rest, *(z.area for z in same)])), 1.0))
    return sorted(zones, key=lambda zone: -zone.weight)


def _swept(area: BaseGeometry) -> BaseGeometry:
    return site_of(shapely.MultiPolygon([p for p in site_of(area).geoms if p.area > _SCRAP_M2]))


def share_seen(spacing_m: npt.ArrayLike, sigma_m: float) -> FloatArray:
    """Share of evenly scattered plants that parallel passes see: S √(2π) erf(w / 2√2 S) / w, for a spacing w."""
    from scipy.special import erf

    w = np.asarray(spacing_m, dtype=np.float64)
    return np.asarray(sigma_m * math.sqrt(2 * math.pi) * erf(w / (2 * math.sqrt(2) * sigma_m)) / w)


@lru_cache(maxsize=32)
def _tables(sigma_m: float, patch_plants: int, patch_sd_m: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Spacings (falling), and for each the share of single plants and of patches that parallel passes find."""
    spacing = np.geomspace(_FARTHEST_M, _CLOSEST * sigma_m, 160)
    plants = share_seen(spacing, sigma_m)
    n = 1024
    phase = (np.arange(n) - n // 2) / n
    patches = np.empty_like(spacing)
    for k, w in enumerate(spacing):
        q = np.exp(-0.5 * (phase * w / sigma_m) ** 2)
        # The mean over a normal patch of a periodic chance, by its Fourier series.
        spread = np.exp(-2 * (math.pi * np.arange(n // 2 + 1) * patch_sd_m / w) ** 2)
        mean = np.clip(np.fft.irfft(np.fft.rfft(q) * spread, n), 0, 1)
        patches[k] = float(np.mean(1 - (1 - mean) ** patch_plants))
    return spacing, plants, patches


def patches_found(spacing_m: float, sigma_m: float, patch_plants: int, patch_sd_m: float) -> float:
    """Share of evenly scattered patches of which parallel passes see at least one plant."""
    w, _, found = _tables(sigma_m, patch_plants, patch_sd_m)
    return float(np.interp(-spacing_m, -w, found))


def giving_up(
    zones: Sequence[Zone], length_m: float, sigma_m: float, share: float, *, patch_plants: int, patch_sd_m: float
) -> float:
    """What a patch must count, beside a plant, for `spacings` to give up this share of finding one plant."""

    def plants(patches: float) -> float:
        apart = spacings(zones, length_m, sigma_m, patches=patches, patch_plants=patch_plants, patch_sd_m=patch_sd_m)
        with np.errstate(invalid="ignore"):
            seen = np.where(np.isfinite(apart), share_seen(np.minimum(apart, _FARTHEST_M), sigma_m), 0.0)
        return float(sum(z.weight * z.area.area * q for z, q in zip(zones, seen, strict=True)))

    least = (1 - share) * plants(0.0)
    low, high = -3.0, 1.5
    for _ in range(10):
        middle = (low + high) / 2
        low, high = (middle, high) if plants(10**middle) >= least else (low, middle)
    return float(10**low)


def spacings(
    zones: Sequence[Zone], length_m: float, sigma_m: float, *, patches: float, patch_plants: int, patch_sd_m: float
) -> FloatArray:
    """The spacing of passes in each zone that finds most within a length, travel left aside; infinite: no passes.

    Maximizes Σ weight · area · (plants' share + `patches` · patches' share) with Σ area / spacing = length: the
    marginal gain of a metre is the same wherever one walks (water-filling; both shares have falling returns).
    """
    w, plants, found = _tables(sigma_m, patch_plants, patch_sd_m)
    density = 1 / w
    gain = plants + patches * found
    slope = np.diff(gain, prepend=0.0) / np.diff(density, prepend=0.0)
    slope = np.minimum.accumulate(np.maximum(slope, 0.0))
    weight = np.array([zone.weight for zone in zones])
    area = np.array([zone.area.area for zone in zones])

    def walked(price: float) -> FloatArray:
        with np.errstate(divide="ignore"):
            asked = np.where(weight > 0, price / np.where(weight > 0, weight, 1), np.inf)
        return np.asarray(np.interp(-asked, -slope, density, left=0.0) * (asked < slope[0]))

    low, high = 0.0, float(slope[0] * weight.max())
    for _ in range(34):
        middle = (low + high) / 2
        low, high = (middle, high) if (area * walked(middle)).sum() > length_m else (low, middle)
    # Where a zone falls in at one price from nothing to some spacing, as much of it as the length allows.
    least, most = walked(high), walked(low)
    room = float((area * (most - least)).sum())
    found_density = least + (most - least) * min(
        1.0, max(0.0, length_m - float((area * least).sum())) / max(room, 1e-9)
    )
    with np.errstate(divide="ignore"):
        return np.asarray(np.where(found_density > 1 / _FARTHEST_M, 1 / found_density, np.inf))
