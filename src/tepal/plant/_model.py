"""From looks to probabilities, for one plant or many thousand at once.

log P(t | looks) = log prior(t) + sum over looks of w log P(look | t) - log(sum over t). The weight w of a look is

    temper(stage) × 1 / (1 + (n - 1) overlap) × (borrowed from another stage ? borrowed_weight : 1) × leaves

with n the looks of the same overlap group on this plant; `leaves` is 1 for one answer and d / (1 + (d - 1) leaf) for d
different states on several leaves (measurements pool their leaves in the density instead). A name of which the
character is not told gets the prior-weighted mean of P(look | t)^w over the names of which it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_matrix

from tepal.flora import STAGES, Flora
from tepal.plant._likelihood import BoolArray, Likelihoods, filled, likelihoods, log_likelihood_floor
from tepal.plant._looks import UNKNOWN, Look
from tepal.plant._roster import FloatArray, prior_for
from tepal.plant._settings import Reader, Settings


@dataclass(frozen=True, slots=True, eq=False)
class Bound:
    """The likelihoods of one stage under one prior: what is not told of a name is filled from the others."""

    flora: Flora
    settings: Settings
    told: Likelihoods
    prior: FloatArray
    first_row: MappingProxyType[str, int]  # of each categorical character in `shares`
    shares: FloatArray  # shape = (all states, names), 0 where not known
    known: BoolArray  # shape = (all states, names)

    def log_rows(self, rows: npt.NDArray[np.intp], weights: FloatArray) -> FloatArray:
        """Log likelihoods of states (rows of `shares`) at their weights, shape = (rows, names)."""
        raised = self.shares[rows] ** weights[:, None]
        return log_likelihood_floor(filled(raised, self.known[rows], self.prior))

    def log_measured(self, name: str, values: FloatArray, leaves: FloatArray, weights: FloatArray) -> FloatArray:
        """Log likelihoods of measurements at their weights, shape = (values, names)."""
        numeric = self.told.numeric[name]
        raised = numeric.density(values, leaves) ** weights[:, None]
        return log_likelihood_floor(filled(raised, numeric.known, self.prior))


def bind(flora: Flora, settings: Settings, reader: Reader, stage: str, prior: FloatArray) -> Bound:
    """Compile for a stage (not `unknown`) and a prior over the roster, shape = (names,)."""
    told = likelihoods(flora, stage, settings, reader)
    first: dict[str, int] = {}
    blocks, knowns = [], []
    row = 0
    for name, part in told.categorical.items():
        first[name] = row
        row += len(part.states)
        blocks.append(part.shares)
        knowns.append(np.broadcast_to(part.known, part.shares.shape))
    shares = np.concatenate(blocks) if blocks else np.zeros((0, prior.size))
    known = np.concatenate(knowns) if knowns else np.zeros((0, prior.size), dtype=bool)
    return Bound(flora, settings, told, prior, MappingProxyType(first), shares, known)


def weights_of(looks: Sequence[Look], bound: Bound) -> list[float]:
    """The weight of each look of one plant; 0 for one that says nothing or doubles another."""
    characters, told, settings = bound.flora.characters, bound.told, bound.settings
    names = {look.character for look in looks}
    counts: dict[str, int] = {}
    kept = []
    for look in looks:
        character = characters[look.character]
        doubled = character.binned_from is not None and character.binned_from in names
        tells = look.character in told.categorical or look.character in told.numeric
        kept.append(tells and not doubled)
        if kept[-1] and character.overlap:
            counts[character.overlap] = counts.get(character.overlap, 0) + 1
    overlap, temper = settings("overlap_correlation"), settings("temper", told.stage)
    borrowed, leaf = settings("borrowed_weight"), settings("leaf_correlation")
    weights = []
    for look, keep in zip(looks, kept, strict=True):
        n = counts.get(characters[look.character].overlap or "", 1)
        weight = temper / (1 + (n - 1) * overlap) if keep else 0.0
        if look.character not in told.own:
            weight *= borrowed
        if look.states:
            weight *= look.leaves / (1 + (look.leaves - 1) * leaf)
        weights.append(weight)
    return weights


def log_evidence(plants: Sequence[Sequence[Look]], bound: Bound) -> FloatArray:
    """Sum of the weighted log likelihoods of each plant's looks, shape = (plants, names)."""
    told, prior = bound.told, bound.prior
    rows: list[int] = []
    shares: list[float] = []
    # Few pairs of state and weight differ among thousands of plants: each is reckoned once.
    pairs: dict[tuple[int, float], int] = {}
    columns: list[int] = []
    measured: dict[str, tuple[list[float], list[float], list[float], list[float]]] = {}
    for at, looks in enumerate(plants):
        for look, weight in zip(looks, weights_of(looks, bound), strict=True):
            if not weight:
                continue
            name = look.character
            if look.states:
                first, states = bound.first_row[name], told.categorical[name].states
                for state, share in look.states:
                    rows.append(at)
                    columns.append(pairs.setdefault((first + states[state], weight), len(pairs)))
                    shares.append(share)
            else:
                part = measured.setdefault(name, ([], [], [], []))
                for column, value in zip(part, (at, look.value, look.leaves, weight), strict=True):
                    column.append(float(value))
    total = np.zeros((len(plants), prior.size))
    if rows:
        state_rows, weights = (np.array(part) for part in zip(*pairs, strict=True))
        seen = csr_matrix((shares, (rows, columns)), shape=(len(plants), len(pairs)))
        total += np.asarray(seen @ bound.log_rows(state_rows, weights))
    for name, (who, values, leaves, weight_of) in sorted(measured.items()):
        logs = bound.log_measured(name, np.array(values), np.array(leaves), np.array(weight_of))
        # A plant has each character once, so that no row is named twice here.
        total[np.array(who, dtype=np.intp)] += logs
    return total


