"""What tells a taxon from the others at a stage: the looks that say most, one of each overlap group."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from tepal.flora._flora import Flora
from tepal.flora._records import Measure, StateShares

# A state that the tables give no share is still met with: damage, misreading, plants nobody described (judgement).
_LEAST_SHARE = 0.005
# Below this a look says next to nothing: two plants in 100 against one.
_LEAST_NATS = 0.02


@dataclass(frozen=True, slots=True)
class Telling:
    """A look that tells one taxon from the others.

    `nats`: how far it moves the odds on average (Kullback-Leibler divergence). `state`: the state that does most of
    it, with its share among the others in `of_others`; for a measure `state` is empty and `of_others` the others' mean.
    """

    row: StateShares | Measure
    nats: float
    state: str
    of_others: float


def telling(flora: Flora, code: str, stage: str, *, limit: int = 5) -> tuple[Telling, ...]:
    """The looks that best tell `code` from the group's other taxa at `stage`, best first.

    The others are weighed by how common they are over all regions. This is a description of the tables, for people
    who want to know what to look for; which look is worth its time on a given plant is for `plant` to say.
    """
    weights = {other: weight for other, weight in flora.weights(None).items() if other != code}
    found = []
    for name in flora.characters_at(stage):
        row = flora.look(code, name, stage)
        others = {other: told for other in weights if (told := flora.look(other, name, stage)) is not None}
        if row is None or not others or flora.characters[name].binned_from:
            continue
        total = sum(weights[other] for other in others)
        shares = {other: weights[other] / total for other in others} if total > 0 else {}
        if shares:
            found.append(
                _of_shares(row, others, shares) if isinstance(row, StateShares) else _of_measure(row, others, shares)
            )
    found.sort(key=lambda item: -item.nats)
    best: list[Telling] = []
    groups: set[str] = set()
    for item in found:
        group = flora.characters[item.row.character].overlap or item.row.character
        if item.nats >= _LEAST_NATS and group not in groups and len(best) < limit:
            groups.add(group)
            best.append(item)
    return tuple(best)


def _of_shares(row: StateShares, others: Mapping[str, StateShares | Measure], weights: Mapping[str, float]) -> Telling:
    told = [(weights[code], other.shares) for code, other in others.items() if isinstance(other, StateShares)]
    states = dict.fromkeys(state for shares in (row.shares, *(shares for _, shares in told)) for state in shares)
    of_others = {state: sum(weight * shares.get(state, 0.0) for weight, shares in told) for state in states}
    parts = {
        state: p * math.log(p / max(of_others[state], _LEAST_SHARE))
        for state in states
        if (p := max(row.shares.get(state, 0.0), _LEAST_SHARE))
    }
    best = max(parts, key=lambda state: parts[state])
    return Telling(row, sum(parts.values()), best, of_others[best])


def _of_measure(row: Measure, others: Mapping[str, StateShares | Measure], weights: Mapping[str, float]) -> Telling:
    measured = [(weights[code], other) for code, other in others.items() if isinstance(other, Measure)]
    mean = sum(weight * other.mean for weight, other in measured)
    variance = sum(weight * (other.sd**2 + (other.mean - mean) ** 2) for weight, other in measured)
    # Between two normal distributions, the others' mixture matched by its mean and variance.
    nats = 0.5 * ((row.sd**2 + (row.mean - mean) ** 2) / variance - 1 + math.log(variance / row.sd**2))
    return Telling(row, nats, "", mean)
