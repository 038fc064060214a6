"""Totals by class, and plants per length of row."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from tepal.doubt import Drawable, Samples

FloatArray = npt.NDArray[np.float64]

# What each class weighs before counting (Jeffreys' for shares).
_BEFORE = 0.5


def by_class(
    totals: FloatArray, counted: Mapping[str, float], rng: np.random.Generator
) -> tuple[tuple[str, ...], FloatArray]:
    """Totals split by size (or taxon) as counted: class names (k,) and plants of each, shape = (n, k).

    Shares of the classes are Dirichlet with 1/2 added to each count: classes named by no plant still get a little.
    Plants are taken as alike wherever they stand.

    Raises
    ------
    ValueError
        If there is no class or a count is negative.
    """
    names = tuple(counted)
    counts = np.array([counted[name] for name in names], dtype=np.float64)
    if not names or (counts < 0).any():
        raise ValueError("classes need names and counts of 0 or more")
    shares = rng.gamma(counts + _BEFORE, size=(len(totals), len(names)))
    total = shares.sum(axis=1, keepdims=True)
    shares = np.divide(shares, total, out=np.full_like(shares, 1 / len(names)), where=total > 0)
    return names, np.asarray(totals)[:, None] * shares


def per_row_length(density: Drawable, row_cm: float, rng: np.random.Generator, *, n: int = 2000) -> Samples:
    """Plants per metre of crop row, where each row owns the ground half-way to its neighbours."""
    if not row_cm > 0:
        raise ValueError(f"row width must be above 0, got {row_cm}")
    return Samples(density.draws(rng, n) * row_cm / 100)
