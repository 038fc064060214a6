"""From looks to probabilities, for one plant or many thousand at once.

log P(t | looks) = log prior(t) + sum over looks of w log P(look | t) - log(sum over t). The weight w of a look is

    temper(stage) × 1 / (1 + (n - 1) overlap) × (borrowed from another stage ? borrowed_weight : 1) × leaves

with n the looks of the same overlap group on this plant; `leaves` is 1 for one answer and d / (1 + (d - 1) leaf) for d
different states on several leaves (measurements pool their leaves in the density instead).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_matrix

from tepal.flora import STAGES, Flora
from tepal.plant._likelihood import Likelihoods, filled, likelihoods, log_likelihood_floor
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
    first_row: MappingProxyType[str, int]  # of each categorical character in `log_shares`
    log_shares: FloatArray  # shape = (all states, names)


def bind(flora: Flora, settings: Settings, reader: Reader, stage: str, prior: FloatArray) -> Bound:
    """Compile for a stage (not `unknown`) and a prior over the roster, shape = (names,)."""
    told = likelihoods(flora, stage, settings, reader)
    first: dict[str, int] = {}
    blocks = []
    row = 0
    for name, part in told.categorical.items():
        first[name] = row
        row += len(part.states)
        blocks.append(log_likelihood_floor(filled(part.shares, part.known, prior)))
    rows = np.concatenate(blocks) if blocks else np.zeros((0, prior.size))
    return Bound(flora, settings, told, prior, MappingProxyType(first), rows)


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
    columns: list[int] = []
    data: list[float] = []
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
                    columns.append(first + states[state])
                    data.append(weight * share)
            else:
                part = measured.setdefault(name, ([], [], [], []))
                for column, value in zip(part, (at, look.value, look.leaves, weight), strict=True):
                    column.append(float(value))
    total = np.zeros((len(plants), prior.size))
    if rows:
        seen = csr_matrix((data, (rows, columns)), shape=(len(plants), len(bound.log_shares)))
        total += np.asarray(seen @ bound.log_shares)
    for name, (who, values, leaves, weight_of) in sorted(measured.items()):
        numeric = told.numeric[name]
        density = numeric.density(np.array(values), np.array(leaves))
        log_density = log_likelihood_floor(filled(density, numeric.known, prior))
        # A plant has each character once, so that no row is named twice here.
        total[np.array(who, dtype=np.intp)] += np.array(weight_of)[:, None] * log_density
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
