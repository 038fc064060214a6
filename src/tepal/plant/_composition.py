"""What a stand is made of, from n plants named with error.

Shares θ ~ Dirichlet(a π) with π the prior of the calls and a the `stand_concentration`; plant i is t with probability
θ_t and shows its looks with likelihood L_i(t), which is its call's posterior over its prior. Gibbs sampling, many
chains at once: the shares given the names, all single plants at once given the shares, clumps one by one with the
shares integrated out (a clump would hold on to its own share), and exchanges of two whole names so that a stand that
could be all of one or all of another taxon is drawn from both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import gammaln

from tepal.plant._call import Call
from tepal.plant._roster import FloatArray
from tepal.plant._settings import Settings, load_settings
from tepal.tables import Refused

_CHAINS, _WARM_UP, _KEPT, _BETWEEN = 200, 40, 10, 4
_MOST_SURE = 100_000
_PART = 64


@dataclass(frozen=True, slots=True, eq=False)
class Composition:
    """Draws of what the plants looked at are and of the stand's shares.

    `shares` has shape (draws, names), rows sum to 1; `named` (draws, plants) holds indices into `taxa`; `counts` says
    how many plants each call stands for.
    """

    taxa: tuple[str, ...]
    shares: FloatArray
    named: npt.NDArray[np.intp]
    counts: tuple[int, ...]
    recognised: float

    def draws(self, rng: np.random.Generator, n: int) -> FloatArray:
        """Shares of the names in the stand, shape = (n, names)."""
        return np.asarray(self.shares[rng.integers(0, len(self.shares), n)])

    def share(self, *codes: str) -> FloatArray:
        """Draws of the joint share of some names, shape = (draws,)."""
        return np.asarray(self.shares[:, self._columns(codes)].sum(axis=1))

    def p_any(self, *codes: str) -> float:
        """P(at least one of the plants looked at is one of these)."""
        return float(np.isin(self.named, self._columns(codes)).any(axis=1).mean())

    def p_in_stand(self, *codes: str, plants: int) -> float:
        """P(at least one of these among `plants` more plants of the stand, or among those looked at)."""
        if plants < 0:
            raise ValueError(f"a stand has 0 or more further plants, got {plants}")
        seen = np.isin(self.named, self._columns(codes)).any(axis=1)
        none = np.exp(plants * np.log1p(-np.minimum(self.share(*codes), 1 - 1e-12)))
        return float(np.where(seen, 1.0, 1 - none).mean())

    def more_to_look_at(self, *codes: str, below: float = 0.01, sure: float = 0.95) -> int | None:
        """How many more plants, all named otherwise, make it `sure` that fewer than `below` of the stand are these.

        None where no number up to 100,000 does. Each further plant of these is recognised with chance `recognised`.
        """
        share = self.share(*codes)
        seen = np.log1p(-self.recognised * np.minimum(share, 1 - 1e-12))

        def reached(more: int) -> bool:
            weight = np.exp(more * seen - (more * seen).max())
            return bool(weight[share < below].sum() >= sure * weight.sum())

        if reached(0):
            return 0
        if not reached(_MOST_SURE):
            return None
        low, high = 0, _MOST_SURE
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if reached(middle) else (middle, high)
        return high

    def _columns(self, codes: Sequence[str]) -> list[int]:
        for code in codes:
            if code not in self.taxa:
                raise KeyError(code)
        return [self.taxa.index(code) for code in dict.fromkeys(codes)]


def composition(
    calls: Sequence[Call],
    *,
    rng: np.random.Generator,
    counts: Sequence[int] | None = None,
    settings: Settings | None = None,
) -> Composition:
    """The stand's composition from the calls of plants taken from it without choosing.

    `counts`: how many plants each call stands for (a clump of alike plants), 1 each if not given. Draws are 2,000.

    Raises
    ------
    Refused
        If there are no calls, they are of different floras, or a count is below 1.
    """
    settings = settings or load_settings()
    if not calls or any(call.taxa != calls[0].taxa for call in calls):
        raise Refused(
            "no calls" if not calls else "calls of different floras",
            where="composition",
            rule="A stand is told from the calls of one flora's plants, at least one.",
            step="Name a plant first.",
        )
    many = np.ones(len(calls), dtype=np.intp) if counts is None else np.array(counts, dtype=np.intp)
    if many.shape != (len(calls),) or (many < 1).any():
        raise Refused(
            f"counts {list(counts or ())!r}",
            where="composition",
            rule="One count a call, each 1 or more.",
            step="Correct the counts.",
        )
    prior = np.mean([call.prior for call in calls], axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        log_like = np.array([np.where(call.prior > 0, np.log(call.posterior / call.prior), -np.inf) for call in calls])
    log_like = np.maximum(log_like, -700.0)
    # A hybrid plant is rare; a stand of hybrids is far rarer, as each needs a mother and pollen of another kind.
    crosses = np.array(["x" in name for name in calls[0].taxa])
    alpha = np.where(crosses, settings("stand_crosses"), 1.0) * settings("stand_concentration") * prior
    alpha = np.maximum(alpha, 1e-12)
    named, totals = _sample(log_like, alpha, many, rng)
    gammas = rng.standard_gamma(alpha + totals)
    gammas = np.maximum(gammas, 1e-300)
    shares = gammas / gammas.sum(axis=1, keepdims=True)
    for array in (shares, named):
        array.setflags(write=False)
    return Composition(calls[0].taxa, shares, named, tuple(int(n) for n in many), settings("recognised"))


def _sample(
    log_like: FloatArray, alpha: FloatArray, many: npt.NDArray[np.intp], rng: np.random.Generator
) -> tuple[npt.NDArray[np.intp], FloatArray]:
    """Names of the plants and counts by name: shapes (draws, plants), (draws, names)."""
    k = log_like.shape[1]
    single, clumps = np.flatnonzero(many == 1), np.flatnonzero(many > 1)
    like = np.exp(log_like[single] - log_like[single].max(axis=1, keepdims=True)) if single.size else log_like[single]
    chains = np.arange(_CHAINS)
    named = np.stack([_pick(np.broadcast_to(row + np.log(alpha), (_CHAINS, k)), rng) for row in log_like], axis=1)
    # Half of the chains start with all plants of one name: the other way to explain alike plants.
    alike = log_like.sum(axis=0) + gammaln(alpha + many.sum()) - gammaln(alpha)
    named[::2] = _pick(np.broadcast_to(alike, (_CHAINS, k)), rng)[::2, None]
    totals = _counts(named, many, k)
    kept_names, kept_totals = [], []
    for sweep in range(_WARM_UP + _KEPT * _BETWEEN):
        if single.size:
            named[:, single] = _together(like, rng.standard_gamma(alpha + totals), rng)
            totals = _counts(named, many, k)
        for i in rng.permutation(clumps):
            totals[chains, named[:, i]] -= many[i]
            base = alpha + totals
            named[:, i] = _pick(log_like[i] + gammaln(base + many[i]) - gammaln(base), rng)
            totals[chains, named[:, i]] += many[i]
        _exchange(named, totals, log_like, alpha, rng)
        if sweep >= _WARM_UP and (sweep - _WARM_UP) % _BETWEEN == _BETWEEN - 1:
            kept_names.append(named.copy())
            kept_totals.append(totals.copy())
    return np.concatenate(kept_names), np.concatenate(kept_totals)


def _counts(named: npt.NDArray[np.intp], many: npt.NDArray[np.intp], k: int) -> FloatArray:
    """Plants of each name in each chain, shape = (chains, k)."""
    rows = np.arange(len(named))[:, None] * k + named
    weights = np.broadcast_to(many, named.shape).ravel()
    counts = np.bincount(rows.ravel(), weights, minlength=len(named) * k)
    return np.asarray(counts.reshape(len(named), k), dtype=np.float64)


def _together(like: FloatArray, shares: FloatArray, rng: np.random.Generator) -> npt.NDArray[np.intp]:
    """A name for each plant in each chain, given the chain's shares (of any scale), shape = (chains, plants).

    Walks through the names once and stops where the sum of share times likelihood passes a uniform part of the whole.
    """
    named = np.zeros((len(shares), len(like)), dtype=np.intp)
    possible = np.flatnonzero(like.max(axis=0) > 0)
    # A part at a time, small enough to stay in the processor's own memory.
    for first in range(0, len(like), _PART):
        part = like[first : first + _PART]
        left = rng.random((len(shares), len(part))) * (shares @ part.T)
        passed = np.zeros(left.shape, dtype=np.uint8)
        for name in possible[:-1]:
            left -= np.multiply.outer(shares[:, name], part[:, name])
            passed += left > 0
        named[:, first : first + _PART] = possible[passed]
    return named


def _pick(logs: FloatArray, rng: np.random.Generator) -> npt.NDArray[np.intp]:
    """One index a row by the Gumbel trick, shape = (rows,)."""
    return np.asarray((logs + rng.gumbel(size=logs.shape)).argmax(axis=1))


def _exchange(
    named: npt.NDArray[np.intp],
    totals: FloatArray,
    log_like: FloatArray,
    alpha: FloatArray,
    rng: np.random.Generator,
) -> None:
    """In each chain, exchange two names in all plants, by the Metropolis rule; changes the arrays in place."""
    chains = np.arange(len(named))
    a = rng.integers(0, alpha.size, len(named))
    b = named[chains, rng.integers(0, named.shape[1], len(named))]
    is_a, is_b = named == a[:, None], named == b[:, None]
    na, nb = totals[chains, a], totals[chains, b]
    change = np.einsum("cp,cp->c", is_b.astype(np.float64) - is_a, log_like.T[a] - log_like.T[b])
    change += gammaln(alpha[a] + nb) + gammaln(alpha[b] + na) - gammaln(alpha[a] + na) - gammaln(alpha[b] + nb)
    # Which pair is tried depends on how many plants have either name, together: an exchange leaves that as it was, so
    # that going back is as likely as going and the Metropolis rule needs no correction.
    take = (np.log(rng.random(len(named))) < change) & (a != b)
    named[take] = np.where(is_a, b[:, None], np.where(is_b, a[:, None], named))[take]
    totals[chains[take], a[take]], totals[chains[take], b[take]] = nb[take], na[take]
