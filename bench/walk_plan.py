"""How good the routes of `tepal.walk.plan` are: against a bound that no route can exceed, and other ways to walk.

Invented fields with holes, terraces, strips, a waterway with one crossing, pivots, slivers, several parts; and real
boundaries from `$TEPAL_BOUNDARIES` or ../shared/data/boundaries (left out, saying so, where absent). 30, 60 and 120
minutes at 4 km/h, sigma 2 and 10 m; even risk, risk by polygons, given rows, and aiming at a patch. Every other way
walks the whole budget, its legs led round holes by the same shortest ways as ours.
Writes its sections of bench/RESULTS.md: `patch` aims at patches only, `hour` asks for 60 minutes only.
Run: python bench/walk_plan.py [quick|hour|patch]

By environment: TEPAL_BENCH_JOBS processes (2). TEPAL_BENCH_SHARE (1): of the fields of each question, such a share,
drawn by a fixed seed. TEPAL_BENCH_SECONDS: stop after so long and write nothing. TEPAL_BENCH_KEPT: a file that each
plan is added to, and taken from in the next run; begin a new one when the program changed.
"""

# ruff: noqa: E501 - lines of a table are as long as they are
from __future__ import annotations

import json
import math
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from results import put
from tepal.ground import Frame, boundary_from_geojson
from tepal.walk import RiskZone, plan
from tepal.walk._assumed import PATCH_PLANTS, PATCH_SD_M
from tepal.walk._design import giving_up, patches_found, spacings, zones_of
from tepal.walk._ways import Ways, site_of

HERE = Path(__file__).parent
DATA = Path(os.environ.get("TEPAL_BOUNDARIES", HERE.parent.parent / "shared" / "data" / "boundaries"))


def fields():
    """Invented fields, metres: name → (kind, shape, waterway or None)."""
    rng = np.random.default_rng(11)
    out = {}
    out["quarter of a quarter"] = ("open", box(0, 0, 402, 402), None)
    out["eighty"] = ("open", affinity.rotate(box(0, 0, 402, 805), 12), None)
    out["quarter section"] = ("open", box(0, 0, 805, 805), None)
    out["five corners"] = ("open", Polygon([(0, 0), (520, -40), (760, 300), (430, 640), (-60, 420)]), None)
    out["elbow"] = ("open", Polygon([(0, 0), (700, 0), (700, 250), (260, 250), (260, 800), (0, 800)]), None)
    out["pivot"] = ("pivot", Point(0, 0).buffer(395, quad_segs=24), None)
    out["wiped pivot"] = (
        "pivot",
        Point(0, 0).buffer(400).intersection(Polygon([(0, 0), (900, -500), (900, 900), (-700, 900)])),
        None,
    )
    wet = [
        affinity.scale(Point(*c).buffer(1), a, b)
        for c, a, b in (((200, 300), 45, 30), ((430, 160), 25, 50), ((520, 480), 60, 40))
    ]
    out["three potholes"] = ("holes", box(0, 0, 650, 620).difference(shapely.union_all(wet)), None)
    yard = shapely.union_all([box(120, 130, 200, 230), Point(480, 420).buffer(30), box(300, 500, 420, 512)])
    out["yard and trees"] = ("holes", Polygon([(0, 0), (600, 40), (640, 560), (80, 600)]).difference(yard), None)
    curves = []
    for k in range(8):
        x = np.linspace(0, 600, 40)
        y = 20 + 62 * k + 25 * np.sin(x / 150 + 0.3 * k)
        curves.append(Polygon(np.vstack([np.column_stack([x, y]), np.column_stack([x, y + 48])[::-1]])))
    out["terraces"] = ("terraces", MultiPolygon(curves), None)
    slots = [box(40, 55 + 75 * k, 560, 60 + 75 * k) for k in range(6)]
    out["terraces with ends"] = ("terraces", box(0, 0, 600, 540).difference(shapely.union_all(slots)), None)
    out["strips"] = ("strips", MultiPolygon([box(0, 80 * k, 900, 80 * k + 40) for k in range(5)]), None)
    out["long strip"] = ("strips", box(0, 0, 1900, 60), None)
    x = np.linspace(-20, 820, 60)
    line = LineString(np.column_stack([x, 330 + 70 * np.sin(x / 130)]))
    water = line.buffer(9)
    whole = box(0, 0, 800, 640)
    crossing = line.interpolate(0.37, normalized=True).buffer(7)
    out["waterway"] = ("waterway", whole.difference(water.difference(crossing)), water)
    line = LineString([(250, -20), (300, 200), (220, 420), (330, 720)])
    water = line.buffer(12)
    crossing = line.interpolate(0.6, normalized=True).buffer(9)
    out["creek bottom"] = (
        "waterway",
        Polygon([(0, 0), (620, 30), (560, 680), (40, 640)]).difference(water.difference(crossing)),
        water,
    )
    out["three parts"] = (
        "parts",
        MultiPolygon([box(0, 0, 300, 350), box(330, 40, 620, 300), box(80, 420, 420, 600)]),
        None,
    )
    angle = np.sort(rng.uniform(0, 2 * math.pi, 24))
    radius = 330 * (1 + 0.25 * rng.standard_normal(24).clip(-1, 1))
    out["ragged"] = ("open", Polygon(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])).buffer(0), None)
    out["sliver and body"] = ("parts", MultiPolygon([box(0, 0, 400, 400), box(404, 0, 416, 400)]), None)
    return out


