"""Of many drafts of a route the one that finds most, bent to find more."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tepal.tables import Refused
from tepal.walk._bound import most_plants
from tepal.walk._candidates import Task, any_route, patch_drafts, plant_drafts
from tepal.walk._draft import tight
from tepal.walk._refine import PACE, Pull, refined

FloatArray = npt.NDArray[np.float64]

# Aiming at a patch may give up so much of the chance to find one plant, less a little for what the grid rounds.
_KEPT = 0.971
# Bending gives back a few plants in a hundred, so a draft that has not been bent yet may fall that much shorter.
_UNBENT = 0.945
# So many drafts are bent, and none that falls farther short of the best than bending mends; more find hardly more.
_BENT = 3
# Aiming at patches, so many are looked at and so many bent, more while none of them keeps its plants. To find a share
# of plants more costs about twice that share of patches.
_TRIED_FOR_PATCHES, _BENT_FOR_PATCHES = 5, 2
_PATCHES_FOR_PLANTS = 2.0
# Bending for patches: what one more plant is worth to them changes with the route, so it is asked anew each turn.
_TURNS, _ROUNDS_A_TURN = 3, 13
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
    # Rows stand where they stand; and where passes are far apart and risk is even, nothing is left to gain.
    if task.rows is not None or (task.even and not tight(spacing, task.sigma_m) and best.plant > 0.985 * most):
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
    hopeful = [draft for draft in (*drafts, *_roughly(patch_drafts(task), task)) if draft.plant >= _UNBENT * all_plants]
    hopeful = [_Draft(d.route, d.plant, rough.patch(rough.seen(d.route))) for d in hopeful]
    hopeful.sort(key=lambda d: -d.patch)
    best = _exactly(best.route, task, patch=True)
    least = _KEPT * best.plant
    trials = [_exactly(draft.route, task, patch=True) for draft in hopeful[:_TRIED_FOR_PATCHES]]
    found = [trial for trial in [best, *trials] if trial.plant >= least]
    if task.rows is None:
        trials.sort(key=lambda d: _PATCHES_FOR_PLANTS * max(0.0, 1 - d.plant / least) - d.patch)
        for nth, trial in enumerate([*trials, best]):
            if nth >= _BENT_FOR_PATCHES and len(found) > 1:
                break
            bent = _bent_for_patches(trial, least, task)
            if bent.plant >= least:
                found.append(bent)
    return max(found, key=lambda d: d.patch).route


def _bent_for_patches(draft: _Draft, least: float, task: Task) -> _Draft:
    """A draft bent for plants and patches at once, patches counting the more the more plants there are to spare."""
    best, count = draft, 0.6 if draft.plant >= least else 0.05
    for nth in range(_TURNS):
        gain = task.score.with_patches(draft.seen, count)
        pull = Pull(*task.score.cells(_cell_m(task), gain), task.sigma_m)
        draft = _exactly(_bent(draft.route, pull, task, turn=nth + 1), task, patch=True)
        if draft.plant >= least and (best.plant < least or draft.patch > best.patch):
            best = draft
        count *= 2.0 if draft.plant >= least else 0.3
    return best


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
        pace=PACE / max(turn, 1),
    )
