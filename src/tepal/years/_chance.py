"""Whole plants and seeds: how many of n come through, where n may be one or a hundred thousand million."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

# With an expected number of at least this on both sides a binomial is drawn as a normal number with its skewness
# mended (Cornish and Fisher), rounded: no allele can be lost by it. Below, every plant is drawn.
MANY = 30.0


def come_through(rng: np.random.Generator, n: FloatArray, p: FloatArray | float) -> FloatArray:
    """How many of n (whole numbers, any shape) come through with chance p each: whole numbers of that shape.

    The last axis holds genotypes, of which most are often absent everywhere: those cost nothing.
    """
    rows = n.reshape(-1, n.shape[-1]) if n.ndim > 1 else n[:, None]
    there = np.flatnonzero(rows.any(axis=0))
    if there.size == 0:
        return np.zeros(n.shape)
    chance = np.broadcast_to(np.asarray(p, dtype=np.float64), n.shape).reshape(rows.shape)
    if there.size == rows.shape[1]:
        return _each(rng, rows, chance).reshape(n.shape)
    out = np.zeros(rows.shape)
    out[:, there] = _each(rng, rows[:, there], chance[:, there])
    return out.reshape(n.shape)


def _each(rng: np.random.Generator, n: FloatArray, p: FloatArray) -> FloatArray:
    p = np.minimum(np.maximum(p, 0.0), 1.0)
    mean = n * p
    few = np.minimum(mean, n - mean) < MANY
    if few.all():
        out = np.zeros(n.shape)
    else:
        out = _near(mean, p, rng.standard_normal(n.shape))
        np.rint(out, out=out)
        np.minimum(np.maximum(out, 0.0, out=out), n, out=out)
        np.copyto(out, 0.0, where=few)
    at = np.flatnonzero(few & (mean > 0))
    if at.size:
        out.reshape(-1)[at] = _few(rng, n.reshape(-1)[at], p.reshape(-1)[at])
    return out


def _near(mean: FloatArray, p: FloatArray, normal: FloatArray) -> FloatArray:
    """m + s z + (1 - 2 p) (z^2 - 1) / 6: mean, variance and skewness of the binomial."""
    out = np.sqrt(mean * (1 - p))
    out *= normal
    out += mean
    np.multiply(normal, normal, out=normal)
    normal -= 1.0
    normal *= (1 / 6) - p * (1 / 3)
    out += normal
    return out


def _few(rng: np.random.Generator, n: FloatArray, p: FloatArray) -> FloatArray:
    # A binomial takes n of at most 2^63; with p so small that few are expected Poisson is the same.
    rare = n > 1e15
    if not rare.any():
        return rng.binomial(n.astype(np.int64), p).astype(np.float64)
    out = np.empty_like(n)
    dying = p[rare] > 0.5  # the smaller side is drawn
    side = rng.poisson(n[rare] * np.where(dying, 1 - p[rare], p[rare]))
    out[rare] = np.where(dying, n[rare] - side, side)
    out[~rare] = rng.binomial(n[~rare].astype(np.int64), p[~rare])
    return out


def weighed_parts(
    rng: np.random.Generator, n: FloatArray, p: FloatArray, weight: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Sums over the second axis of weight times those of n that come through, and times those that do not.

    `n` (N, K, G), `p` (N,), `weight` (N, K); the sums (N, G). Few plants are drawn each; of many only the weighed sum,
    whose mean and spread are theirs: one number instead of one for each k.
    """
    p = np.clip(p, 0.0, 1.0)[:, None]
    q = 1 - p
    many = np.minimum(p, q)[:, :, None] * n >= MANY
    known = np.where(many, n, 0.0)
    total = np.einsum("nkg,nk->ng", known, weight)
    come, stay = total * p, total * q
    if many.any():
        noise = np.einsum("nkg,nk->ng", known, weight * weight)
        noise *= p * q
        np.sqrt(noise, out=noise)
        noise *= rng.standard_normal(noise.shape)
        # Neither side below none: with 30 of each a spread of five times the usual would be needed.
        np.clip(noise, -come, stay, out=noise)
        come += noise
        stay -= noise
    at, which, genotype = np.nonzero((n > 0) & ~many)
    if at.size:
        these, chance = n[at, which, genotype], p[at, 0]
        drawn = _few(rng, these, chance)
        np.add.at(come, (at, genotype), drawn * weight[at, which])
        np.add.at(stay, (at, genotype), (these - drawn) * weight[at, which])
    return come, stay


def so_many(rng: np.random.Generator, mean: FloatArray) -> FloatArray:
    """Whole numbers about a mean (Poisson), of any size and shape."""
    many = mean >= MANY
    out = np.zeros_like(mean)
    if many.any():
        normal = rng.standard_normal(mean.shape)
        drawn = np.rint(mean + np.sqrt(mean) * normal + (normal * normal - 1) / 6)
        np.copyto(out, np.maximum(drawn, 0.0), where=many)
    few = (mean > 0) & ~many
    if few.any():
        out[few] = rng.poisson(mean[few])
    return out


def shared_out(rng: np.random.Generator, total: FloatArray, shares: FloatArray) -> FloatArray:
    """`total` (N,), whole numbers, dealt to genotypes with these shares (N, G), which sum to 1: a multinomial.

    The rarest are dealt first, so that their chance is not a small difference of large ones.
    """
    order = np.argsort(shares, axis=1, kind="stable")
    left, free = total.copy(), np.ones(len(total))
    out = np.zeros(shares.shape)
    rows = np.arange(len(total))
    for turn in range(shares.shape[1] - 1):
        at = order[:, turn]
        share = shares[rows, at]
        if not share.any():
            continue
        drawn = come_through(rng, left[:, None], np.minimum(share / np.maximum(free, 1e-300), 1.0)[:, None])[:, 0]
        out[rows, at] = drawn
        left, free = left - drawn, free - share
    out[rows, order[:, -1]] += left
    return out