def _softmax(logs: FloatArray) -> FloatArray:
    shifted = np.exp(logs - logs.max(axis=-1, keepdims=True))
    return np.asarray(shifted / shifted.sum(axis=-1, keepdims=True))


def log_prior(prior: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(prior))


def posterior_at(plants: Sequence[Sequence[Look]], bound: Bound) -> FloatArray:
    """Probabilities of the names for plants of one known stage, shape = (plants, names), rows sum to 1."""
    return _softmax(log_prior(bound.prior) + log_evidence(plants, bound))


def posterior_unknown(
    plants: Sequence[Sequence[Look]], bounds: Sequence[Bound]
) -> tuple[FloatArray, npt.NDArray[np.float64]]:
    """The same where the stage is unknown: stages are as likely as each other before any look.

    Returns
    -------
    (posterior, stages)
        Shapes (plants, names) and (plants, stages). A look told for no plant of a stage counts `stage_misfit` against
        that stage.
    """
    logs = []
    for bound in bounds:
        misfit = float(np.log(bound.settings("stage_misfit")))
        strays = np.array([sum(look.character not in bound.told.own for look in looks) for looks in plants])
        logs.append(log_prior(bound.prior) + log_evidence(plants, bound) + misfit * strays[:, None])
    joint = np.stack(logs, axis=1)
    flat = _softmax(joint.reshape(len(plants), -1)).reshape(joint.shape)
    return flat.sum(axis=1), flat.sum(axis=2)


def bounds_for(
    flora: Flora,
    settings: Settings,
    reader: Reader,
    *,
    stage: str,
    region: str | None,
    prior: dict[str, float] | None,
) -> tuple[Bound, ...]:
    """One bound for a known stage, one for each stage where it is unknown."""
    stages = STAGES if stage == UNKNOWN else (stage,)
    return tuple(
        bind(flora, settings, reader, at, prior_for(flora, settings, stage=at, region=region, prior=prior))
        for at in stages
    )
