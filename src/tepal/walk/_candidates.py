"""Whole routes to begin with: passes evenly over the site, along rows, or zone by zone as the risk deserves."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import partial

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from tepal.walk._assumed import PATCH_PLANTS, PATCH_SD_M
from tepal.walk._by_zone import passes_told, zone_drafts
from tepal.walk._design import giving_up, share_seen, spacings
from tepal.walk._draft import joined, ordered, selected, stretches
from tepal.walk._order import total
from tepal.walk._passes import Passes, bearings, in_pieces, laps, length_of, lines, middle
from tepal.walk._task import FEW, MOST_PASSES, Task

FloatArray = npt.NDArray[np.float64]

_MOST_ROWS = 110
_CLOSEST = 0.8
# Ways between zones cost up to a third of what passes zone by zone promise.
_EVEN_CAN_WIN = 0.6
# Looking for a plant: shares of single plants to give up for patches where passes are laid out, which puts them farther
# apart where risk is great; metres to lay out for each metre of the budget; and whether a draft is also made by what
# passes find walked alone. On paper the first are best; with the ways between passes often the others are.
_FOR_PLANTS = (
    (0.0, 0.5, False),
    (0.0, 0.7, False),
    (0.0, 0.85, True),
    (0.0, 1.0, True),
    (0.0, 1.5, True),
    (0.05, 0.95, False),
    (0.05, 1.1, False),
)
# Metres to lay out for drafts that leave time: so many times more each time, up to so many times the budget, until this
# share of it is used.
_STRETCH, _MOST_STRETCH, _USED = 1.4, 6.0, 0.95
# Rounds of choosing passes for a draft; twice as many find hardly more.
_ROUNDS = 12
# Aiming at a patch: the same, and what patches count when passes are chosen, of what they count when passes are laid
# out. Laid out for patches and chosen mostly for plants, routes keep nearly all plants; where there is time to spare,
# chosen for patches they find more.
_FOR_PATCHES = (
    (0.03, 0.8, 0.1),
    (0.1, 1.1, 0.1),
    (0.1, 1.3, 0.1),
    (0.16, 1.3, 0.1),
    (0.01, 0.95, 1.0),
    (0.03, 1.1, 1.0),
)
# What is given up on the way is another share than on paper: the share on paper is halved on its log, so many times,
# between these for routes that just keep this share of plants.
_LEAST_SHARE, _MOST_SHARE, _HALVINGS = 0.008, 0.13, 4
_JUST_KEPT = 0.963


def plant_drafts(task: Task) -> Iterator[FloatArray | None]:
    if task.rows is not None or not _for_zones(task):
        yield from _even_drafts(task)
    if task.even:
        return
    plans: dict[tuple[tuple[int, int], ...], tuple[FloatArray, set[bool]]] = {}
    for share, stretch, alone in _FOR_PLANTS:
        patches = FEW if share == 0 else _giving_up(task, share)
        apart = _spacings(task, stretch * task.trip.budget_m, patches)
        plans.setdefault(passes_told(task, apart), (apart, {False}))[1].add(alone)
    for apart, ways in plans.values():
        yield from zone_drafts(task, apart, patches=FEW, alone=sorted(ways), seed=1, rounds=_ROUNDS)
    yield from _closer_drafts(task)


def _closer_drafts(task: Task) -> Iterator[FloatArray | None]:
    """Where passes near each other leave time, as the others are too far: ever closer ones until it is used."""
    stretch, left = max(stretch for _, stretch, _ in _FOR_PLANTS), True
    while left and stretch < _MOST_STRETCH:
        stretch *= _STRETCH
        apart = _spacings(task, stretch * task.trip.budget_m, FEW)
        left = False
        for route in zone_drafts(task, apart, patches=FEW, alone=(False,), seed=1, rounds=_ROUNDS):
            left = route is not None and length_of(route) < _USED * task.trip.budget_m
            yield route


def _for_zones(task: Task) -> bool:
    """Whether passes evenly over the site fall so far behind those zone by zone that no draft of them can win."""
    weight = np.array([zone.weight * zone.area.area for zone in task.zones])
    apart = _spacings(task, task.trip.budget_m, 0.0)
    zoned = np.where(np.isfinite(apart), share_seen(np.where(np.isfinite(apart), apart, 1.0), task.sigma_m), 0.0)
    evenly = float(share_seen(max(task.site.area / task.trip.budget_m, _CLOSEST * task.sigma_m), task.sigma_m))
    return evenly < _EVEN_CAN_WIN * float((weight * zoned).sum() / weight.sum())


def patch_drafts(task: Task, kept: Callable[[FloatArray], float]) -> Iterator[FloatArray | None]:
    """Zone by zone as before, but ever wider apart where it is close, for the patches that the metres spared find.

    `kept`: the share of plants, of all that can be found, that a route finds.
    """
    if task.even:
        return
    tried: list[tuple[object, ...]] = []

    def drafts(share: float, stretch: float, count: float) -> Iterator[FloatArray | None]:
        patches = _giving_up(task, share)
        apart = _spacings(task, stretch * task.trip.budget_m, patches)
        if (key := (count, *passes_told(task, apart))) not in tried:
            tried.append(key)
            yield from zone_drafts(task, apart, patches=max(count * patches, FEW), alone=(False,), seed=2, rounds=8)

    for share, stretch, count in _FOR_PATCHES:
        yield from drafts(share, stretch, count)
    low, high = _LEAST_SHARE, _MOST_SHARE
    for _ in range(_HALVINGS):
        middle = math.sqrt(low * high)
        routes = [route for route in drafts(middle, 0.95, 0.1) if route is not None]
        yield from routes
        enough = all(kept(route) >= _JUST_KEPT for route in routes)
        low, high = (middle, high) if enough else (low, middle)


def _giving_up(task: Task, share: float) -> float:
    """What a patch must count beside a plant for passes that give up this share of plants on paper."""
    metres = 0.95 * task.trip.budget_m
    return giving_up(task.zones, metres, task.sigma_m, share, patch_plants=PATCH_PLANTS, patch_sd_m=PATCH_SD_M)


def _spacings(task: Task, length_m: float, patches: float) -> FloatArray:
    return spacings(
        task.zones, length_m, task.sigma_m, patches=patches, patch_plants=PATCH_PLANTS, patch_sd_m=PATCH_SD_M
    )


def _even_drafts(task: Task) -> Iterator[FloatArray | None]:
    """Passes at one spacing over the whole site, at several bearings, and laps; each fitted to the budget."""
    first = max(task.site.area / task.trip.budget_m, _CLOSEST * task.sigma_m)
    if task.rows is not None:
        yield from _row_drafts(task, first)
        return
    turns = bearings(task.site, 5 if task.even else 3)
    for bearing in turns:
        yield from _fitted(partial(_lines_with_margin, task, bearing), first, task)
    yield from _fitted(lambda w, e: in_pieces(laps(task.site, w, first_m=e), 1e9), first, task)
    if _narrow(task.site, first, task.sigma_m):
        yield _once(middle(task.site, least_m=min(first, 4 * task.sigma_m)), task)


def _row_drafts(task: Task, first_m: float) -> Iterator[FloatArray | None]:
    """Along the rows: evenly over the site, or closer over as much of it as the time allows, which spares headlands."""
    assert task.rows is not None
    yield from _fitted(partial(_lines_with_margin, task, task.rows), first_m, task)
    per_metre = task.sigma_m * math.sqrt(2 * math.pi)
    tried = {first_m * f for f in (1.25, 1.0, 0.7, 0.5, 0.35)} | {6 * task.sigma_m, 4.5 * task.sigma_m}
    for spacing in sorted(w for w in tried if w >= min(2.5 * task.sigma_m, first_m)):
        for end in (2.2 * task.sigma_m, 1.0):
            passes = _lines_with_margin(task, task.rows, spacing, min(end, spacing / 2))
            if not 0 < len(passes) <= _MOST_ROWS:
                continue
            s, kept = stretches(passes, task.trip)
            if not kept:
                continue
            values = task.score.worth_of(kept)
            # A little more than there is time for: the last row is then walked in part, and no metre is left.
            more = 1.0 if task.trip.back else 1.03
            order = selected(s, values, more * task.trip.budget_m, worth_per_m=0.5 * per_metre, rounds=4, seed=3)
            yield joined(order, s, kept, task.trip)
            if total(order, s) < 0.9 * task.trip.budget_m:
                yield joined(ordered(s, len(kept), tries=2), s, kept, task.trip)


def _narrow(site: BaseGeometry, spacing: float, sigma_m: float) -> bool:
    """Whether the site is so narrow, in all or between its holes, that one pass in the middle may do."""
    return 2 * site.area / site.length < max(2 * spacing, 6 * sigma_m)


def _once(passes: Passes, task: Task) -> FloatArray | None:
    if not passes:
        return None
    s, passes = stretches(in_pieces(passes, 1e9), task.trip)
    return joined(ordered(s, len(passes), tries=4), s, passes, task.trip) if passes else None


def _lines_with_margin(task: Task, bearing: float, spacing: float, end: float) -> Passes:
    if task.rows is not None:
        # One turns on the headland: a pass has to end there.
        return lines(task.site, spacing, bearing, side_m=end, end_m=min(end, task.headland_m - 1), least_m=2.0)
    return lines(task.site, spacing, bearing, side_m=end, end_m=end, least_m=max(2.0, task.sigma_m / 2))


def _fitted(passes_of: Callable[[float, float], Passes], first_m: float, task: Task) -> Iterator[FloatArray | None]:
    """Drafts whose spacing, then margin, was changed until all passes fit the budget."""
    spacing, trip, sigma = first_m, task.trip, task.sigma_m
    for nth in range(4):
        margin = min(2.2 * sigma, spacing / 2)
        passes = passes_of(spacing, margin)
        while len(passes) > MOST_PASSES:
            spacing *= 1.5
            passes = passes_of(spacing, min(2.2 * sigma, spacing / 2))
        if not passes:
            return
        s, passes = stretches(passes, trip)
        if not passes:
            return
        order = ordered(s, len(passes), tries=4)
        length = total(order, s)
        if nth >= 1 or abs(length / trip.budget_m - 1) < 0.02:
            yield joined(order, s, passes, trip)
        if 0 <= length / trip.budget_m - 1 < 0.01:
            return
        following = max(spacing * (length / trip.budget_m) ** (1.0 if nth < 2 else 0.8), _CLOSEST * sigma)
        if following == spacing:
            return
        spacing = following


def any_route(task: Task) -> Iterator[FloatArray]:
    """For a site too small or thin for any draft: laps at its very edge, or its longest line."""
    for part in shapely.get_parts(task.site):
        ring = shapely.get_coordinates(part.exterior)
        s, kept = stretches(in_pieces([ring], 1e9), task.trip)
        if kept:
            route = joined(ordered(s, len(kept)), s, kept, task.trip)
            if route is not None:
                yield route
