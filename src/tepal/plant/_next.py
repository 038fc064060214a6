"""Which look next: the expected drop in the expected loss of acting wrongly, per second of looking."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy.special import xlogy

from tepal.plant._likelihood import filled
from tepal.plant._losses import cost_of, loss_matrix
from tepal.plant._model import Bound
from tepal.plant._roster import FloatArray

_NODES = 20


@dataclass(frozen=True, slots=True)
class NextLook:
    """A look that could be had: expected drop in expected loss, seconds it takes, their ratio."""

    character: str
    gain: float
    seconds: float
    tool: str
    question: str

    @property
    def gain_per_s(self) -> float:
        return self.gain / self.seconds


@dataclass(frozen=True, slots=True, eq=False)
class Outcomes:
    """Every outcome of every look at one stage: log probabilities, shape = (outcomes, names), and whose they are."""

    characters: tuple[str, ...]
    log_rows: FloatArray
    starts: npt.NDArray[np.intp]
    owner: npt.NDArray[np.intp]
    known: FloatArray  # shape = (characters, names): 1 where the name has a row
    seconds: FloatArray


@lru_cache(maxsize=256)
def outcomes(bound: Bound) -> Outcomes:
    """Tabulate what could be seen; a measurement is cut into bins between its outermost means."""
    told, flora = bound.told, bound.flora
    names, blocks, known = [], [], []
    for name, character in flora.characters.items():
        if not character.look or name not in told.own:
            continue
        if name in told.categorical:
            part = told.categorical[name]
            block = filled(part.shares, part.known, bound.prior)
        else:
            numeric = told.numeric[name]
            wide = 3 * np.sqrt(numeric.between**2 + numeric.doubt**2)
            low, high = max(float(np.nanmin(numeric.mean - wide)), 0.0), float(np.nanmax(numeric.mean + wide))
            nodes = np.linspace(low, high, _NODES)
            block = filled(numeric.density(nodes, np.ones(_NODES)), numeric.known, bound.prior)
            part = numeric  # type: ignore[assignment]
        names.append(name)
        blocks.append(block / block.sum(axis=0))
        known.append(part.known.astype(np.float64))
    sizes = [len(block) for block in blocks]
    asking = bound.settings("asking_seconds")
    return Outcomes(
        tuple(names),
        np.log(np.maximum(np.concatenate(blocks), 1e-280)) if blocks else np.zeros((0, bound.prior.size)),
        np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.intp) if blocks else np.zeros(0, np.intp),
        np.repeat(np.arange(len(sizes)), sizes),
        np.array(known).reshape(len(names), bound.prior.size),
        np.array([flora.characters[name].seconds + asking for name in names]),
    )


def expected_loss(posterior: FloatArray, bound: Bound) -> FloatArray:
    """Expected loss, shape = (...): of the best action and of a name drawn from the posterior, weighed together, and
    what the doubt itself costs, by the nat of entropy.

    Actions are those of the taxa, and a sample: a cross is treated as one of its parents. The best action alone is
    blind to looks that change it only together; a drawn name's loss falls with every look that tells anything, by what
    it would save. Both fall little by a look that halves many small chances; the entropy counts that too.
    """
    risk = posterior @ loss_matrix(bound.flora, bound.settings, bound.told.stage).T
    least = risk[..., : bound.told.roster.taxa].min(axis=-1)
    drawn = np.einsum("...k,...k->...", risk, posterior)
    doubt = -xlogy(posterior, posterior).sum(axis=-1)
    share, (sample, nat) = bound.settings("drawn_share"), (_cost(bound, name) for name in ("sample", "doubt"))
    return np.asarray((1 - share) * np.minimum(least, sample) + share * drawn + nat * doubt)


def _cost(bound: Bound, name: str) -> float:
    return cost_of(bound.flora, bound.settings, name)


def next_looks(
    posterior: FloatArray, bound: Bound, asked: Collection[str], absent: Collection[str] = ()
) -> tuple[NextLook, ...]:
    """Looks not yet asked, by expected gain per second, best first; those that gain nothing are left out, and those of
    which the plant has nothing (`absent`).

    `posterior` has shape (names,). The gain counts only as far as the plant is likely to be one of which the character
    is told at all.
    """
    table = outcomes(bound)
    if not table.characters:
        return ()
    flora = bound.flora
    binned = {flora.characters[name].binned_from for name in asked} - {None}
    open_ = np.array(
        [
            name not in asked
            and name not in absent
            and name not in binned
            and flora.characters[name].binned_from not in asked
            for name in table.characters
        ]
    )
    joint = (
        np.concatenate([look_rows(bound, i, n) for i, n in enumerate(_asked_before(table, bound, asked))]) * posterior
    )
    mass = joint.sum(axis=1)
    after = mass * expected_loss(joint / np.maximum(mass, 1e-280)[:, None], bound)
    gain = expected_loss(posterior, bound) - np.add.reduceat(after, table.starts)
    gain *= table.known @ posterior
    order = np.argsort(-gain / table.seconds, kind="stable")
    return tuple(
        NextLook(
            name := table.characters[i],
            float(gain[i]),
            float(table.seconds[i]),
            flora.characters[name].tool,
            flora.characters[name].question,
        )
        for i in order
        if open_[i] and gain[i] > 0
    )


def enough(looks: tuple[NextLook, ...], bound: Bound) -> bool:
    """Whether no look is worth its seconds any more."""
    second = _cost(bound, "second")
    return all(look.gain <= second * look.seconds for look in looks)


def _asked_before(table: Outcomes, bound: Bound, asked: Collection[str]) -> list[int]:
    """For each character, how many of its overlap group were asked already."""
    characters = bound.flora.characters
    groups = [characters[name].overlap for name in asked]
    return [groups.count(group) if (group := characters[name].overlap) else 0 for name in table.characters]


@lru_cache(maxsize=8192)
def look_rows(bound: Bound, character: int, before: int) -> FloatArray:
    """Chances of the outcomes of one look that follows `before` others of its group, shape = (outcomes, names)."""
    table, settings = outcomes(bound), bound.settings
    weight = settings("temper", bound.told.stage) / (1 + before * settings("overlap_correlation"))
    rows = np.asarray(np.exp(weight * table.log_rows[table.owner == character]), dtype=np.float64)
    rows /= rows.sum(axis=0)
    rows.setflags(write=False)
    return rows
