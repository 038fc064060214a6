"""How sure that there are none: `tepal walk --walked` against plants thrown one by one, on walks with a receiver's faults.

Invented fields and walks (a W, transects, laps of the edge, wandering), sigma 2, 5 and 10 m. The truth is the path that
was walked; the command is given what a receiver made of it. `exact` is the chance under the stated assumptions, by a
twin with no grid: distances to the path, plants thrown on the site, products over them. Coverage: fields are drawn from
the stated prior and walked; of those where nothing was seen, how many have no more plants than the bound says.
Writes its section of bench/RESULTS.md. Run: python bench/walk_absence.py
By environment: TEPAL_BENCH_JOBS processes (2), TEPAL_BENCH_WALKS of each kind (6).
"""

# ruff: noqa: E501 - lines of a table are as long as they are
from __future__ import annotations

import contextlib
import io
import json
import math
import os
import tempfile
import time
import zlib
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely.geometry import LineString

from results import put
from tepal.cli import main as tepal
from tepal.ground import Frame
from tepal.walk._passes import cut_to
from walk_plan import fields, inside, rings, scan, w_shaped

WHERE = Frame(-96.7, 41.2)
PACE = 1.1
MOST, SD = 200, 8.0
P_N = 1 / np.arange(1, MOST + 1)
P_N = P_N / P_N.sum()
KINDS = (
    "as drawn", "corners with times", "1 point a second", "jitter 2.5 m", "jitter and gaps", "jitter and pauses",
    "clock set back and ahead", "two people", "risk by polygons", "stage and crop",
)  # fmt: skip
SIGHT_OF_TABLE = ("vegetative", "soybean")


def throw(rng, site, n):
    west, south, east, north = site.bounds
    out = np.empty((0, 2))
    while len(out) < n:
        p = rng.uniform((west, south), (east, north), (3 * n + 50, 2))
        out = np.vstack([out, p[shapely.contains_xy(site, *p.T)]])
    return out[:n]


def cluster(rng, site, centre, n=MOST):
    out = np.empty((0, 2))
    while len(out) < n:
        p = centre + SD * rng.standard_normal((2 * n, 2))
        out = np.vstack([out, p[shapely.contains_xy(site, *p.T)]])
    return out[:n]


class Seen:
    """The chance of seeing a plant from walked lines, by the nearest of places every tenth of a metre along them."""

    def __init__(self, lines, sigma):
        self.sigma = sigma
        self.tree = cKDTree(
            np.vstack([shapely.get_coordinates(LineString(line).segmentize(sigma / 20)) for line in lines])
        )

    def __call__(self, points):
        near, _ = self.tree.query(points, distance_upper_bound=7 * self.sigma)
        return np.exp(-0.5 * (near / self.sigma) ** 2)


def weighted(rng, site, zone, n):
    """Places that fall by risk: 8 times as many to the area in the zone."""
    if zone is None:
        return throw(rng, site, n)
    out = np.empty((0, 2))
    while len(out) < n:
        p = throw(rng, site, 4 * n + 20)
        out = np.vstack([out, p[rng.random(len(p)) < np.where(shapely.contains_xy(zone, *p.T), 1.0, 1 / 8)]])
    return out[:n]


def miss(rng, site, seen, zone):
    """The chance that an infested site shows none: half scattered, half in one cluster, N log-uniform."""
    share = float(seen(weighted(rng, site, zone, 60_000)).mean())
    scattered = float((P_N * (1 - share) ** np.arange(1, MOST + 1)).sum())
    products = []
    for centre in weighted(rng, site, zone, 500):
        # In the order in which they were thrown, the first N of them are a cluster of N.
        products.append(float((P_N * np.cumprod(1 - seen(cluster(rng, site, centre)))).sum()))
    return (scattered + float(np.mean(products))) / 2, share


def walk_of(rng, shape):
    kind = ("W", "transects", "laps", "wandering")[int(rng.integers(4))]
    metres = rng.uniform(1200, 5000)
    if kind == "W":
        points = w_shaped(shape, int(rng.integers(4, 9)))
    elif kind == "transects":
        points = scan(shape, shape.area / metres, rng.uniform(0, 180), 5)
    elif kind == "laps":
        points = rings(shape, 20, 8)
    else:
        points = inside(shape, list(throw(rng, shape, 14)))
    return kind, cut_to(np.array(points), metres)


