"""Whole plants and seeds: how many of n come through, where n may be one or a hundred thousand million."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

# With an expected number of at least this on both sides a binomial is drawn as a rounded normal number: its skewness
# is then below 0.06, and no allele can be lost by it. Below, every plant is drawn.
_MANY = 300.0


def come_through(rng: np.random.Generator, n: FloatArray, p: FloatArray | float) -> FloatArray:
    """How many of n (whole numbers, any shape) come through with chance p each: whole numbers of that shape.

    The last axis holds genotypes, of which most are often absent everywhere: those cost nothing. Normal numbers are
    drawn genotype by genotype, so that programmes that share a generator share their luck where plants are many.
    """
    rows = n.reshape(-1, n.shape[-1]) if n.ndim > 1 else n[:, None]
    there = np.flatnonzero(rows.any(axis=0))
    out = np.zeros(rows.shape)
    if there.size:
        chance = np.broadcast_to(np.asarray(p, dtype=np.float64), n.shape).reshape(rows.shape)
        out[:, there] = _each(rng, rows[:, there], np.clip(chance[:, there], 0.0, 1.0))
    return out.reshape(n.shape)


def _each(rng: np.random.Generator, n: FloatArray, p: FloatArray) -> FloatArray:
    mean = n * p
    out = np.where(p >= 1, n, 0.0)
    open_ = (mean > 0) & (p < 1)
    many = open_ & (mean >= _MANY) & (n - mean >= _MANY)
    columns = np.flatnonzero(many.any(axis=0))
    if columns.size:
        normal = rng.standard_normal((columns.size, n.shape[0])).T
        m = mean[:, columns]
        drawn = np.rint(m + np.sqrt(m * (1 - p[:, columns])) * normal)
        out[:, columns] = np.where(many[:, columns], np.clip(drawn, 0.0, n[:, columns]), out[:, columns])
    few = open_ & ~many
    if few.any():
        out[few] = _few(rng, n[few], p[few])
    return out


def _few(rng: np.random.Generator, n: FloatArray, p: FloatArray) -> FloatArray:
    # A binomial takes n of at most 2^63; with p so small that fewer than 300 are expected Poisson is the same.
    rare = n > 1e15
    if rare.any():
        out = np.empty_like(n)
        dying = p[rare] > 0.5  # the smaller side is drawn
        drawn = rng.poisson(n[rare] * np.where(dying, 1 - p[rare], p[rare]))
        out[rare] = np.where(dying, n[rare] - drawn, drawn)
        out[~rare] = rng.binomial(n[~rare].astype(np.int64), p[~rare])
        return out
    return rng.binomial(n.astype(np.int64), p).astype(np.float64)


def so_many(rng: np.random.Generator, mean: FloatArray) -> FloatArray:
    """Whole numbers about a mean (Poisson), of any size and shape."""
    many = mean >= _MANY
    out = np.zeros_like(mean)
    if many.any():
        drawn = np.rint(mean + np.sqrt(mean) * rng.standard_normal(mean.shape))
        np.copyto(out, np.maximum(drawn, 0.0), where=many)
    few = (mean > 0) & ~many
    if few.any():
        out[few] = rng.poisson(mean[few])
    return out