def real_fields():
    if not DATA.is_dir():
        return {}
    out = {}
    for path in sorted(DATA.glob("*.geojson")):
        shape = boundary_from_geojson(json.loads(path.read_text()), where=path.name)
        out[path.stem.replace("ofpe_", "").replace("_bbox", "")] = (
            "real",
            Frame.around(shape).geometry_to_metres(shape),
            None,
        )
    return out


def risk_of(shape, water, seed):
    """Edges, an entry, the sides of the waterway, last year's patches."""
    rng = np.random.default_rng(seed)
    edge = rng.uniform(12, 30)
    zones = [RiskZone(shape.difference(shape.buffer(-edge)), rng.uniform(2, 5))]
    corner = shapely.get_coordinates(shapely.get_parts(shape)[0].exterior)[0]
    zones.append(RiskZone(Point(corner).buffer(rng.uniform(30, 60)), rng.uniform(5, 10)))
    if water is not None:
        zones.append(RiskZone(water.buffer(rng.uniform(10, 20)), rng.uniform(4, 8)))
    west, south, east, north = shape.bounds
    while len(zones) < 5 + (water is not None):
        p = Point(rng.uniform(west, east), rng.uniform(south, north))
        if shape.contains(p):
            zones.append(RiskZone(p.buffer(rng.uniform(15, 50)), rng.uniform(6, 15)))
    return zones


def strong_risk_of(shape, water, seed=7):
    """Risk that a reader would bet on: a few thick patches of last year, the edge and the waterway far behind them."""
    rng = np.random.default_rng(seed)
    zones = [RiskZone(shape.difference(shape.buffer(-rng.uniform(12, 30))), rng.uniform(5, 12))]
    if water is not None:
        zones.append(RiskZone(water.buffer(20), rng.uniform(8, 20)))
    west, south, east, north = shape.bounds
    while len(zones) < 5:
        p = Point(rng.uniform(west, east), rng.uniform(south, north))
        if shape.contains(p):
            zones.append(RiskZone(p.buffer(rng.uniform(30, 80)), rng.uniform(20, 60)))
    return zones


class Judge:
    """Exact distances from jittered points to the route: no grid of the program under test.

    Among others' routes the best is picked on up to 80,000 points of the box around the site; it and ours are then
    counted on 600,000, as the few points alone were off by a hundredth of a small chance.
    """

    def __init__(self, shape, zones, sigma, seed=5, most=80_000):
        rng = np.random.default_rng(seed)
        west, south, east, north = shape.bounds
        step = max(sigma / 4, math.sqrt((east - west) * (north - south) / most))
        x, y = np.meshgrid(np.arange(west, east, step), np.arange(south, north, step))
        points = np.column_stack([x.ravel(), y.ravel()])
        points += rng.uniform(0, step, points.shape)
        shapely.prepare(shape)
        self.points = points[shapely.contains_xy(shape, *points.T)]
        self.weight = np.ones(len(self.points))
        for zone in sorted(zones or [], key=lambda z: z.weight):
            shapely.prepare(zone.area)
            self.weight[shapely.contains_xy(zone.area, *self.points.T)] = zone.weight

    def __call__(self, route, sigma):
        # Places along the route every sixteenth of sigma: the nearest is off by a two-thousandth of it at most.
        tree = cKDTree(shapely.get_coordinates(LineString(route).segmentize(sigma / 16)))
        near, _ = tree.query(self.points, distance_upper_bound=5 * sigma)
        return float((np.exp(-0.5 * (near / sigma) ** 2) * self.weight).sum() / self.weight.sum())


