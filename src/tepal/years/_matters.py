"""What matters most: how much of the doubt about the outcome each value brings, by exchanging one at a time.

Two independent sets of all values are drawn, A and B, and for each value a set AB that is A but for this value, taken
from B. With f the outcome and V its variance over A and B together (Saltelli and others 2010, Computer Physics
Communications 181:259-270, and Jansen 1999, 117:35-43):

    first order  S = mean(f_B (f_AB - f_A)) / V         the share that would go if the value were known
    total        T = mean((f_A - f_AB)^2) / (2 V)       the share that would stay if all else were known
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from tepal.flora import Flora
from tepal.programme import Programme
from tepal.years._executor import InTurn, Runs
from tepal.years._luck import Luck
from tepal.years._project import blocks_of, tracks_of
from tepal.years._values import Published, Values

FloatArray = npt.NDArray[np.float64]

# What is chance and no value: whole plants, and how each season turns out. It is exchanged as one.
SEASONS = "seasons"
_CHANCE = frozenset({
    "emergence", "cohorts", "mothers", "new seed", "old seed", "deep seed", "turned down", "turned up", "founders",
    "deep founders", "counted plants", "through cover", "emergence factor", "seed factor",
    "survival of the year",
})  # fmt: skip
# The outcome is a logarithm: seed goes over orders of magnitude. One seed in ten square metres is as good as none.
_LEAST_M2 = 0.1


@dataclass(frozen=True, slots=True)
class Matter:
    """A value by its parameter's name, with its first-order and its total share of the doubt."""

    name: str
    first: float
    total: float


@dataclass(frozen=True, slots=True)
class Exchanged:
    """Which of two independent sets each value takes: set `rest`, but for those that are named."""

    named: frozenset[str] = frozenset()
    rest: str = "a"

    def __call__(self, name: str) -> str:
        key = SEASONS if name in _CHANCE else name
        return ("b" if self.rest == "a" else "a") if key in self.named else self.rest


def indices(f_a: FloatArray, f_b: FloatArray, f_ab: FloatArray) -> tuple[FloatArray, FloatArray]:
    """First-order and total indices from outcomes of shape (N,), (N,) and (factors, N): shape = (factors,) each.

    All are zero where the outcome does not vary.
    """
    both = np.concatenate([f_a, f_b])
    middle, variance = both.mean(), both.var()
    if variance == 0:
        return np.zeros(len(f_ab)), np.zeros(len(f_ab))
    # The mean is taken off first: it changes no expectation, and much of the estimate's scatter.
    first = np.mean((f_b - middle) * (f_ab - f_a), axis=1) / variance
    total = np.mean((f_a - f_ab) ** 2, axis=1) / (2 * variance)
    return first, total


def what_matters(
    programme: Programme, *, flora: Flora, years: int = 10, replicates: int = 1000, seed: int = 1,
    runs: Runs | None = None,
) -> tuple[Matter, ...]:  # fmt: skip
    """Values by how much of the doubt about the seed left in the ground they bring, most first.

    The work is that of `replicates` replicates for each of some thirty values.
    """
    tables = Published.of(flora, programme.taxon)
    names = _names(programme, tables)
    streams = [Exchanged(), Exchanged(rest="b"), *(Exchanged(frozenset({name})) for name in names)]
    jobs = [
        (programme, tables, years, Luck(seed, at, size, stream))
        for stream in streams
        for at, size in blocks_of(replicates)
    ]
    done = iter((runs or InTurn()).map(_outcome, jobs))
    each = len(blocks_of(replicates))
    outcomes = np.stack([np.concatenate([next(done) for _ in range(each)]) for _ in streams])
    first, total = indices(outcomes[0], outcomes[1], outcomes[2:])
    found = [Matter(name, float(s), float(t)) for name, s, t in zip(names, first, total, strict=True)]
    return tuple(sorted(found, key=lambda matter: -matter.total))


def _outcome(job: tuple[Programme, Published, int, Luck]) -> FloatArray:
    programme, tables, years, luck = job
    end = tracks_of(programme, Values(tables, programme, luck), years).seedbank_m2[:, -1]
    return np.asarray(np.log10(end + _LEAST_M2))


@dataclass(slots=True)
class _Listening:
    heard: list[str] = field(default_factory=list)

    def __call__(self, name: str) -> str:
        self.heard.append(SEASONS if name in _CHANCE else name)
        return "a"


def _names(programme: Programme, tables: Published) -> Sequence[str]:
    """Every value that the programme asks for, by playing it through once with two replicates."""
    listening = _Listening()
    tracks_of(programme, Values(tables, programme, Luck(0, 0, 2, listening)), len(programme.season))
    return tuple(dict.fromkeys(listening.heard))


def stands_on(programme: Programme, *, flora: Flora) -> tuple[str, ...]:
    """Keys of the sources behind the published values that a programme asks for."""
    values = Values(Published.of(flora, programme.taxon), programme, Luck(0, 0, 2))
    tracks_of(programme, values, len(programme.season))
    return tuple(values.stood_on)
