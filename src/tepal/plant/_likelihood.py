"""What each name would show at one stage: the flora's tables as arrays of predictive probabilities.

Categorical (per name t, state s): the Dirichlet predictive (c f + b / S) / (c + b), c the concentration of the row's
basis, b the base mass; then misreading, m spread evenly over the other states.
Numeric: a Student t around the mean with variance sd² + (doubt of the mean)² + (ruler's error)².
A cross shows either parent's state, and measures between its parents. `other` may show anything. A name without a row
gets the prior-weighted mean of the names with one, which leaves its own probability where it was.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np
import numpy.typing as npt
from scipy.special import gammaln

from tepal.flora import Character, Flora, Measure, StateShares
from tepal.plant._roster import FloatArray, Roster, roster
from tepal.plant._settings import Reader, Settings

BoolArray = npt.NDArray[np.bool_]
# At a stage for which a character is not told, the rows of the first of these stages that has any are borrowed.
_BORROW = {
    "mature_seed": ("reproductive", "vegetative", "seedling_2-4_leaf", "cotyledon"),
    "reproductive": ("vegetative", "mature_seed", "seedling_2-4_leaf", "cotyledon"),
    "vegetative": ("seedling_2-4_leaf", "reproductive", "cotyledon", "mature_seed"),
    "seedling_2-4_leaf": ("vegetative", "cotyledon", "reproductive", "mature_seed"),
    "cotyledon": ("seedling_2-4_leaf", "vegetative", "reproductive", "mature_seed"),
}


@dataclass(frozen=True, slots=True, eq=False)
class Categorical:
    """Predictive probabilities of states, shape = (states, names); `known` says which names have a row."""

    states: Mapping[str, int]
    shares: FloatArray
    known: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class Numeric:
    """Parts of the density of a measured value; all arrays have shape (taxa,), NaN where a taxon has no row."""

    mean: FloatArray
    between: FloatArray  # sd between plants
    doubt: FloatArray  # sd of the population's mean
    cv: float
    leaf: float
    freedom: float
    gross: float
    broad: tuple[float, float]  # mean and sd of what anything could measure
    parents: npt.NDArray[np.intp]
    known: BoolArray  # shape = (names,)

    def density(self, value: FloatArray, leaves: FloatArray) -> FloatArray:
        """Density of the mean of `leaves` distinct leaves, shape = (n, names), 0 in columns that are not known."""
        x, n = value[:, None], leaves[:, None]
        spread = self.leaf + (1 - self.leaf) / n

        def of(mean: FloatArray, between: FloatArray, doubt: FloatArray) -> FloatArray:
            scale = np.sqrt(between**2 * spread + doubt**2 + (self.cv * mean) ** 2 / n)
            return student(x, mean, scale, self.freedom)

        taxa = of(self.mean, self.between, self.doubt)
        a, b = self.parents[:, 0], self.parents[:, 1]
        # Half of the crosses measure between their parents, half take after one: no paper tells more.
        middle = of(*((part[a] + part[b]) / 2 for part in (self.mean, self.between, self.doubt)))
        crosses = 0.5 * middle + 0.25 * (taxa[:, a] + taxa[:, b])
        anything = student(x, np.array([self.broad[0]]), np.array([self.broad[1]]), self.freedom)
        whole = np.concatenate([taxa, crosses, anything], axis=1)
        return np.where(self.known, (1 - self.gross) * whole + self.gross * anything, 0.0)


def student(x: FloatArray, mean: FloatArray, scale: FloatArray, freedom: float) -> FloatArray:
    """Density of Student's t with a place and a scale."""
    constant = np.exp(gammaln((freedom + 1) / 2) - gammaln(freedom / 2)) / np.sqrt(freedom * np.pi)
    with np.errstate(invalid="ignore"):
        z = (x - mean) / scale
        return np.asarray(constant / scale * np.exp(-(freedom + 1) / 2 * np.log1p(z * z / freedom)))


@dataclass(frozen=True, slots=True, eq=False)
class Likelihoods:
    """Everything told at one stage. `own`: told for this very stage (or any), not borrowed from another."""

    stage: str
    roster: Roster
    categorical: Mapping[str, Categorical]
    numeric: Mapping[str, Numeric]
    own: frozenset[str]