def bound(length, area, sigma):
    r = np.linspace(0, 9 * sigma, 4001)
    near = np.minimum(area, 2 * r * length + math.pi * r * r)
    return float(np.trapezoid(near * r / sigma**2 * np.exp(-0.5 * (r / sigma) ** 2), r) / area)


def no_way_lost(shape, zones, length, sigma, share):
    """Patches found, on paper, by passes spread as is best over the zones with no metre between them, giving up `share` of the plants.

    No proof, as sight across a zone's edge is left aside; but no way between passes is counted either.
    """
    patch = {"patch_plants": PATCH_PLANTS, "patch_sd_m": PATCH_SD_M}
    parts = zones_of(site_of(shape), [(z.area, z.weight) for z in zones])
    count = giving_up(parts, length, sigma, share, **patch)
    apart = spacings(parts, length, sigma, patches=count, **patch)
    mass = [z.weight * z.area.area for z in parts]
    found = [patches_found(float(w), sigma, *patch.values()) if math.isfinite(w) else 0.0 for w in apart]
    return float(np.dot(mass, found) / sum(mass))


# ---- other ways to walk: waypoints, joined by the shortest ways, cut at the budget --------------------------------


def joined(points, ways, budget, rows=False):
    """`rows`: each second leg is along a row, through where the others may not go."""
    if len(points) == 0:
        return np.empty((0, 2))
    route, length = [np.asarray(points[0])], 0.0
    for k, p in enumerate(points[1:]):
        way = np.array([route[-1], p]) if rows and k % 2 == 0 else ways.way(route[-1], np.asarray(p))
        if way is None:
            if rows:
                break
            continue
        for q in way[1:]:
            leg = float(np.hypot(*(q - route[-1])))
            if length + leg >= budget:
                if leg > 0:
                    route.append(route[-1] + (q - route[-1]) * (budget - length) / leg)
                return np.array(route)
            route.append(q)
            length += leg
    return np.array(route)


def inside(shape, points):
    shapely.prepare(shape)
    return [
        p
        if shape.contains(Point(p))
        else shapely.get_coordinates(shapely.shortest_line(Point(p), shape.buffer(-1)))[-1]
        for p in points
    ]


def w_shaped(shape, legs=4):
    west, south, east, north = shape.buffer(-5).bounds
    x = np.linspace(west, east, legs + 1)
    return inside(shape, [(x[k], north if k % 2 == 0 else south) for k in range(legs + 1)])


def scan(shape, spacing, bearing, edge):
    """Boustrophedon rows of an inset, split by holes, each row walked whole."""
    turned = affinity.rotate(shape.buffer(-edge), bearing, origin=(0, 0))
    if turned.is_empty:
        turned = affinity.rotate(shape, bearing, origin=(0, 0))
    west, south, east, north = turned.bounds
    points = []
    count = max(1, round((north - south) / spacing))
    for k, y in enumerate(np.linspace(south, north, count + 2)[1:-1] if count > 1 else [(south + north) / 2]):
        cut = turned.intersection(LineString([(west - 1, y), (east + 1, y)]))
        rows = sorted((g.bounds[0], g.bounds[2]) for g in shapely.get_parts(cut) if g.length > 0)
        for a, b in rows if k % 2 == 0 else [r[::-1] for r in rows[::-1]]:
            points += [(a, y), (b, y)]
    angle = math.radians(-bearing)
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    return [turn @ np.array(p) for p in points]


