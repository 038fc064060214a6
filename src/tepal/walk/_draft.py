"""Drafts of a route: passes put in order, joined by the shortest ways, and cut to the metres there are."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from tepal.walk._order import NO_WAY_M, Stretches, chosen_within, improved, nearest_first, total
from tepal.walk._passes import Passes, cut_to, length_of
from tepal.walk._ways import Ways

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Trip:
    """What binds every draft: metres, the ways, where to set out (shape = (2,), or None), and whether to come back."""

    budget_m: float
    ways: Ways
    start: FloatArray | None
    back: bool
    by_rows: bool = False  # a way may lead along a pass, where rows stand


def stretches(passes: Sequence[FloatArray], trip: Trip) -> tuple[Stretches, Passes]:
    """The passes as the order sees them, and those of them that can be reached, in the same order."""
    ends = np.array([p[k] for p in passes for k in (0, -1)]).reshape(-1, 2)
    first = [] if trip.start is None else [trip.start]
    ways = trip.ways.table(np.vstack([*first, ends]))
    via: IntArray | None = None
    if trip.by_rows:
        ways, via = _led_by_rows(ways, np.array([length_of(p) for p in passes]))
    home = ways[0, len(first) :] if first else np.zeros(len(ends))
    between = ways[len(first) :, len(first) :]
    if first:
        reached = np.isfinite(home)
    else:
        # Of parts that no way joins, the one with most to walk.
        lengths = np.repeat([length_of(p) for p in passes], 2)
        reached = np.isfinite(between[int(np.argmax(np.isfinite(between) @ lengths))])
    kept = [p for k, p in enumerate(passes) if reached[2 * k] and reached[2 * k + 1]]
    both = np.repeat(reached[::2] & reached[1::2], 2)
    n = 2 * len(kept) + 2
    table = np.zeros((n, n))
    table[2:, 2:] = between[np.ix_(both, both)]
    table[1, 2:] = table[2:, 1] = home[both]
    table[0, 2:] = table[2:, 0] = home[both] if trip.back else 0.0
    if via is not None:
        via = _renumbered(via, both, len(first))
    table = np.minimum(table, NO_WAY_M)
    return Stretches(table, np.array([0.0, *(length_of(p) for p in kept)]), via), kept


def _renumbered(via: IntArray, both: npt.NDArray[np.bool_], first: int) -> IntArray:
    """Ends as the order numbers them: those of kept passes from 2 on, and 1 for the place of setting out."""
    number = np.full(len(via), -1, dtype=np.int64)
    if first:
        number[0] = 1
    number[first:][both] = 2 + np.arange(int(both.sum()))
    old = np.flatnonzero(number >= 0)
    new = np.full((int(number.max()) + 1,) * 2, -1, dtype=np.int64)
    before = via[np.ix_(old, old)]
    new[np.ix_(number[old], number[old])] = np.where(before >= 0, number[np.maximum(before, 0)], -1)
    return new


def _led_by_rows(ways: FloatArray, lengths: FloatArray) -> tuple[FloatArray, IntArray]:
    """Ways that may also lead along a pass: with standing rows, some headlands are reached in no other way."""
    from scipy.sparse.csgraph import shortest_path

    graph = np.maximum(ways, 1e-9)
    end = len(ways) - 2 * len(lengths) + 2 * np.arange(len(lengths))
    graph[end, end + 1] = graph[end + 1, end] = np.minimum(graph[end, end + 1], lengths)
    led, via = shortest_path(graph, method="D", directed=False, return_predecessors=True)
    np.fill_diagonal(led, 0.0)
    return led, via.astype(np.int64)


def ordered(s: Stretches, count: int, *, tries: int = 1) -> IntArray:
    """All passes in a short order; from several beginnings, the shortest."""
    every = np.arange(1, count + 1)
    firsts: list[int | None] = [None]
    if tries > 1:
        # Beginning at a far end makes the sweep run one way; the ends farthest from the middle are tried.
        far = np.argsort(-s.ways[2:, 2:].mean(axis=1), kind="stable") + 2
        firsts += [int(e) for e in far[: tries - 1]]
    rounds = [nearest_first(s, every, first) for first in firsts]
    best = min(rounds, key=lambda order: total(order, s))
    return improved(best, s)


def selected(
    s: Stretches,
    values: FloatArray,
    budget_m: float,
    *,
    worth_per_m: float,
    rounds: int,
    seed: int,
    groups: Sequence[IntArray] = (),
) -> IntArray:
    """As `chosen_within`, passes numbered from 0."""
    return chosen_within(
        s,
        np.concatenate([[0.0], values]),
        budget_m,
        worth_per_m=worth_per_m,
        rng=np.random.default_rng(seed),
        rounds=rounds,
        groups=[group + 1 for group in groups],
    )


def joined(order: IntArray, s: Stretches, passes: Sequence[FloatArray], trip: Trip) -> FloatArray | None:
    """The route that walks the passes in this order, cut to the budget; None where no way joins two of them."""
    if trip.back and trip.by_rows:
        order = _as_many_as_fit(order, s, trip.budget_m)
    if len(order) < 2:
        return None
    walked = [passes[(end >> 1) - 1][:: -1 if end & 1 else 1] for end in order[1:]]
    ends = [(int(a) ^ 1, int(b)) for a, b in pairwise(order[1:])]
    points = list(walked)
    if trip.start is not None:
        points.insert(0, trip.start[None, :])
        ends.insert(0, (1, int(order[1])))
        if trip.back:
            points.append(trip.start[None, :])
            ends.append((int(order[-1]) ^ 1, 1))
    a, b = np.array([p[-1] for p in points[:-1]]).reshape(-1, 2), np.array([p[0] for p in points[1:]]).reshape(-1, 2)
    clear = trip.ways.clear(a, b)
    route = [points[0]]
    for nth, following in enumerate(points[1:]):
        if not clear[nth]:
            way = _way(ends[nth], (a[nth], b[nth]), s, passes, trip)
            if way is None:
                return None
            route.append(way[1:-1])
        route.append(following)
    return within(_without_doubles(np.vstack(route)), trip)


def _as_many_as_fit(order: IntArray, s: Stretches, budget_m: float) -> IntArray:
    """The first passes of a round that leave time to come back: amid standing rows there is no way back to cut to."""
    there = np.cumsum(s.ways[order[:-1] ^ 1, order[1:]] + s.lengths[order[1:] >> 1])
    fits = there + s.ways[order[1:] ^ 1, order[0]] <= budget_m
    return order[: 2 + int(np.flatnonzero(fits)[-1])] if fits.any() else order[:1]


def _way(
    ends: tuple[int, int], places: tuple[FloatArray, FloatArray], s: Stretches, passes: Sequence[FloatArray], trip: Trip
) -> FloatArray | None:
    a, b = places
    if s.via is None:
        return trip.ways.way(a, b)
    path = [ends[1]]
    while path[-1] != ends[0]:
        before = int(s.via[ends[0], path[-1]])
        if before < 0:
            return None
        path.append(before)
    route = [a[None, :]]
    for i, j in zip(path[::-1], path[-2::-1], strict=False):
        if i >= 2 and i ^ 1 == j:
            route.append(passes[(i >> 1) - 1][:: -1 if i & 1 else 1])
            continue
        place = [b if end == ends[1] else (a if end == ends[0] else _end(end, passes)) for end in (i, j)]
        way = trip.ways.way(*place)
        if way is None:
            return None
        route.append(way)
    return np.vstack(route)


def _end(end: int, passes: Sequence[FloatArray]) -> FloatArray:
    return np.asarray(passes[(end >> 1) - 1][-1 if end & 1 else 0])


def within(route: FloatArray, trip: Trip) -> FloatArray | None:
    """The route cut to the budget; where one must come back, cut where the way back still fits."""
    if length_of(route) <= trip.budget_m:
        return route
    if not (trip.back and trip.start is not None):
        return cut_to(route, trip.budget_m)
    low, high = 0.0, length_of(route)
    best: FloatArray | None = None
    for _ in range(18):
        middle = (low + high) / 2
        out = cut_to(route, middle)
        way = trip.ways.way(out[-1], trip.start)
        whole = None if way is None else np.vstack([out, way[1:]])
        if whole is not None and length_of(whole) <= trip.budget_m:
            best, low = whole, middle
        else:
            high = middle
    return best


def _without_doubles(route: FloatArray) -> FloatArray:
    keep = np.concatenate([[True], np.hypot(*np.diff(route, axis=0).T) > 1e-6])
    return np.asarray(route[keep])


def spread(spacing_m: float, sigma_m: float) -> float:
    """How far from the edge passes should keep: beyond that the site's edge takes nothing from the sight."""
    return min(2.2 * sigma_m, spacing_m / 2)


def metres_of(minutes: float, speed_kmh: float) -> float:
    return minutes * speed_kmh * 1000 / 60


def tight(spacing_m: float, sigma_m: float) -> bool:
    """Whether passes so far apart see parts of the same ground."""
    return spacing_m < 6 * sigma_m and math.isfinite(spacing_m)
