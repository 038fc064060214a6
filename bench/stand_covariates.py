"""Do covariates help where they matter, and what do they cost where they do not?

Simulated fields of 16 ha, counts of 4 m² at random: dense along the edge, dense along a ditch, dense with a soil value,
and fields of clumps to which the covariate named has nothing to say. The same counts with and without. Totals by their
interval score in units of the truth (width, plus 20 times the miss), new counts at 200 places by the weighted interval
score. Writes its section of bench/RESULTS.md. Run: python bench/stand_covariates.py [fields of each]
"""

from __future__ import annotations

import math
import sys
from collections import defaultdict

import numpy as np
from scipy.ndimage import gaussian_filter
from shapely.geometry import LineString, box

from results import put
from stand_peers import weighted
from tepal.stand import Counts, Points, distance_to, estimate, nearest_known

SIDE, STEP, AREA = 400.0, 4.0, 4.0
SITE = box(0, 0, SIDE, SIDE)
DITCH = LineString([(0, 90), (400, 250)])
KINDS = ("edge", "ditch", "soil", "edge, useless", "ditch, useless", "soil, useless")


def field(kind, rng):
    """Density at the cells of a grid of 4 m, shape (100, 100); the soil's values there; the covariate to name."""
    n = int(SIDE / STEP)
    x, y = np.meshgrid((np.arange(n) + 0.5) * STEP, (np.arange(n) + 0.5) * STEP)
    soil = gaussian_filter(rng.standard_normal((n, n)), rng.uniform(3, 12), mode="wrap")
    soil /= soil.std()
    level = 10 ** rng.uniform(-0.7, 0.5)
    patches = gaussian_filter(rng.standard_normal((n, n)), rng.uniform(2, 8), mode="wrap")
    rate = level * np.exp(rng.uniform(0.5, 1.2) * patches / patches.std())
    name = kind.split(",")[0]
    if "useless" not in kind:
        places = np.column_stack([x.ravel(), y.ravel()])
        if name == "soil":
            rate *= np.exp(rng.uniform(0.7, 1.3) * soil)
        else:
            away = np.expm1(distance_to(SITE.boundary if name == "edge" else DITCH)(places)).reshape(n, n) * 10
            rate *= 0.2 + rng.uniform(3, 8) * np.exp(-away / rng.uniform(15, 40))
    return rate, soil, name


def surface(name, soil):
    if name == "soil":
        n = len(soil)
        at = np.stack(np.meshgrid(np.arange(n), np.arange(n)), axis=-1).reshape(-1, 2)
        return nearest_known((at + 0.5) * STEP, soil.ravel())
    return distance_to(SITE.boundary if name == "edge" else DITCH)


def scores(found, truth, y):
    low, middle, high = np.quantile(found.total.values, (0.05, 0.5, 0.95))
    width = high - low + 20 * max(low - truth, 0) + 20 * max(truth - high, 0)
    return width / truth, low <= truth <= high, abs(math.log(middle / truth)), weighted(found.at.quantiles, y)


def run(fields):
    rows, weights = defaultdict(list), defaultdict(list)
    for kind in KINDS:
        for counts in (15, 40):
            for r in range(fields):
                rng = np.random.default_rng([r, KINDS.index(kind), counts, 77])
                rate, soil, name = field(kind, rng)
                cells = rng.choice(rate.size, counts + 200, replace=False)
                places = np.column_stack([cells % len(rate) + 0.5, cells // len(rate) + 0.5]) * STEP
                y = rng.poisson(rate.ravel()[cells] * AREA)
                known = Counts(*places[:counts].T, np.full(counts, AREA), y[:counts])
                asked = Points(*places[counts:].T, np.full(200, AREA))
                truth = float(rate.sum() * STEP**2)
                for given in (False, True):
                    more = {name: surface(name, soil)} if given else {}
                    e = estimate(known, boundary=SITE, at=asked, covariates=more, rng=np.random.default_rng(r))
                    rows[kind, counts, given].append(scores(e, truth, y[counts:]))
                    if given:
                        weights[kind, counts].append(e.covariates[0].weight)
    return rows, weights


def main():
    fields = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    rows, weights = run(fields)
    text = ["## Covariates, of use and useless (`bench/stand_covariates.py`)", "",
            f"Invented fields of 16 ha, counts of 4 m² at random, {fields} fields for each line; the same counts "
            "without and with the covariate named. Interval score of the total in units of the truth, weighted "
            "interval score of 200 new counts: ratios below 1 say that the covariate helped.", "",
            "| density goes with | counts | weight it got | score of the total, without | with | holds, without | with "
            "| log error, without | with | new counts, with over without |", "|---" * 10 + "|"]  # fmt: skip
    for kind in KINDS:
        for counts in (15, 40):
            plain, given = (np.array(rows[kind, counts, g], dtype=float).mean(axis=0) for g in (False, True))
            text.append(
                f"| {kind} | {counts} | {np.mean(weights[kind, counts]):.2f} | {plain[0]:.2f} | {given[0]:.2f} | "
                f"{plain[1]:.2f} | {given[1]:.2f} | {plain[2]:.2f} | {given[2]:.2f} | {given[3] / plain[3]:.3f} |"
            )
    for word, pick in (("of use", lambda k: "useless" not in k), ("useless", lambda k: "useless" in k)):
        both = [np.array([s[0] for key, v in rows.items() if pick(key[0]) and key[2] == g for s in v]) for g in (0, 1)]
        new = [np.array([s[3] for key, v in rows.items() if pick(key[0]) and key[2] == g for s in v]) for g in (0, 1)]
        text.append("" if word == "of use" else None)
        text.append(
            f"Covariates {word}: mean interval score of totals {both[1].mean() / both[0].mean():.3f} of that without, "
            f"new counts {float(np.exp(np.log(new[1] / new[0]).mean())):.3f} (geometric mean over fields)."
        )
    section = "\n".join(line for line in text if line is not None)
    print(section)
    put("stand covariates", section)


if __name__ == "__main__":
    main()