def rings(shape, spacing, first, most=200):
    points = []
    for k in range(most):
        inner = shape.buffer(-(first + k * spacing))
        if inner.is_empty:
            break
        for part in shapely.get_parts(inner):
            points += list(shapely.get_coordinates(part.exterior.simplify(0.5)))
    return points


def greedy(shape, zones, budget, ways, *, grid):
    """A prize-collecting walk over a grid of cells: always to the cell that pays most for each metre to it."""
    west, south, east, north = shape.bounds
    x, y = np.meshgrid(np.arange(west + grid / 2, east, grid), np.arange(south + grid / 2, north, grid))
    cells = np.column_stack([x.ravel(), y.ravel()])
    cells = cells[shapely.contains_xy(shape, *cells.T)]
    prize = np.ones(len(cells))
    for zone in sorted(zones or [], key=lambda z: z.weight):
        prize[shapely.contains_xy(zone.area, *cells.T)] = zone.weight
    at, order, walked = int(np.argmax(prize)), [], 0.0
    left = prize.copy()
    while walked < 1.02 * budget and (left > 0).any():
        order.append(at)
        left[at] = 0
        distance = np.hypot(*(cells - cells[at]).T)
        following = int(np.argmax(left / np.maximum(distance, grid / 2)))
        walked += distance[following]
        at = following
    return joined(cells[order], ways, budget)


def random_tour(shape, budget, ways, rng):
    west, south, east, north = shape.bounds
    n = max(4, int((budget / 0.72) ** 2 / shape.area))
    points = []
    while len(points) < min(n, 600):
        p = rng.uniform((west, south), (east, north))
        if shape.contains(Point(p)):
            points.append(p)
    points = np.array(points)
    order, left = [0], set(range(1, len(points)))
    while left:
        near = min(left, key=lambda j: float(np.hypot(*(points[j] - points[order[-1]]))))
        left.remove(near)
        order.append(near)
    return joined(points[order], ways, budget)


def peers(shape, zones, sigma, budget, *, ways, rows=None):
    apart = shape.area / budget
    edge = min(apart / 2, 2 * sigma)
    if rows is not None:
        found = []
        for spacing in (apart, 1.1 * apart, 1.25 * apart):
            found.append(joined(scan(shape, spacing, rows - 90, 2.0), ways, budget, rows=True))
        return {"row transects": found}
    sides = np.diff(shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape))[:3], axis=0)
    long = math.degrees(math.atan2(*sides[int(np.argmax(np.hypot(*sides.T)))][::-1]))
    legs = max(4, 2 * int(budget / (2 * (shape.bounds[3] - shape.bounds[1]))))
    out = {
        "W": [joined(w_shaped(shape), ways, budget)],
        "zigzag": [joined(w_shaped(shape, legs), ways, budget)],
        "laps of the edge": [joined(rings(shape, 2.5 * sigma, sigma), ways, budget)],
        "inset laps": [joined(rings(shape, apart * f, edge), ways, budget) for f in (1.0, 1.1)],
        "even transects": [
            joined(scan(shape, apart * f, -long + turn, edge), ways, budget) for f in (1.0, 1.1) for turn in (0, 90)
        ],
        "random tours": [random_tour(shape, budget, ways, np.random.default_rng(k)) for k in range(2)],
    }
    if zones:
        out["greedy for prizes"] = [greedy(shape, zones, budget, ways, grid=g) for g in (2.5 * sigma, 4 * sigma, 25.0)]
        # risky zones first, each swept row by row in turn
        points = []
        for zone in sorted(zones, key=lambda z: -z.weight):
            for part in shapely.get_parts(zone.area.intersection(shape)):
                if part.area > 4:
                    points += scan(part, 2.5 * sigma, 0, 0.5)
        out["riskiest zones in turn"] = [joined(points, ways, budget)]
    return out


def beyond(route, shape):
    return float(
        LineString(route)
        .difference(
            shapely.union_all([shape.buffer(2), shape.convex_hull if len(shapely.get_parts(shape)) > 1 else shape])
        )
        .length
    )


