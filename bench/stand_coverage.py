"""How often the 90 % intervals of `tepal.stand` hold the truth, and what general-purpose peers do on the same counts.

Simulated fields of 16 ha (even, patchy log-Gaussian Cox, clustered Thomas, gradient), 10 to 60 quadrats at random or
along a walk; and real counts from `$TEPAL_COUNTS` or ../shared/data/counts (left out, saying so, where absent).
Writes its section of bench/RESULTS.md. Run: python bench/stand_coverage.py [repeats]
"""

from __future__ import annotations

import math
import sys
import time
import zlib
from collections import defaultdict

import numpy as np
from scipy import optimize, stats
from scipy.ndimage import gaussian_filter
from shapely.geometry import box

import stand_peers
from results import put
from tepal.stand import Counts, estimate

SIDE, WIDTH = 400.0, 2
QUADRATS = int(SIDE) // WIDTH
CELL = 1.0
# Fields on which nothing was chosen.
FRESH = 7000
KINDS = ("even", "patchy", "clustered", "gradient")


def field(kind, rng):
    """Plants per square-metre cell of a field, shape (400, 400): a fully known truth."""
    n = int(SIDE / CELL)
    level = 10 ** rng.uniform(-1.3, 0.7)
    if kind == "even":
        rate = np.full((n, n), level)
    elif kind == "gradient":
        rate = level * np.exp(-np.arange(n) / rng.uniform(40, 150))[None, :] * np.ones((n, 1)) * 3
    elif kind == "patchy":
        smooth = gaussian_filter(rng.standard_normal((n, n)), rng.uniform(8, 40), mode="wrap")
        sd = rng.uniform(0.7, 1.8)
        rate = level * np.exp(sd * smooth / smooth.std() - sd**2 / 2)
    else:
        parents = rng.poisson(rng.uniform(30, 400))
        plants = rng.poisson(level * SIDE**2 / max(parents, 1), parents)
        where = np.repeat(rng.uniform(0, SIDE, (parents, 2)), plants, axis=0)
        where = (where + rng.uniform(3, 12) * rng.standard_normal(where.shape)) % SIDE
        return np.histogram2d(where[:, 1], where[:, 0], bins=n, range=[[0, SIDE]] * 2)[0]
    return rng.poisson(rate).astype(float)


