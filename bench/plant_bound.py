"""What the looks can tell at most: Bayes that knows how make-believe worlds are made, though not which one it is in.

It has the true weights, the true chance of a cross and of misreading, the true spread of populations, and shares that
are right on average. No reader of the same looks can have a smaller log loss on average, but for what one plant tells
of another in the same world; so what separates the room from it is what the room throws away. Exact where the
characters of a plant are independent and every look is there to be had; else a good reader, and no bound.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from plant_specimens import EARLY, REGIONS, Trouble, rows_of


class Knowing:
    """Posteriors over `names` for plants of one stage of worlds made with `trouble`."""

    def __init__(self, flora: Any, names: Sequence[str], stage: str, trouble: Trouble) -> None:
        self.flora, self.names, self.trouble = flora, list(names), trouble
        self.at = {name: i for i, name in enumerate(self.names)}
        self.pairs = [
            (i, *(self.at[part] for part in name.split("x")))
            for name, i in self.at.items()
            if name not in flora.taxa and name != "other"
        ]
        self.prior = {region: self._prior(stage, region) for region in (*REGIONS, None)}
        self.shares: dict[str, tuple[dict[str, int], np.ndarray]] = {}
        self.measures: dict[str, tuple[np.ndarray, np.ndarray]] = {}
        for name, rows in rows_of(flora, stage).items():
            if flora.characters[name].kind == "categorical":
                self.shares[name] = self._categorical(name, rows)
            else:
                self.measures[name] = self._numeric(rows)

    def _prior(self, stage: str, region: str | None) -> np.ndarray:
        taxa, trouble = self.flora.taxa, self.trouble
        alike = list(self.flora.look_alikes()) if stage in EARLY else []
        share = trouble.look_alikes if alike else 0.0
        prior = np.zeros(len(self.names))
        for each in REGIONS if region is None else (region,):
            base = {code: taxon.weights[each] for code, taxon in taxa.items() if taxon.pigweed}
            whole = sum(base.values()) * (len(REGIONS) if region is None else 1)
            for code, weight in base.items():
                prior[self.at[code]] += (1 - share) * weight / whole
        for code in alike:
            prior[self.at[code]] = share / len(alike)
        crosses = np.array([math.sqrt(prior[a] * prior[b]) for _, a, b in self.pairs])
        prior *= 1 - trouble.crosses
        for (i, _, _), weight in zip(self.pairs, crosses / crosses.sum(), strict=True):
            prior[i] = trouble.crosses * weight
        return prior

    def _categorical(self, name: str, rows: Mapping[str, Any]) -> tuple[dict[str, int], np.ndarray]:
        states = [s for s in self.flora.characters[name].states if any(r.shares.get(s, 0) > 0 for r in rows.values())]
        found = np.full((len(states), len(self.names)), np.nan)
        for code, row in rows.items():
            shares = np.array([row.shares.get(state, 0.0) for state in states])
            found[:, self.at[code]] = shares / shares.sum()
        for i, a, b in self.pairs:
            found[:, i] = (found[:, a] + found[:, b]) / 2
        if len(states) > 1:
            found = (1 - self.trouble.misread) * found + self.trouble.misread * (1 - found) / (len(states) - 1)
        return {state: i for i, state in enumerate(states)}, found

    def _numeric(self, rows: Mapping[str, Any]) -> tuple[np.ndarray, np.ndarray]:
        mean, sd = np.full((2, len(self.names)), np.nan)
        for code, row in rows.items():
            mean[self.at[code]], sd[self.at[code]] = row.mean, row.sd
        for i, a, b in self.pairs:
            mean[i], sd[i] = (mean[a] + mean[b]) / 2, (sd[a] + sd[b]) / 2
        return mean, np.sqrt(sd**2 * (1 + self.trouble.shift_sd**2) + (self.trouble.ruler * mean) ** 2)

    def posterior(self, looks: Mapping[str, Any], region: str | None) -> np.ndarray:
        """Probabilities of the names, shape = (names,)."""
        prior = self.prior[region]
        logs = np.log(np.maximum(prior, 1e-300))
        for name, value in looks.items():
            if name in self.shares:
                states, shares = self.shares[name]
                likely = shares[states[value]]
            else:
                mean, sd = self.measures[name]
                likely = np.exp(-0.5 * ((value - mean) / sd) ** 2) / sd
            told = ~np.isnan(likely)
            pooled = (likely[told] * prior[told]).sum() / prior[told].sum()
            logs += np.log(np.maximum(np.where(told, likely, pooled), 1e-12))
        chances = np.exp(logs - logs.max())
        return np.asarray(chances / chances.sum())