def crossed(route, shape, bearing):
    """Metres walked in the standing rows off their direction by more than half a degree."""
    core = shape.buffer(-15.1)
    along = np.array([math.sin(math.radians(bearing)), math.cos(math.radians(bearing))])
    legs = np.stack([route[:-1], route[1:]], axis=1)
    inside = shapely.length(shapely.intersection(shapely.linestrings(legs), core))
    step = np.diff(route, axis=0)
    aside = np.abs(step @ along) < math.cos(math.radians(0.5)) * np.hypot(*step.T)
    return float(inside[aside & (inside > 0.2)].sum())


def one_plan(asked):
    (name, (kind, shape, water)), (sigma, m, case) = asked
    budget = m * 4000 / 60
    zones = risk_of(shape, water, 3) if "risk" in case or case == "patch" else None
    if case == "patch, strong":
        zones = strong_risk_of(shape, water)
    row = 20.0 if "rows" in case else None
    begun = time.process_time()
    ours = plan(shape, minutes=m, sigma_m=sigma, prior=zones, rows_deg=row, aim="patch" if "patch" in case else "plant")
    seconds = time.process_time() - begun
    judge = Judge(shape, zones, sigma, seed=6, most=600_000)
    p = judge(ours.route, sigma)
    made = {
        "field": name,
        "kind": kind,
        "hectares": shape.area / 1e4,
        "sigma": sigma,
        "minutes": m,
        "case": case,
        "p": p,
        "said": ours.p_detect,
        "bound": p / bound(budget, shape.area, sigma),
        "over": ours.metres / budget - 1,
        "out": beyond(ours.route, shape),
        "crossed": 0.0 if row is None else crossed(ours.route, shape, row),
        "seconds": seconds,
        "patch": ours.p_patch,
        "peer": "",
        "ratio": math.nan,
    }
    if "patch" in case:
        plant = plan(shape, minutes=m, sigma_m=sigma, prior=zones)
        made |= {
            "ratio": ours.p_detect / plant.p_detect,
            "patch_of_plant": plant.p_patch,
            "most_patch": ours.most_patch,
            "paper": no_way_lost(shape, zones, budget, sigma, 0.03),
        }
    else:
        core = shape.buffer(-15) if row is not None else None
        ways = Ways.over(MultiPolygon(shapely.get_parts(shape).tolist()), core)
        roughly, theirs = Judge(shape, zones, sigma), []
        for peer, routes in peers(shape, zones, sigma, budget, ways=ways, rows=row).items():
            theirs += [(roughly(r, sigma), peer, r) for r in routes if len(r) > 1]
        # The three that look best are counted finely: the few points may have favored one of them.
        theirs = sorted(theirs, key=lambda each: -each[0])[:3]
        best, peer = max(((judge(r, sigma), peer) for _, peer, r in theirs), default=(1e-9, ""))
        made |= {"peer": peer, "ratio": p / best}
    print(
        f"{name:22s} {sigma:3.0f} {m:4d} {case:9s} p {p:.4f} said {ours.p_detect - p:+.4f} "
        f"{made['bound'] if case in ('even', 'rows') else 0:.3f} patch {ours.p_patch:.3f} x{made['ratio']:.3f} {made['peer']:22s} {seconds:.2f}s",
        flush=True,
    )
    return made


def cases():
    if "quick" in sys.argv:
        return [(2.0, 60, "even"), (10.0, 60, "risk"), (10.0, 60, "rows")]
    if "hour" in sys.argv:
        return [(s, 60, case) for s in (2.0, 10.0) for case in ("even", "risk", "rows", "rows, risk")]
    if "patch" in sys.argv:
        return [(2.0, m, case) for m in (120, 60) for case in ("patch, strong", "patch")]
    return [
        (sigma, m, case)
        for sigma in (2.0, 10.0)
        for m in (30, 60, 120)
        for case in ("even", "risk", "rows", "rows, risk")
        if not ("rows" in case and m != 60)
    ]


def share_of(asked):
    """Of the fields of each question the share that is asked for, by lot; the same for the same share."""
    share = float(os.environ.get("TEPAL_BENCH_SHARE", "1"))
    if share >= 1:
        return asked
    rng, kept = np.random.default_rng(2024), []
    for case in dict.fromkeys(case for _, case in asked):
        mine = [each for each in asked if each[1] == case]
        kept += [mine[k] for k in np.sort(rng.permutation(len(mine))[: max(1, round(share * len(mine)))])]
    return kept


