"""Genotypes at several unlinked loci: what gametes they give, and what seed random mating makes of them.

A genotype is the number of resistant alleles (0, 1, 2) at each of L loci; all 3^L of them stand in a row, the first
locus turning slowest. A gamete is 0 or 1 at each locus, 2^L of them. Loci are unlinked: each is passed on by itself,
but what is selected together stays together until mating parts it (linkage disequilibrium is kept, not assumed away).
"""

from __future__ import annotations

from functools import cache
from itertools import product

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


@cache
def copies(loci: int) -> IntArray:
    """Resistant alleles of each genotype at each locus: shape = (3^L, L)."""
    return np.array(list(product((0, 1, 2), repeat=loci)), dtype=np.int64).reshape(3**loci, loci)


@cache
def _gametes(loci: int) -> IntArray:
    return np.array(list(product((0, 1), repeat=loci)), dtype=np.int64).reshape(2**loci, loci)


@cache
def meiosis(loci: int) -> FloatArray:
    """Share of each gamete (column) among those of each genotype (row): shape = (3^L, 2^L)."""
    share = np.ones((3**loci, 2**loci))
    half = copies(loci) / 2
    for locus in range(loci):
        carried = _gametes(loci)[:, locus][None, :]
        share *= np.where(carried == 1, half[:, locus][:, None], 1 - half[:, locus][:, None])
    return share


@cache
def _unions(loci: int) -> tuple[tuple[IntArray, IntArray], ...]:
    """For each genotype the pairs of egg and pollen that make it."""
    code = 3 ** np.arange(loci - 1, -1, -1)
    made = (_gametes(loci)[:, None, :] + _gametes(loci)[None, :, :]) @ code
    pairs = [np.nonzero(made == genotype) for genotype in range(3**loci)]
    return tuple((egg.astype(np.int64), grain.astype(np.int64)) for egg, grain in pairs)


def hardy_weinberg(shares: FloatArray) -> FloatArray:
    """Genotype shares where each locus has these allele shares, shape = (n, L), and mates at random: (n, 3^L)."""
    n, loci = shares.shape
    out = np.ones((n, 3**loci))
    for locus in range(loci):
        p = shares[:, locus]
        each = np.stack([(1 - p) ** 2, 2 * p * (1 - p), p**2], axis=1)
        out *= each[:, copies(loci)[:, locus]]
    return out


def gamete_shares(shares: FloatArray) -> FloatArray:
    """Gamete shares where each locus has these allele shares: (n, L) to (n, 2^L)."""
    n, loci = shares.shape
    out = np.ones((n, 2**loci))
    for locus in range(loci):
        p = shares[:, locus]
        out *= np.where(_gametes(loci)[:, locus][None, :] == 1, p[:, None], 1 - p[:, None])
    return out


def mated(eggs: FloatArray, pollen: FloatArray) -> FloatArray:
    """Genotypes of seed from gamete amounts of eggs and shares of pollen, both shape = (n, 2^L): (n, 3^L).

    Sums of products only, no differences: a genotype of one in 10^18 is as exact as the common one.
    """
    loci = int(np.log2(eggs.shape[1]))
    out = np.empty((eggs.shape[0], 3**loci))
    for genotype, (egg, grain) in enumerate(_unions(loci)):
        out[:, genotype] = np.einsum("ij,ij->i", eggs[:, egg], pollen[:, grain])
    return out


@cache
def _self(loci: int) -> FloatArray:
    one = np.array([[1.0, 0.0, 0.0], [0.25, 0.5, 0.25], [0.0, 0.0, 1.0]])
    out = np.ones((1, 1))
    for _ in range(loci):
        out = np.kron(out, one)
    return out


def selfed(mothers: FloatArray) -> FloatArray:
    """Genotypes of seed of mothers that are their own fathers: (n, 3^L) to (n, 3^L)."""
    return np.asarray(mothers @ _self(round(np.log(mothers.shape[1]) / np.log(3))))


def allele_share(counts: FloatArray, locus: int, loci: int) -> FloatArray:
    """Share of resistant alleles at a locus among genotype counts (n, 3^L): shape = (n,); 0 where there are none."""
    total = counts.sum(axis=1)
    carried: FloatArray = counts @ copies(loci)[:, locus] / 2
    return np.asarray(np.divide(carried, total, out=np.zeros_like(total), where=total > 0))
