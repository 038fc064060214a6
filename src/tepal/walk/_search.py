"""Of many drafts of a route the one that finds most, bent to find more."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import reduce

import numpy as np
import numpy.typing as npt

from tepal.tables import Refused
from tepal.walk._bound import most_plants
from tepal.walk._candidates import any_route, patch_drafts, plant_drafts
from tepal.walk._draft import tight
from tepal.walk._refine import PACE, Pull, refined
from tepal.walk._task import Task

FloatArray = npt.NDArray[np.float64]

# Aiming at a patch may give up so much of the chance to find one plant, less a little for what the grid rounds.
_KEPT = 0.971
# Bending gives back a few plants in a hundred: a draft that has not been bent yet may fall that much shorter, one that
# was bent for a turn less. To find a share of plants more than that costs about twice that share of patches.
_UNBENT, _BENT_ONCE = 0.957, 0.966
_PATCHES_FOR_PLANTS = 2.0
# So many drafts are bent, and none that falls farther short of the best than bending mends; more find hardly more.
_BENT = 3
# Aiming at patches, so many are bent for a turn, beside surer ones, and the best of these for all turns.
_MOST_HOPEFUL = 2
# Bending for patches: what one more plant is worth to them changes with the route, so it is asked anew each turn.
_TURNS, _ROUNDS_A_TURN = 4, 13
# What a patch counts beside a plant when a route is first bent, with and without plants to spare; then by turns more or
# less, as there are plants to spare or not.
_PATCHES_COUNT, _PLANTS_FIRST = 3.0, 0.05
_MORE, _LESS = 3.0, 0.3
_HOPELESS = 0.95
# Cells times rounds of one bending: what a large site needs in cells it gets less in rounds, and time stays bounded.
_WORK = 1_800_000


@dataclass(frozen=True, slots=True, eq=False)
class _Draft:
    route: FloatArray
    plant: float
    patch: float = math.nan
    # Chance of seeing a plant in each cell, where that was counted on the fine grid.
    seen: tuple[FloatArray, ...] = ()


def best_route(task: Task, *, patch: bool) -> FloatArray:
    """The route that finds one plant most often; with `patch`, of those that find nearly as many, most patches.

    Raises
    ------
    Refused
        If no route fits.
    """
    drafts = _roughly(plant_drafts(task), task) or _roughly(any_route(task), task)
    if not drafts:
        raise Refused(
            "no route fits", where="site", rule="Some pass must be within the time.", step="Allow more minutes."
        )
    drafts.sort(key=lambda d: -d.plant)
    best = _best_bent(drafts, task)
    return _for_patches(best, drafts, task) if patch else best.route


def _roughly(routes: Iterable[FloatArray | None], task: Task) -> list[_Draft]:
    """Routes with the chance of one plant on wide cells."""
    return [_Draft(route, task.rough.plant(task.rough.seen(route))) for route in routes if route is not None]


def _exactly(route: FloatArray, task: Task, *, patch: bool = False) -> _Draft:
    seen = task.score.seen(route)
    return _Draft(route, task.score.plant(seen), task.score.patch(seen) if patch else math.nan, seen if patch else ())


def _best_bent(drafts: list[_Draft], task: Task) -> _Draft:
    """The best of the drafts, counted exactly, after the best few of them were bent."""
    best = max((_exactly(draft.route, task) for draft in drafts[:2]), key=lambda d: d.plant)
    spacing = task.site.area / task.trip.budget_m
    most = most_plants(task.trip.budget_m, task.zones, task.sigma_m)
    # Where passes are far apart and risk is even, nothing is left to gain.
    if task.even and not tight(spacing, task.sigma_m) and best.plant > 0.985 * most:
        return best
    pull = _pull(task)
    for draft in drafts[:_BENT]:
        if draft.plant < _HOPELESS * drafts[0].plant:
            break
        trial = _exactly(_bent(draft.route, pull, task), task)
        if trial.plant > best.plant:
            best = trial
    return best


def _for_patches(best: _Draft, drafts: list[_Draft], task: Task) -> FloatArray:
    """Of routes that keep nearly all of the best route's plants, the one that finds most patches."""
    rough = task.rough
    all_plants = rough.plant(rough.seen(best.route))

    def kept(route: FloatArray) -> float:
        return rough.plant(rough.seen(route)) / all_plants

    laid_out = _roughly(patch_drafts(task, kept), task)
    hopeful = [_Draft(d.route, d.plant, rough.patch(rough.seen(d.route))) for d in (*drafts, *laid_out)]
    hopeful.sort(key=lambda d: -_promise(d, all_plants, _UNBENT))
    # Among them those that find most and are sure, or nearly, to keep their plants: others may not come to it.
    chosen = hopeful[:_MOST_HOPEFUL]
    for enough in (_BENT_ONCE, _KEPT):
        sure = max((d for d in hopeful if d.plant >= enough * all_plants), key=lambda d: d.patch, default=None)
        if sure is not None and sure not in chosen:
            chosen.append(sure)
    best = _exactly(best.route, task, patch=True)
    least = _KEPT * best.plant
    trials = [_exactly(draft.route, task, patch=True) for draft in chosen]
    found = [trial for trial in [best, *trials] if trial.plant >= least]
    if task.rows is None:
        bent = [_turned(_Bending.of(trial, least), least, task) for trial in [*trials, best]]
        bent.sort(key=lambda b: -_promise(b.draft, best.plant, _BENT_ONCE))
        for once in bent:
            wholly = reduce(lambda b, _: _turned(b, least, task), range(_TURNS - 1), once)
            if wholly.best.plant >= least:
                found.append(wholly.best)
                break
    return max(found, key=lambda d: d.patch).route