class Kept:
    """Plans measured in earlier runs, by what was asked; each new one is written as soon as it is there."""

    def __init__(self, path):
        self.path = Path(path) if path else None
        lines = self.path.read_text().splitlines() if self.path and self.path.exists() else []
        self.rows = {self.key(row): row for row in map(json.loads, lines)}

    @staticmethod
    def key(row):
        return row["field"], row["sigma"], row["minutes"], row["case"]

    def add(self, row):
        self.rows[self.key(row)] = row
        if self.path:
            with self.path.open("a") as file:
                file.write(json.dumps(row) + "\n")


def loaded():
    return f"on {os.cpu_count()} processors with {os.getloadavg()[0]:.0f} jobs waiting for them (which lengthens processor time too)"


HARD = ("holes", "terraces", "waterway")
# Hectares that an hour or two on foot are meant for.
LARGE = 65


def mean(values):
    return float(np.mean(list(values))) if values else math.nan


def told_of_patches(rows):
    def of(**asked):
        return [r for r in rows if all(r[k] == v for k, v in asked.items())]

    lines = [
        "## Aiming at a patch (`walk_plan.py patch`: risk by polygons, sigma 2 m)",
        "",
        "`most possible` is the bound that the plan prints beside it: no route of that time finds a larger share of patches, however "
        "many plants it gives up. `on paper`: passes spread as is best over the zones, giving up 3 % of the plants, with not a metre lost between "
        "passes (a reckoning, no proof: sight across the edges of zones is left aside). `strong` risk: a few patches with 20 to 60 times the "
        "plants, as a reader would bet on.",
        "",
        f"Fields of up to {LARGE} ha; the larger ones, which so many minutes are little for, stand in lines of their own.",
        "",
        "| risk | fields | minutes | patches found, aiming at a plant | aiming at a patch | on paper | most possible | share of plants kept, lowest | plans that find 0.80 or more | that do on paper | where 0.80 is possible at all, plants given up or not |",
        "|---|---|---|---|---|---|---|---|---|---|---|",
    ]  # fmt: skip
    seconds = [r["seconds"] for r in rows]
    groups = [
        (f"{'mild' if case == 'patch' else 'strong'}{', larger fields' if large else ''}", m, some)
        for large in (False, True)
        for case in ("patch", "patch, strong")
        for m in (60, 120)
        if (some := [r for r in of(case=case, minutes=m) if (r["hectares"] > LARGE) is large])
    ]
    for label, m, some in groups:
        lines.append(
            f"| {label} | {len(some)} | {m} | {mean([r['patch_of_plant'] for r in some]):.3f} | {mean([r['patch'] for r in some]):.3f} | "
            f"{mean([r['paper'] for r in some]):.3f} | {mean([r['most_patch'] for r in some]):.3f} | {min(r['ratio'] for r in some):.3f} | "
            f"{sum(r['patch'] >= 0.8 for r in some)} of {len(some)} | {sum(r['paper'] >= 0.8 for r in some)} | {sum(r['most_patch'] >= 0.8 for r in some)} |"
        )
    lines += [
        "",
        f"Processor seconds a plan: median {np.median(seconds):.2f}, worst {max(seconds):.2f}, {loaded()}. Walked outside by more than 2 m: "
        f"{max(r['out'] for r in rows):.1f} m. Most over budget: {100 * max(r['over'] for r in rows):.2f} %. Largest difference of a "
        f"chance from what the plan says: {max(abs(r['p'] - r['said']) for r in rows):.4f}.",
    ]
    return "\n".join(lines)