def recorded(rng, path, kind):
    """What a receiver makes of the path: (points, seconds), and the lines that count as walked."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    if kind == "corners with times":
        return [(path, along / PACE)], [path]
    at = np.arange(0, along[-1], PACE)
    points = np.column_stack([np.interp(at, along, path[:, k]) for k in (0, 1)])
    seconds = np.arange(len(points), dtype=float)
    lines = [points]
    if kind == "jitter and pauses":
        for k in sorted(rng.integers(50, len(points) - 50, 2))[::-1]:
            n = int(rng.integers(90, 300))
            points = np.vstack([points[:k], np.repeat(points[k : k + 1], n, axis=0), points[k:]])
        seconds = np.arange(len(points), dtype=float)
    if "jitter" in kind:
        # A receiver wanders (over some 40 s) more than it shakes.
        drift = np.zeros(points.shape)
        for k in range(1, len(points)):
            drift[k] = 0.975 * drift[k - 1] + 2.4 * math.sqrt(1 - 0.975**2) * rng.standard_normal(2)
        points = points + drift + 0.7 * rng.standard_normal(points.shape)
    if kind == "jitter and gaps":
        keep = np.ones(len(points), dtype=bool)
        for k in rng.integers(60, len(points) - 260, 2):
            keep[k : k + int(rng.integers(90, 200))] = False
        cuts = np.flatnonzero(np.diff(keep.astype(int)) != 0) + 1
        lines = [part for part, k in zip(np.split(lines[0], cuts), np.split(keep, cuts), strict=True) if k[0]]
        points, seconds = points[keep], seconds[keep]
    if kind == "clock set back and ahead":
        third = len(seconds) // 3
        seconds = seconds.copy()
        seconds[third:] -= 3600
        seconds[2 * third : 2 * third + 40] += 5000
    if kind == "two people":
        half = len(points) // 2
        return [(points[:half], seconds[:half]), (points[half:], seconds[half:])], [points[:half], points[half:]]
    return [(points, seconds)], lines


def gpx(points, seconds):
    begun = datetime(2026, 6, 20, 9, tzinfo=UTC)
    lonlat = WHERE.to_lonlat(points)
    rows = "\n".join(
        f'<trkpt lat="{y:.8f}" lon="{x:.8f}"><time>{(begun + timedelta(seconds=float(t))).isoformat()}</time></trkpt>'
        for (x, y), t in zip(lonlat, seconds, strict=True)
    )
    return f'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>{rows}</trkseg></trk></gpx>'


def said(folder, *more):
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        assert tepal(["walk", str(folder / "site.geojson"), *map(str, more), "--json"]) == 0
    return json.loads(out.getvalue())


def one(asked):  # noqa: PLR0915 - one walk from its path to its score, step by step
    kind, nth = asked
    rng = np.random.default_rng([zlib.crc32(kind.encode()), nth])
    every = fields()
    name = list(every)[int(rng.integers(len(every)))]
    site = every[name][1]
    shapely.prepare(site)
    sigma = float(rng.choice([2.0, 5.0, 10.0]))
    way, path = walk_of(rng, site)
    if kind == "as drawn":
        tracks, lines = [(path, None)], [path]
    else:
        tracks, lines = recorded(rng, path, kind)
    zone = site.difference(site.buffer(-25)) if kind == "risk by polygons" else None
    prior_present = float(rng.choice([0.1, 0.3, 0.5]))
    with tempfile.TemporaryDirectory() as where:
        folder = Path(where)
        (folder / "site.geojson").write_text(shapely.to_geojson(WHERE.geometry_to_lonlat(site)))
        given = []
        for k, (points, seconds) in enumerate(tracks):
            if seconds is None:
                to = folder / f"{k}.geojson"
                to.write_text(shapely.to_geojson(LineString(WHERE.to_lonlat(points))))
            else:
                to = folder / f"{k}.gpx"
                to.write_text(gpx(points, seconds))
            given += ["--walked", to]
        sight = (
            ["--sigma", sigma]
            if kind != "stage and crop"
            else ["--stage", SIGHT_OF_TABLE[0], "--crop", SIGHT_OF_TABLE[1]]
        )
        if zone is not None:
            area = json.loads(shapely.to_geojson(WHERE.geometry_to_lonlat(zone)))
            (folder / "prior.geojson").write_text(
                json.dumps({"type": "Feature", "properties": {"weight": 8}, "geometry": area})
            )
            given += ["--prior", folder / "prior.geojson"]
        begun = time.process_time()
        none = said(folder, *given, *sight, "--prior-present", prior_present)
        took = time.process_time() - begun
        three = said(folder, *given, *sight, "--found", 3)["p_present"] if nth == 0 else math.nan
        off = Frame(-96.0, 41.2).to_lonlat(path)
        (folder / "off.geojson").write_text(shapely.to_geojson(LineString(off)))
        elsewhere = (
            said(folder, "--walked", folder / "off.geojson", *sight, "--prior-present", prior_present)
            if nth == 0
            else None
        )
    # Where the width is in doubt, the truth is a width drawn from that doubt; the nodes of the program are not used.
    if kind == "stage and crop":
        middle, high = none["sight"]["sigma_m"], none["sight"]["high_m"]
        widths = middle * np.exp(math.log(high / middle) / 1.645 * rng.standard_normal(5))
    else:
        widths = np.array([sigma])
    shown = [miss(rng, site, Seen(lines, s), zone) for s in widths]
    chance = float(np.mean([m for m, _ in shown]))
    exact = prior_present * chance / (prior_present * chance + 1 - prior_present)
    held, present = [], []
    watch = [Seen(lines, s) for s in widths]
    while len(held) < 100:
        seen = watch[int(rng.integers(len(watch)))]
        n = int(rng.choice(np.arange(1, MOST + 1), p=P_N)) if rng.random() < prior_present else 0
        if n:
            plants = (
                weighted(rng, site, zone, n)
                if rng.random() < 0.5
                else cluster(rng, site, weighted(rng, site, zone, 1)[0], n)
            )
            if (rng.random(n) < seen(plants)).any():
                continue
        held.append(n / (site.area / 1e4) <= none["density_upper95_per_ha"] + 1e-9)
        present.append(n > 0)
    row = {
        "kind": kind, "field": name, "way": way, "sigma": sigma, "said": none["p_present"], "exact": exact,
        "seen": none["seen_share"], "seen_exact": float(np.mean([s for _, s in shown])), "held": float(np.mean(held)),
        "present": float(np.mean(present)), "walks": len(held), "three": three, "seconds": took,
        "elsewhere": abs(elsewhere["p_present"] - prior_present) if elsewhere else math.nan, "cleaned": none["cleaned"],
    }  # fmt: skip
    print(f"{kind:26s} {name:22s} {way:10s} {sigma:4.0f} said {row['said']:.4f} exact {exact:.4f} seen {row['seen']:.4f} {row['seen_exact']:.4f} held {row['held']:.3f} {took:.2f}s", flush=True)  # fmt: skip
    return row


def told(rows):
    lines = [
        "## How sure that there are none (`walk_absence.py`)",
        "",
        f"{len(rows)} walks on {len({r['field'] for r in rows})} invented fields, read by the command from a receiver's file. `exact`: plants thrown one by one about the path that was really walked. "
        "`covered`: of fields drawn from the stated prior on which such a walk sees nothing, the share with no more plants than the bound.",
        "",
        "| what the receiver did | walks | mean of said - exact | mean distance | largest | seen share: mean distance | fields drawn | covered | present, drawn | present, said |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for kind in (*KINDS, "all"):
        some = [r for r in rows if kind in (r["kind"], "all")]
        off = np.array([r["said"] - r["exact"] for r in some])
        seen = np.array([r["seen"] - r["seen_exact"] for r in some])
        lines.append(
            f"| {kind} | {len(some)} | {off.mean():+.4f} | {np.abs(off).mean():.4f} | {np.abs(off).max():.4f} | {np.abs(seen).mean():.4f} | {sum(r['walks'] for r in some)} | "
            f"{np.mean([r['held'] for r in some]):.3f} | {np.mean([r['present'] for r in some]):.3f} | {np.mean([r['said'] for r in some]):.3f} |"
        )
    three = [r["three"] for r in rows if math.isfinite(r["three"])]
    elsewhere = [r["elsewhere"] for r in rows if math.isfinite(r["elsewhere"])]
    lines += [
        "",
        f"Three found: present with at least {min(three):.4f} ({len(three)} walks). Walked elsewhere: off the prior by at most {max(elsewhere):.1e} ({len(elsewhere)} walks). "
        f"Walks with a bound that covers fewer than 0.95 of its fields by more than their chance (two standard errors): {sum(r['held'] < 0.95 - 2 * math.sqrt(0.05 * 0.95 / r['walks']) for r in rows)} of {len(rows)}. "
        f"Processor seconds an answer: median {np.median([r['seconds'] for r in rows]):.2f}, worst {max(r['seconds'] for r in rows):.2f}.",
    ]
    return "\n".join(lines)


def main():
    count = int(os.environ.get("TEPAL_BENCH_WALKS", "6"))
    with ProcessPoolExecutor(int(os.environ.get("TEPAL_BENCH_JOBS", "2"))) as pool:
        rows = list(pool.map(one, [(kind, nth) for kind in KINDS for nth in range(count)]))
    section = told(rows)
    print(section)
    if count >= 6:
        put("walk-absence", section)


if __name__ == "__main__":
    main()