def places(way, n, rng):
    if way == "random":
        return rng.choice(QUADRATS**2, n, replace=False)
    corners = np.array([(20, 380), (110, 20), (200, 380), (290, 20), (380, 380)]) + rng.uniform(-15, 15, (5, 2))
    legs = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    at = np.linspace(0, legs[-1], n + 2)[1:-1]
    x, y = (np.clip(np.interp(at, legs, corners[:, k]), 0, SIDE - 0.1) // WIDTH for k in (0, 1))
    return np.unique((y * QUADRATS + x).astype(int))


def nb_by_likelihood(y):
    """Mean and size of a constant negative binomial by maximum likelihood (size within 0.01 to 1000)."""
    m = max(y.mean(), 0.5 / y.size)
    best = optimize.minimize_scalar(
        lambda k: -stats.nbinom.logpmf(y, math.exp(k), 1 / (1 + m / math.exp(k))).sum(),
        bounds=(math.log(0.01), math.log(1000)), method="bounded",
    )  # fmt: skip
    return m, math.exp(best.x)


def peer_nb(y, plots):
    m, k = nb_by_likelihood(y)
    se = math.sqrt((1 / m + 1 / k) / y.size)
    return [plots * m * math.exp(z * se) for z in (-1.645, 0, 1.645)]


def peer_poisson(y, plots):
    g = stats.gamma(y.sum() + 0.5, scale=1 / y.size)
    return [plots * g.ppf(p) for p in (0.05, 0.5, 0.95)]


def ours(x, y, count, site, rng, *, plots_m2=WIDTH**2):
    e = estimate(Counts(x, y, np.full(len(x), plots_m2), count), boundary=site, rng=rng)
    return list(np.quantile(e.total.values, (0.05, 0.5, 0.95)))


def score(points, truth):
    low, middle, high = points
    width = high - low + 20 * max(low - truth, 0) + 20 * max(truth - high, 0)
    return (low <= truth <= high, width / max(truth, 1), abs(math.log((middle + 1) / (truth + 1))))


def simulated(repeats):
    rows = defaultdict(list)
    seconds = []
    site = box(0, 0, SIDE, SIDE)
    for kind in KINDS:
        for n in (10, 25, 60):
            for way in ("random", "walk"):
                for r in range(repeats):
                    rng = np.random.default_rng([FRESH + r, KINDS.index(kind), n, way == "walk"])
                    truth = field(kind, rng)
                    cell = places(way, n, rng)
                    y = truth.reshape(QUADRATS, WIDTH, QUADRATS, WIDTH).sum(axis=(1, 3)).ravel()[cell]
                    start = time.process_time()
                    mine = ours((cell % QUADRATS + 0.5) * WIDTH, (cell // QUADRATS + 0.5) * WIDTH, y, site, rng)
                    seconds.append(time.process_time() - start)
                    total = truth.sum()
                    for name, points in (
                        ("tepal", mine),
                        ("constant NB", peer_nb(y, QUADRATS**2)),
                        ("Poisson", peer_poisson(y, QUADRATS**2)),
                    ):
                        rows[kind, n, way, name].append(score(points, total))
    return rows, seconds


def line(label, scores):
    cover, width, error = (np.array([s[i] for s in scores], dtype=float) for i in range(3))
    return f"| {label} | {cover.mean():.2f} | {np.median(width):.2f} | {width.mean():.2f} | {np.median(error):.2f} |"


def against_best(rows):
    """By number of quadrats: ours over the best peer's mean interval score, coverage, log error of the median."""
    out = []
    for n in sorted({k[1] for k in rows}):
        score = {m: np.array([s for k, v in rows.items() if k[1] == n and k[3] == m for s in v], dtype=float)
                 for m in ("tepal", "constant NB", "Poisson")}  # fmt: skip
        best = min(score[m][:, 1].mean() for m in ("constant NB", "Poisson"))
        mine = score["tepal"]
        out.append(
            f"- {n} quadrats: mean interval score {mine[:, 1].mean() / best:.3f} of the best peer's; 90 % intervals "
            f"hold {mine[:, 0].mean():.2f}; log error of the median: half below {np.median(mine[:, 2]):.2f}, mean "
            f"{mine[:, 2].mean():.2f} (of the constant NB {score['constant NB'][:, 2].mean():.2f})."
        )
    return out


def by_set(rows):
    """By number of quadrats: geometric mean over the sets of ours over the best peer's mean interval score."""
    out = []
    for n in sorted({k[1] for k in rows}):
        logs = []
        for name in sorted({k[0] for k in rows if k[1] == n}):
            mean = {m: np.mean([s[1] for k, v in rows.items() if (k[0], k[1], k[3]) == (name, n, m) for s in v])
                    for m in ("tepal", "constant NB", "Poisson")}  # fmt: skip
            logs.append(math.log(mean["tepal"] / min(mean["constant NB"], mean["Poisson"])))
        mean, low, high = (math.exp(f(logs)) for f in (np.mean, min, max))
        out.append(
            f"- {n} quadrats: geometric mean over {len(logs)} sets of our mean interval score over the best peer's of "
            f"each set {mean:.3f}, between {low:.2f} and {high:.2f}."
        )
    return out


HEAD = "| 90 % interval holds | interval score, median | mean | log error of the median |\n|"


def tables(rows):
    out = []
    for title, key in (
        ("field", lambda k: k[0]), ("quadrats", lambda k: f"{k[1]}"),
        ("where", lambda k: f"{k[1]}, {k[2]}"),
        ("all", lambda _: "all"),
    ):  # fmt: skip
        out.append(f"\n| {title} | method {HEAD}---|---|---|---|---|---|")
        groups = defaultdict(list)
        for k, v in rows.items():
            groups[key(k), k[3]] += v
        for (group, name), scores in groups.items():
            out.append(line(f"{group} | {name}", scores))
    return out


def along_a_walk(spots, n, rng):
    """About n of the plots, those nearest to evenly spaced stops on a W over all of them."""
    low, high = spots.min(axis=0), spots.max(axis=0)
    corners = np.array([(0.05, 0.95), (0.275, 0.05), (0.5, 0.95), (0.725, 0.05), (0.95, 0.95)])
    if (high - low)[1] > (high - low)[0]:
        corners = corners[:, ::-1]
    corners = low + (high - low) * np.clip(corners + rng.uniform(-0.04, 0.04, corners.shape), 0, 1)
    legs = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    stops = np.linspace(0, legs[-1], n + 2)[1:-1]
    stops = np.column_stack([np.interp(stops, legs, corners[:, k]) for k in (0, 1)])
    return np.unique(np.hypot(*(stops[:, None] - spots[None]).transpose(2, 0, 1)).argmin(axis=1))


def real(repeats):
    """The same on sets that others counted in full, as `stand_peers` reads them."""
    rows = defaultdict(list)
    for name, spots, count, _, _ in stand_peers.tasks():
        sides = np.array([np.min(np.diff(np.unique(spots[:, k]))) for k in (0, 1)])
        site = box(*(spots.min(axis=0) - sides / 2), *(spots.max(axis=0) + sides / 2))
        plot = float(np.prod(sides))
        for n in (10, 25, 60):
            if 2 * n > len(count):
                continue
            for way in ("random", "walk"):
                for r in range(repeats):
                    rng = np.random.default_rng([r, n, zlib.crc32(name.encode()), way == "walk"])
                    chosen = (
                        rng.choice(len(count), n, replace=False) if way == "random" else along_a_walk(spots, n, rng)
                    )
                    y = count[chosen]
                    for method, points in (
                        ("tepal", ours(*spots[chosen].T, y, site, rng, plots_m2=plot)),
                        ("constant NB", peer_nb(y, len(count))),
                        ("Poisson", peer_poisson(y, len(count))),
                    ):
                        rows[name, n, way, method].append(score(points, count.sum()))
    return rows


def main():
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    rows, seconds = simulated(repeats)
    text = ["## How many on the whole field (`bench/stand_coverage.py`)", "",
            f"Fields of 16 ha known plant by plant, quadrats of 4 m², {repeats} fields for each kind, number and way: "
            f"{len(seconds)} estimates, median {np.median(seconds):.2f} s, slowest {max(seconds):.2f} s of processor "
            "time. The interval score is in units of the true total (width, plus 20 times the miss). "
            "Peers: constant negative binomial by maximum likelihood with a log-normal interval, Poisson."]  # fmt: skip
    text += ["", *against_best(rows)]
    text += tables(rows)
    if stand_peers.DATA.exists():
        rows = real(repeats)
        sets = len({k[0] for k in rows})
        text += ["", f"Real counts, {sets} sets made in full by others (`stand_peers`), the total asked from a part of "
                 f"the plots, {repeats} times for each number and way; a set counts where it has twice as many plots.",
                 "", *against_best(rows), *by_set(rows), *tables(rows)]  # fmt: skip
    else:
        text += ["", "Real counts: not here, left out."]
    section = "\n".join(text)
    print(section)
    put("stand", section)


if __name__ == "__main__":
    main()