def told(rows):
    def of(**asked):
        return [r for r in rows if all((r[k] in v) if isinstance(v, tuple) else r[k] == v for k, v in asked.items())]

    names = {r["field"] for r in rows}
    seconds = [r["seconds"] for r in rows]
    lines = [
        "## Where to walk (`walk_plan.py`)",
        "",
        f"{len(names)} fields of {min(r['hectares'] for r in rows):.0f} to {max(r['hectares'] for r in rows):.0f} ha ({sum(r['kind'] == 'real' for r in of(case='even', sigma=2.0, minutes=60))} of them real), "
        f"{len(rows)} plans. Every other way walks the whole budget too; the best of them is taken case by case.",
        "",
        "Chances are counted from jittered points to places along the route. "
        f"Largest difference from what the plan says: {max(abs(r['p'] - r['said']) for r in rows):.4f}.",
        f"Most over budget: {100 * max(r['over'] for r in rows):.2f} %. Walked outside by more than 2 m (gaps between parts aside): "
        f"{max(r['out'] for r in rows):.1f} m. Walked across standing rows: {max(r['crossed'] for r in rows):.1f} m.",
        f"Processor seconds a plan: median {np.median(seconds):.2f}, worst {max(seconds):.2f}, {loaded()}.",
        *(["", "60 minutes only; `python bench/walk_plan.py` asks for 30 and 120 as well."] if "hour" in sys.argv else []),
        "",
        "### Even risk: share of a bound that no route can exceed",
        "",
        "| fields | sigma 2 m | lowest | sigma 10 m | lowest |",
        "|---|---|---|---|---|",
    ]  # fmt: skip
    kinds = sorted({r["kind"] for r in rows})
    for label, some in [("all", tuple(kinds)), ("holes, terraces, one crossing", HARD), *((k, (k,)) for k in kinds)]:
        cells = []
        for sigma in (2.0, 10.0):
            values = [r["bound"] for r in of(case="even", sigma=sigma, kind=some)]
            cells += [f"{mean(values):.3f}", f"{min(values):.3f}"] if values else ["not drawn", ""]
        lines.append(f"| {label} | " + " | ".join(cells) + " |")
    lines += ["", "### Against the best other way of each case", "", "| case | sigma | mean | lowest | most often best of the others |", "|---|---|---|---|---|"]  # fmt: skip
    for case in ("even", "risk", "rows", "rows, risk"):
        for sigma in (2.0, 10.0):
            some = of(case=case, sigma=sigma)
            peers_ = [r["peer"] for r in some]
            if some:
                lines.append(
                    f"| {case} | {sigma:.0f} | {mean([r['ratio'] for r in some]):.3f} | {min(r['ratio'] for r in some):.3f} | "
                    f"{max(set(peers_), key=peers_.count)} |"
                )
    lines += ["", "### Losses (below the best other way)", ""]
    losses = [r for r in rows if "patch" not in r["case"] and r["ratio"] < 1]
    lines += [
        f"- {r['field']}, sigma {r['sigma']:.0f}, {r['minutes']} minutes, {r['case']}: {r['ratio']:.3f} of {r['peer']}"
        for r in sorted(losses, key=lambda r: r["ratio"])
    ] or ["None."]
    return "\n".join(lines)


def main():
    every = fields() | real_fields()
    if not real_fields():
        print("real boundaries left out: not here")
    every_asked = [(item, case) for case in cases() for item in every.items()]
    asked = share_of(every_asked)
    keys = [(item[0], *case) for item, case in asked]
    kept = Kept(os.environ.get("TEPAL_BENCH_KEPT"))
    open_ = [each for each, key in zip(asked, keys, strict=True) if key not in kept.rows]
    ends = time.monotonic() + float(os.environ.get("TEPAL_BENCH_SECONDS", "86400"))
    with ProcessPoolExecutor(int(os.environ.get("TEPAL_BENCH_JOBS", "2"))) as pool:
        futures = [pool.submit(one_plan, each) for each in open_]
        try:
            for future in as_completed(futures, timeout=max(0.0, ends - time.monotonic())):
                kept.add(future.result())
        except TimeoutError:
            for future in futures:
                future.cancel()
    left = sum(key not in kept.rows for key in keys)
    if left:
        print(f"{left} of {len(keys)} plans are left for another run; nothing written")
        return
    rows = [kept.rows[key] for key in keys]
    aiming = "patch" in sys.argv
    section = told_of_patches(rows) if aiming else told(rows)
    if len(asked) < len(every_asked):
        section += f"\n\nOf each question's fields {len(asked) / len(every_asked):.0%}, drawn by lot (a fixed seed) before anything was measured."
    print(section)
    if "quick" not in sys.argv:
        put("walk-patch" if aiming else "walk-plan", section)


if __name__ == "__main__":
    main()
