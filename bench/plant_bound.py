"""What the looks can tell at most: Bayes that knows how make-believe worlds are made, though not which one it is in.

It has the true weights, the true chance of a cross and of misreading, the true spread of populations, and shares that
are right on average. No reader of the same looks can have a smaller log loss on average, but for what one plant tells
of another in the same world; so what separates the room from it is what the room throws away. Exact where the
characters of a plant are independent and every look is there to be had; else a good reader, and no bound.

    python bench/plant_bound.py [--write]

tells where the room's log loss on random looks lies above that of this reader: plants of one kind, or crosses.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from plant_specimens import EARLY, REGIONS, Trouble, rows_of, some_looks


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


def where_it_lies() -> str:
    """A table of log losses on random looks, by crosses and the rest."""
    # Here, as the bench itself needs `Knowing`.
    from plant_calibration import HARD, SEEDS, STAGES, Names, made
    from tepal.flora import load
    from tepal.plant import Specimen, identify_many

    flora = load()
    names = Names(flora)
    lines = [
        "### What random looks can tell at most",
        "",
        "| worlds | plants | of these crosses | log loss: Tepal | knows how they are made | "
        "without the crosses: Tepal | knows | the crosses alone: Tepal | knows |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for label in ("as described", "characters of a plant independent", "peers as expected"):
        ours, theirs, crosses = [], [], []
        for stage in STAGES:
            knowing = Knowing(flora, names.names, stage, HARD[label])
            for seed in SEEDS:
                plants = made(flora, stage, seed, 12, HARD[label])
                rng = np.random.default_rng([seed, 2])
                looks = [some_looks(plant, rng) for plant in plants]
                batch = [Specimen(seen, stage, plant.region) for seen, plant in zip(looks, plants, strict=True)]
                told = [knowing.posterior(seen, plant.region) for seen, plant in zip(looks, plants, strict=True)]
                row, at = np.arange(len(plants)), names.at(plants)
                for losses, found in ((ours, identify_many(batch, flora=flora).posterior), (theirs, np.array(told))):
                    losses.append(-np.log(np.maximum(found[row, at], 1e-12)))
                crosses.append(np.array([plant.truth not in flora.taxa for plant in plants]))
        a, b, cross = (np.concatenate(part) for part in (ours, theirs, crosses))
        cells = [f"{part[at].mean():.3f}" for at in (cross | ~cross, ~cross, cross) for part in (a, b)]
        lines.append(f"| {label} | {len(a)} | {cross.sum()} | {' | '.join(cells)} |")
    lines += ["", "Nobody who has the same looks and no other plant of the place has a smaller log loss on average "
              "than who knows how the worlds are made, where characters are independent."]  # fmt: skip
    return "\n".join(lines)


def main() -> None:
    text = where_it_lies()
    print(text)
    if "--write" in sys.argv:
        from plant_calibration import put

        put("plant-bound", text)


if __name__ == "__main__":
    main()
