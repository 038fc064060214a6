"""What acting wrongly costs: a matrix of actions by truths."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from tepal.flora import STAGES, Flora
from tepal.plant._groups import inseparable_at
from tepal.plant._roster import FloatArray, roster
from tepal.plant._settings import Settings


def cost_of(flora: Flora, settings: Settings, name: str) -> float:
    """A loss by name: from the flora's losses where its group has them, else the settings' (all judgement)."""
    loss = flora.losses.get(name)
    return settings("loss", name) if loss is None else loss.value


@lru_cache(maxsize=64)
def loss_matrix(flora: Flora, settings: Settings, stage: str) -> FloatArray:
    """Loss of treating a plant as one name when it is another, shape = (names, names) for (action, truth).

    Nil on the diagonal. A cross with a hunted parent is hunted. Unit: one hundredth of a missed hunted plant that does
    not flower yet; once it flowers, all count `once_it_flowers` times.
    """
    names = roster(flora, settings)

    def cost(name: str) -> float:
        return cost_of(flora, settings, name)

    n = len(names.names)
    hunted = np.zeros(n, dtype=bool)
    hunted[: names.taxa] = [taxon.hunted for taxon in flora.taxa.values()]
    crosses = slice(names.taxa, n - 1)
    hunted[crosses] = hunted[names.parents].any(axis=1)
    action, truth = hunted[:, None], hunted[None, :]
    loss = np.full((n, n), cost("wrong_name"))
    loss = np.where(action & truth, cost("hunted_confused"), loss)
    loss = np.where(action & ~truth, cost("false_alarm"), loss)
    loss = np.where(~action & truth, cost("hunted_missed"), loss)
    for row, parents in enumerate(names.parents):
        for parent in parents:
            for a, t in ((parent, names.taxa + row), (names.taxa + row, parent)):
                # A call that misses a hunted parent stays as dear as any other miss.
                if hunted[a] == hunted[t]:
                    loss[a, t] = cost("parent_for_cross")
    for codes in inseparable_at(flora, stage):
        at = np.array([names.index(code) for code in codes])
        inside = np.ix_(at, at)
        # Among names that nobody can tell apart a wrong one is expected and acted on accordingly.
        loss[inside] = np.minimum(loss[inside], cost("wrong_in_group"))
    if STAGES.index(stage) >= STAGES.index("reproductive"):
        loss *= cost("once_it_flowers")
    np.fill_diagonal(loss, 0.0)
    loss.setflags(write=False)
    return loss
