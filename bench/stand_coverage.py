"""How often the 90 % intervals of `tepal.stand` hold the truth, and what general-purpose peers do on the same counts.

Simulated fields of 16 ha (even, patchy log-Gaussian Cox, clustered Thomas, gradient), 10 to 60 quadrats at random or
along a walk; and real counts from `$TEPAL_COUNTS` or ../shared/data/counts (left out, saying so, where absent).
Writes its section of bench/RESULTS.md. Run: python bench/stand_coverage.py [repeats]
"""

from __future__ import annotations

import csv
import math
import os
import sys
import time
from collections import defaultdict
from pathlib import Path

import numpy as np
from scipy import optimize, stats
from scipy.ndimage import gaussian_filter
from shapely.geometry import box

from results import put
from tepal.stand import PREDICTED, Counts, Points, estimate

HERE = Path(__file__).parent
DATA = Path(os.environ.get("TEPAL_COUNTS", HERE.parent.parent / "shared" / "data" / "counts"))
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


def read(name, pick=lambda _: True):
    with (DATA / name).open() as f:
        rows = [row for row in csv.DictReader(f) if pick(row)]
    return np.array([[float(r["x"]), float(r["y"]), float(r["count"])] for r in rows])


def real_sets():
    """Sets counted in full: places in metres (or plots), counts, side of a plot."""
    yield "webworms, 1,300 plots", read("beall_webworms.csv"), 1.0
    yield "aphids, 63 places", read("wimborne_aphids_1996.csv"), 30.0
    hop = read("hop_viruses_census.csv", lambda r: r["virus"] == "HpLV" and r["t"] == "1996")
    yield "hop virus, 1,275 plants", hop, 1.8


def real(repeats):
    out, wis = defaultdict(list), defaultdict(list)
    for name, data, side in real_sets():
        step_x = np.min(np.diff(np.unique(data[:, 0])))
        site = box(data[:, 0].min() - step_x / 2, data[:, 1].min() - side / 2,
                   data[:, 0].max() + step_x / 2, data[:, 1].max() + side / 2)  # fmt: skip
        plot = site.area / len(data)
        for n in (10, 25, 60):
            if 2 * n > len(data):
                continue
            for r in range(repeats):
                rng = np.random.default_rng([r, n, len(data)])
                chosen = rng.choice(len(data), n, replace=False)
                x, y, c = data[chosen].T
                truth = data[:, 2].sum()
                out[name, n, "tepal"].append(score(ours(x, y, c, site, rng, plots_m2=plot), truth))
                out[name, n, "constant NB"].append(score(peer_nb(c, len(data)), truth))
                out[name, n, "Poisson"].append(score(peer_poisson(c, len(data)), truth))
        n = min(100, len(data) // 2)
        for r in range(repeats):
            rng = np.random.default_rng([r, 7, len(data)])
            order = rng.permutation(len(data))
            known, asked = data[order[:n]], data[order[n : n + 300]]
            at = Points(asked[:, 0], asked[:, 1], np.full(len(asked), plot))
            e = estimate(Counts(*known[:, :2].T, np.full(n, plot), known[:, 2]), at=at, rng=rng)
            wis[name, "tepal"].append(weighted(e.at.quantiles, asked[:, 2]))
            m, k = nb_by_likelihood(known[:, 2])
            flat = stats.nbinom.ppf(PREDICTED, k, 1 / (1 + m / k))
            wis[name, "constant NB"].append(weighted(np.tile(flat, (len(asked), 1)), asked[:, 2]))
            d = np.hypot(asked[:, None, 0] - known[None, :, 0], asked[:, None, 1] - known[None, :, 1])
            w = 1 / np.maximum(d, 1e-9) ** 2
            local = np.maximum((w @ known[:, 2]) / w.sum(axis=1), 0.01)
            wis[name, "inverse distance with NB spread"].append(
                weighted(stats.nbinom.ppf(np.array(PREDICTED)[None, :], k, 1 / (1 + local[:, None] / k)), asked[:, 2])
            )
    return out, wis


def weighted(q, y):
    """Weighted interval score of the nine quantiles (mean pinball loss, doubled), and 90 % coverage."""
    p = np.array(PREDICTED)[None, :]
    gap = y[:, None] - q
    return 2 * np.maximum(p * gap, (p - 1) * gap).mean(), np.mean((q[:, 1] <= y) & (y <= q[:, 7]))


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
    if DATA.exists():
        totals, wis = real(max(repeats // 2, 5))
        text += ["", "Real counts, made in full by others; totals from a random part.", "",
                 f"| set | counts | method {HEAD}---|---|---|---|---|---|---|"]  # fmt: skip
        text += [line(f"{name} | {n} | {method}", s) for (name, n, method), s in totals.items()]
        text += ["", "New counts at places not seen, from 100 counts (31 of the aphids).", "",
                 "| set | method | weighted interval score | 90 % interval holds |", "|---|---|---|---|"]  # fmt: skip
        text += [f"| {name} | {method} | {np.mean([v[0] for v in s]):.4f} | {np.mean([v[1] for v in s]):.2f} |"
                 for (name, method), s in wis.items()]  # fmt: skip
    else:
        text += ["", "Real counts: not here, left out."]
    section = "\n".join(text)
    print(section)
    put("stand", section)


if __name__ == "__main__":
    main()
