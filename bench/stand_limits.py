"""What could be known of a total at best: an estimator taught on the very fields that `stand_coverage` draws.

It sees the counts (not their places) and has seen hundreds of other fields of the same generator, so it knows how dense
fields are there and of what kinds; no estimator for real fields can. Its log error is near the least that counts allow
on these fields, though no proof of it. Beside it the counts that make up the error of ours, by how many plants were
found. Writes its section of bench/RESULTS.md. Run: python bench/stand_limits.py [repeats] [fields to teach on]
"""

from __future__ import annotations

import sys
from collections import defaultdict

import numpy as np
from shapely.geometry import box
from sklearn.ensemble import HistGradientBoostingRegressor

import stand_coverage as coverage
from results import put

# Seeds that neither `stand_coverage` nor any choice has used.
TAUGHT = 77_000
NUMBERS = (10, 25, 60)
WAYS = ("random", "walk")
FOUND = ((0, 0, "none"), (1, 3, "1 to 3"), (4, 10, "4 to 10"), (11, 10**9, "more"))


def on_quadrats(field):
    q, w = coverage.QUADRATS, coverage.WIDTH
    return field.reshape(q, w, q, w).sum(axis=(1, 3)).ravel()


def features(y, way):
    """What an estimator may go by: mean, spread, empty share and eleven quantiles of the counts."""
    log = np.log1p(y)
    mean = max(y.mean(), 0.5 / y.size)
    spread = [np.log(mean), (y == 0).mean(), log.mean(), log.std(), y.std() / mean]
    return [*spread, *np.quantile(log, np.linspace(0, 1, 11)), way == "walk"]


def taught(fields):
    """An estimator of log(total + 1) for each number of quadrats, of least absolute error."""
    seen, total = defaultdict(list), defaultdict(list)
    for r in range(fields):
        rng = np.random.default_rng(TAUGHT + r)
        truth = coverage.field(coverage.KINDS[r % len(coverage.KINDS)], rng)
        count = on_quadrats(truth)
        for n in NUMBERS:
            for way in WAYS * 6:
                seen[n].append(features(count[coverage.places(way, n, rng)], way))
                total[n].append(np.log(truth.sum() + 1))
    return {
        n: HistGradientBoostingRegressor(
            loss="absolute_error", max_iter=150, learning_rate=0.06, max_leaf_nodes=12, min_samples_leaf=60,
            l2_regularization=1.0, random_state=0,
        ).fit(seen[n], total[n])
        for n in NUMBERS
    }  # fmt: skip


def main():
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    fields = int(sys.argv[2]) if len(sys.argv) > 2 else 600
    models = taught(fields)
    site = box(0, 0, coverage.SIDE, coverage.SIDE)
    errors, by_found = defaultdict(list), defaultdict(list)
    for k, kind in enumerate(coverage.KINDS):
        for n in NUMBERS:
            for way in WAYS:
                for r in range(repeats):
                    # The very fields and quadrats of `stand_coverage`.
                    rng = np.random.default_rng([coverage.FRESH + r, k, n, way == "walk"])
                    truth = coverage.field(kind, rng)
                    cell = coverage.places(way, n, rng)
                    y, total = on_quadrats(truth)[cell], truth.sum()
                    errors[n, "taught"].append(float(models[n].predict([features(y, way)])[0] - np.log(total + 1)))
                    errors[n, "NB"].append(np.log((coverage.peer_nb(y, coverage.QUADRATS**2)[1] + 1) / (total + 1)))
                    if n == NUMBERS[0]:
                        north, x = ((v + 0.5) * coverage.WIDTH for v in np.divmod(cell, coverage.QUADRATS))
                        mine = np.log((coverage.ours(x, north, y, site, rng)[1] + 1) / (total + 1))
                        word = next(w for low, high, w in FOUND if low <= y.sum() <= high)
                        by_found[word].append((mine, errors[n, "NB"][-1], errors[n, "taught"][-1]))
    text = [
        "## What counts allow to know of a total (`bench/stand_limits.py`)",
        "",
        f"An estimator taught on {fields} other fields of the generator of `bench/stand_coverage.py` (gradient "
        "boosting, least absolute error of the log): it knows how dense and of what kinds fields are there, which none "
        f"does in earnest. Asked on the fields of that bench, {repeats} for each kind, number and way.",
        "",
        "| quadrats | mean log error, taught | of the constant NB | half below, taught | of the constant NB |",
        "|---|---|---|---|---|",
    ]
    for n in NUMBERS:
        one, other = (np.abs(errors[n, m]) for m in ("taught", "NB"))
        text.append(f"| {n} | {one.mean():.2f} | {other.mean():.2f} | {np.median(one):.2f} | {np.median(other):.2f} |")
    text += [
        "",
        f"What makes up the mean at {NUMBERS[0]} quadrats, by the plants found on all of them:",
        "",
        "| plants found | fields | mean log error, ours | signed | constant NB | taught |",
        "|---|---|---|---|---|---|",
    ]
    for _, _, word in FOUND:
        if word in by_found:
            e = np.array(by_found[word])
            size = np.abs(e).mean(axis=0)
            text.append(
                f"| {word} | {len(e)} | {size[0]:.2f} | {e[:, 0].mean():+.2f} | {size[1]:.2f} | {size[2]:.2f} |"
            )
    print("\n".join(text))
    put("stand limits", "\n".join(text))


if __name__ == "__main__":
    main()