def _promise(draft: _Draft, all_plants: float, enough: float) -> float:
    """What a draft promises of patches once it is bent until it keeps its plants; from `enough` of them on it will."""
    return draft.patch - _PATCHES_FOR_PLANTS * max(0.0, enough - draft.plant / all_plants)


@dataclass(frozen=True, slots=True, eq=False)
class _Bending:
    """A draft bent for plants and patches at once: as it is now, its best so far, and what patches count next."""

    draft: _Draft
    best: _Draft
    count: float
    turn: int = 0

    @classmethod
    def of(cls, draft: _Draft, least: float) -> _Bending:
        return cls(draft, draft, _PATCHES_COUNT if draft.plant >= least else _PLANTS_FIRST)


def _turned(b: _Bending, least: float, task: Task) -> _Bending:
    """Bent for one more turn; patches then count more if there are plants to spare, less if there are not."""
    gain = task.score.with_patches(b.draft.seen, b.count)
    pull = Pull(*task.score.cells(_cell_m(task), gain), task.sigma_m)
    draft = _exactly(_bent(b.draft.route, pull, task, turn=b.turn + 1), task, patch=True)
    spare = draft.plant >= least
    best = draft if spare and (b.best.plant < least or draft.patch > b.best.patch) else b.best
    return _Bending(draft, best, b.count * (_MORE if spare else _LESS), b.turn + 1)


def _pull(task: Task) -> Pull:
    return Pull(*task.score.cells(_cell_m(task)), task.sigma_m)


def _cell_m(task: Task) -> float:
    return max(task.sigma_m * 0.8, 2.0)


def _bent(route: FloatArray, pull: Pull, task: Task, turn: int = 0) -> FloatArray:
    """A route bent once and for all, or by turns: the first as usual, later ones ever more slowly."""
    rounds = _ROUNDS_A_TURN if turn else (37 if task.sigma_m >= 5 else 21)
    return refined(
        route,
        pull,
        task.trip.budget_m,
        task.trip.ways,
        start_fixed=task.trip.start is not None,
        end_fixed=task.trip.back,
        corner_m=max(1.5 * task.sigma_m, 6.0),
        rounds=max(8, min(rounds, _WORK // max(len(pull.centers), 1))),
        pace=PACE / (1 + 0.5 * max(turn - 1, 0)),
    )