@lru_cache(maxsize=64)
def likelihoods(flora: Flora, stage: str, settings: Settings, reader: Reader) -> Likelihoods:
    """Compile a flora's tables for one stage and one reader; cached."""
    names = roster(flora, settings)
    categorical: dict[str, Categorical] = {}
    numeric: dict[str, Numeric] = {}
    own = set()
    for character in flora.characters.values():
        told_at, rows = rows_at(flora, character.name, stage)
        if not rows:
            continue
        if told_at == stage:
            own.add(character.name)
        if character.kind == "categorical":
            categorical[character.name] = _categorical(character, rows, names, settings, reader)
        else:
            numeric[character.name] = _numeric(character, rows, names, settings, reader)
    return Likelihoods(stage, names, MappingProxyType(categorical), MappingProxyType(numeric), frozenset(own))


def rows_at(flora: Flora, character: str, stage: str) -> tuple[str, dict[str, StateShares | Measure]]:
    """The rows of a character that count at a stage, and the stage whose rows they are."""
    for at in (stage, *_BORROW[stage]):
        rows = {code: row for code in flora.taxa if (row := flora.look(code, character, at)) is not None}
        if rows:
            return at, rows
    return stage, {}


def _categorical(
    character: Character, rows: Mapping[str, StateShares | Measure], names: Roster, settings: Settings, reader: Reader
) -> Categorical:
    states = character.states
    seen = np.full((len(states), len(names.names)), np.nan)
    base = settings("base_mass")
    for code, row in rows.items():
        assert isinstance(row, StateShares)
        shares = np.array([row.shares.get(state, 0.0) for state in states])
        c = settings("concentration", row.basis)
        seen[:, names.index(code)] = (c * shares + base / len(states)) / (c + base)
    first = names.taxa
    a, b = names.parents[:, 0], names.parents[:, 1]
    seen[:, first : first + len(a)] = (seen[:, a] + seen[:, b]) / 2
    known = ~np.isnan(seen[0])
    seen[:, -1] = (seen[:, :first][:, known[:first]].mean(axis=1) + 1 / len(states)) / 2
    known[-1] = True
    misread = 1 - (1 - character.misread * settings("misread_scale")) * reader.reliability
    seen = (1 - misread) * seen + misread * (1 - seen) / (len(states) - 1)
    return Categorical({state: i for i, state in enumerate(states)}, np.where(known, seen, 0.0), known)


def _numeric(
    character: Character, rows: Mapping[str, StateShares | Measure], names: Roster, settings: Settings, reader: Reader
) -> Numeric:
    mean, between, doubt = (np.full(names.taxa, np.nan) for _ in range(3))
    for code, row in rows.items():
        assert isinstance(row, Measure)
        at = names.index(code)
        mean[at], between[at] = row.mean, row.sd
        doubt[at] = settings("mean_doubt", row.basis) * row.sd
    taxa = ~np.isnan(mean)
    known = np.concatenate([taxa, taxa[names.parents].all(axis=1), [True]])
    centre = float(np.nanmean(mean))
    # Twice the whole spread: `other` is anything that somebody would still measure.
    wide = 2 * float(np.sqrt(np.nanvar(mean) + np.nanmean(between**2)))
    return Numeric(
        mean,
        between,
        doubt,
        character.reading_cv,
        settings("leaf_correlation"),
        settings("freedom"),
        1 - reader.reliability,
        (centre, wide),
        names.parents,
        known,
    )


def filled(density: FloatArray, known: BoolArray, prior: FloatArray) -> FloatArray:
    """Likelihoods with the names that are not known given the prior-weighted mean of those that are.

    `density` has shape (..., names), `known` too or (names,). With the prior as weights, a name of which nothing is
    told keeps exactly the probability that it had when this is the only look.
    """
    if known.all():
        return density
    weight = known * prior
    # Where the prior gives nothing to any name that is told, all of these count alike.
    weight = np.where(weight.sum(axis=-1, keepdims=True) > 0, weight, known)
    pooled = (density * weight).sum(axis=-1) / weight.sum(axis=-1)
    return np.where(known, density, pooled[..., None])


def log_likelihood_floor(values: FloatArray) -> FloatArray:
    """Logarithm that stays finite: a value beyond every tail says as much for every name as double precision can."""
    return np.asarray(np.log(np.maximum(values, 1e-280)))
