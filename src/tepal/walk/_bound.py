"""What no route of a given length can exceed: of single plants, and of patches, with risk by zones."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from tepal.walk._assumed import PATCH_PLANTS, PATCH_SD_M
from tepal.walk._design import Zone

FloatArray = npt.NDArray[np.float64]

# Beyond so many standard deviations (of sight, of a patch) nothing is left to count.
_FAR = 9.0
_STEPS = 4001


def most_plants(length_m: float, zones: Sequence[Zone], sigma_m: float) -> float:
    """A bound: no connected route of this length finds one plant that falls by risk with a greater chance.

    Within r of a connected route of length L lie at most 2rL + πr² square metres. They hold at most the risk H(2rL +
    πr²) of the riskiest ground of that area, so the chance is at most 1/H(all) ∫ H(2rL + πr²) r/S² exp(-r²/2S²) dr.
    """
    r = np.linspace(0, _FAR * sigma_m, _STEPS)
    fall = r / sigma_m**2 * np.exp(-0.5 * (r / sigma_m) ** 2)
    return _held(length_m, zones, r, fall)


def most_patches(length_m: float, zones: Sequence[Zone], sigma_m: float) -> float:
    """The same for one patch whose center falls by risk.

    Who comes no nearer than d to the center sees one of its plants with a chance of at most p(d): that of walking
    everywhere beyond d. So a patch is found with at most 1 - (1 - p(d))^n, and the mean of that over d, with the area
    that lies within d of a route, is the bound. The site's edge, which cuts some patches, is left aside.
    """
    d = np.linspace(0, _FAR * PATCH_SD_M + _FAR * sigma_m, 1601)
    found = 1 - (1 - _seen_from_beyond(d, sigma_m)) ** PATCH_PLANTS
    return _held(length_m, zones, d, -np.gradient(found, d))


def _held(length_m: float, zones: Sequence[Zone], r: FloatArray, fall: FloatArray) -> float:
    """∫ (share of all risk on the riskiest ground of as much area as lies within r of a route) · fall dr."""
    area = np.array([zone.area.area for zone in zones])
    risk = np.array([zone.weight for zone in zones]) * area
    order = np.argsort([-zone.weight for zone in zones], kind="stable")
    near = 2 * r * length_m + math.pi * r * r
    share = np.interp(
        near, np.concatenate([[0.0], np.cumsum(area[order])]), np.concatenate([[0.0], np.cumsum(risk[order])])
    )
    return min(1.0, float(np.trapezoid(share * fall, r) / risk.sum()))


def _seen_from_beyond(d: FloatArray, sigma_m: float) -> FloatArray:
    """Chance of seeing one plant of a patch from everywhere that lies at least d from its center."""
    beyond = np.exp(-0.5 * (d / PATCH_SD_M) ** 2)
    # Plants nearer than d are seen from its rim: mean over their distance rho from the center.
    u = (np.arange(200) + 0.5) / 200
    rho = d[:, None] * u
    density = rho / PATCH_SD_M**2 * np.exp(-0.5 * (rho / PATCH_SD_M) ** 2)
    within = (density * np.exp(-0.5 * ((d[:, None] - rho) / sigma_m) ** 2)).mean(axis=1) * d
    return np.asarray(np.minimum(beyond + within, 1.0))
