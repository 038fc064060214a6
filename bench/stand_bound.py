"""How well new counts can be foretold at all: a reader who knows how the patches of an invented field were made.

The patchy fields of `stand_peers` with the same folds. The reader knows what none does in earnest: how many plants
there are on average, how uneven the field is, how wide its patches are, that plants stand as in a Poisson process; only
where the patches lie is left to the counts (elliptical slice sampling, Murray, Adams and MacKay 2010, recalled). On
average over many fields no forecast from the same counts is better.
Writes its section of bench/RESULTS.md. Run: python bench/stand_bound.py [repeats]
"""

from __future__ import annotations

import sys
import warnings

import numpy as np

from results import put
from stand_peers import FIELDS, PEERS, SMOOTHED, P, folds_of, invented, ours, patches, score, seeded

STEP_M = 10.0
KNOWN = 80
# Of so many steps of the sampler the first are left out, and every tenth of the others is kept.
STEPS, LEFT_OUT, EVERY = 6000, 1000, 10


def made(kind, k):
    """What the reader knows: width of the patches (m), sd of log rates, plants where the field is 0."""
    rng = seeded(kind, k)
    level = 10 ** rng.uniform(-0.5, 1.0)
    rate, spread = patches(kind, rng)
    return SMOOTHED[kind] * STEP_M, spread, level / rate.mean()


def likely_fields(root, count, plants, rng):
    """Draws of the field at the counts given them, shape (n, draws); `root` is the Cholesky root of its covariance."""

    def log_chance(f):
        return float((count * f - plants * np.exp(f)).sum())

    now = np.zeros(len(count))
    chance, kept = log_chance(now), []
    for step in range(STEPS):
        other = root @ rng.standard_normal(len(count))
        least = chance + np.log(rng.random())
        angle = rng.uniform(0, 2 * np.pi)
        low, high = angle - 2 * np.pi, angle
        while True:
            tried = now * np.cos(angle) + other * np.sin(angle)
            if (of_tried := log_chance(tried)) > least:
                now, chance = tried, of_tried
                break
            low, high = (angle, high) if angle < 0 else (low, angle)
            angle = rng.uniform(low, high)
        if step >= LEFT_OUT and step % EVERY == 0:
            kept.append(now)
    return np.array(kept).T


def knowing(places, count, at, known, rng):
    width, spread, plants = known

    def covariance(p, q):
        # White noise smoothed with a normal curve of sd w has the correlation exp(-d²/4w²).
        return spread**2 * np.exp(-((p[:, None] - q[None]) ** 2).sum(axis=-1) / (4 * width**2))

    own = covariance(places, places) + 1e-8 * np.eye(len(count))
    fields = likely_fields(np.linalg.cholesky(own), count, plants, rng)
    beside = covariance(at, places)
    pull = np.linalg.solve(own, beside.T).T
    left = np.sqrt(np.maximum(spread**2 - (pull * beside).sum(axis=1), 1e-9))
    there = pull @ fields + left[:, None] * rng.standard_normal((len(at), fields.shape[1]))
    return np.quantile(rng.poisson(plants * np.exp(there)), P, axis=1, method="inverted_cdf").T


def main():
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 6
    warnings.simplefilter("ignore")
    lines = []
    ratios = {"random": [], "blocked": []}
    for kind in SMOOTHED:
        for k in range(FIELDS):
            name = f"{kind}, field {k + 1}"
            places, count = invented(kind, seeded(kind, k))
            for way, kept in ratios.items():
                found = {method: [] for method in ("knowing", "tepal", *PEERS)}
                for a, b in folds_of(name, places, KNOWN, way, repeats):
                    asked, truth = places[b], count[b]
                    reader = knowing(places[a], count[a], asked, made(kind, k), np.random.default_rng(1))
                    found["knowing"].append(score(reader, truth)[:2])
                    found["tepal"].append(score(ours(places[a], count[a], asked, 100.0), truth)[:2])
                    for peer, predict in PEERS.items():
                        found[peer].append(score(predict(places[a], count[a], asked), truth)[:2])
                mean = {method: np.mean(s, axis=0) for method, s in found.items()}
                best = np.min([mean[p] for p in PEERS], axis=0)
                kept.append(np.concatenate([mean["knowing"] / best, mean["tepal"] / best]))
                lines.append(f"| {name} | {way} | " + " | ".join(f"{r:.3f}" for r in kept[-1]) + " |")
                print(lines[-1], flush=True)
    text = ["## How well new counts can be foretold (`bench/stand_bound.py`)", "",
            "A reader who knows how an invented field was made (average, unevenness, width of its patches), and learns "
            "only from the counts where they lie, beside ours; both over the best of five peers of each task, as in "
            "`stand_peers`. On average over many fields no one way of foretelling does better than this reader; the "
            "best of five, picked afterwards for each task, can.", "",
            *(f"- {way} folds, {len(kept)} tasks: geometric mean of the knowing reader {g[0]:.3f}, of logs {g[1]:.3f}; "
              f"of ours {g[2]:.3f}, of logs {g[3]:.3f}."
              for way, kept in ratios.items() for g in [np.exp(np.mean(np.log(kept), axis=0))]), "",
            "| field | folds | knowing | of logs | ours | of logs |", "|---|---|---|---|---|---|", *lines]  # fmt: skip
    print("\n".join(text))
    put("stand bound", "\n".join(text))


if __name__ == "__main__":
    main()
