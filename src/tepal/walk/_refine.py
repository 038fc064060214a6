"""A route bent so that it finds more: its corners follow the gradient of what it finds, its length stays the same."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tepal.walk._passes import cut_to, length_of
from tepal.walk._ways import Ways

FloatArray = npt.NDArray[np.float64]

# Cells farther from the route than this many widths of sight pull at nothing.
_REACH = 3.2
PACE = 0.22
# That is so little that for so many rounds each cell's nearest leg is taken as the same.
_SAME_LEG = 2


@dataclass(frozen=True, slots=True, eq=False)
class Pull:
    """Cells that hold risk: centers, shape = (n, 2); weights, shape = (n,)."""

    centers: FloatArray
    weights: FloatArray
    sigma_m: float


def refined(
    route: FloatArray,
    pull: Pull,
    budget_m: float,
    ways: Ways,
    *,
    start_fixed: bool,
    end_fixed: bool,
    corner_m: float,
    rounds: int,
    pace: float = PACE,
) -> FloatArray:
    """The route after `rounds` small moves of corners that stand `corner_m` apart; the best seen on the way.

    `pace`: how far corners move in the first round, in widths of sight; later rounds move them less.

    A corner moves along the gradient of Σ weight · exp(-d²/2S²), less the part of it that would only lengthen the
    route; corners whose legs would leave the walkable area stay.
    """
    points = _with_corners(route, corner_m)
    pull = _near(points, pull)
    best, best_found = route, -math.inf
    near = _Nearest.of(points, pull)
    for nth in range(rounds):
        anew = nth % _SAME_LEG == 0 or nth == rounds - 1
        if anew and nth:
            near = _Nearest.of(points, pull)
        found, gradient = near.found(points, pull.sigma_m)
        # Counted to a leg that was the nearest a round ago, a route seems to find less than it does.
        if anew and found > best_found and length_of(points) <= budget_m:
            best, best_found = points, found
        if nth == rounds - 1:
            break
        lengthening = _length_gradient(points)
        fixed = np.zeros(len(points), dtype=bool)
        fixed[0], fixed[-1] = start_fixed, end_fixed
        gradient[fixed] = lengthening[fixed] = 0.0
        gradient = _smoothed(gradient, fixed)
        price = float(np.vdot(gradient, lengthening)) / max(float(np.vdot(lengthening, lengthening)), 1e-12)
        # While metres are left, lengthening is cheap.
        left = length_of(points) < 0.995 * budget_m
        gradient -= max(price, 0.0) * (0.3 if left else 1.0) * lengthening
        most = float(np.quantile(np.hypot(*gradient.T), 0.95))
        if most <= 0:
            break
        step = pace * (1 - 0.7 * nth / rounds) * pull.sigma_m
        move = np.clip(gradient * (step / most), -0.8 * pull.sigma_m, 0.8 * pull.sigma_m)
        points = _to_length(_moved(points, move, ways), budget_m, ways, start_fixed=start_fixed, end_fixed=end_fixed)
        if nth % 10 == 9:  # the next round counts anew, as corners have other numbers now
            points = _with_corners(points, corner_m)
    return best


def _near(points: FloatArray, pull: Pull) -> Pull:
    """The cells that the route could come to see while it is bent."""
    from scipy.spatial import cKDTree

    reach = (_REACH + 3) * pull.sigma_m
    places = _with_corners(points, pull.sigma_m)
    distance, _ = cKDTree(places).query(pull.centers, distance_upper_bound=reach)
    near = np.isfinite(np.asarray(distance))
    return Pull(pull.centers[near], pull.weights[near], pull.sigma_m)


def _with_corners(route: FloatArray, corner_m: float) -> FloatArray:
    """The route with a corner at most every `corner_m`, and none closer than a fourth of it."""
    legs = np.hypot(*np.diff(route, axis=0).T)
    keep = np.concatenate([[True], legs > 1e-6])
    route, legs = route[keep], legs[legs > 1e-6]
    times = np.maximum(1, np.ceil(legs / corner_m - 0.25).astype(int))
    leg = np.repeat(np.arange(len(legs)), times)
    nth = np.arange(times.sum()) - np.repeat(np.cumsum(times) - times, times)
    step = (np.diff(route, axis=0) / times[:, None])[leg]
    return np.vstack([route[leg] + step * nth[:, None], route[-1]])


@dataclass(frozen=True, slots=True, eq=False)
class _Nearest:
    """Cells in sight of a route, shape = (n, 2), their weights, and the leg that is nearest to each, shape = (n,)."""

    cells: FloatArray
    weights: FloatArray
    leg: npt.NDArray[np.int64]

    @classmethod
    def of(cls, points: FloatArray, pull: Pull) -> _Nearest:
        from scipy.spatial import cKDTree

        legs = np.diff(points, axis=0)
        times = np.maximum(1, np.ceil(np.hypot(*legs.T) / (0.75 * pull.sigma_m)).astype(int))
        leg = np.repeat(np.arange(len(legs)), times)
        share = (np.arange(times.sum()) - np.repeat(np.cumsum(times) - times, times) + 0.5) / times[leg]
        places = points[leg] + legs[leg] * share[:, None]
        reach = _REACH * pull.sigma_m
        distance, nearest = cKDTree(places).query(pull.centers, distance_upper_bound=1.15 * reach)
        near = np.isfinite(np.asarray(distance))
        return cls(pull.centers[near], pull.weights[near], leg[np.asarray(nearest)[near]])

    def found(self, points: FloatArray, sigma_m: float) -> tuple[float, FloatArray]:
        """What the route finds of the cells' weight, and how that changes with each of its corners."""
        legs = np.diff(points, axis=0)
        at = np.minimum(self.leg, len(legs) - 1)  # the end may have been cut off since
        along = np.einsum("ij,ij->i", self.cells - points[at], legs[at])
        t = np.clip(along / np.maximum(np.einsum("ij,ij->i", legs, legs)[at], 1e-12), 0, 1)
        away = self.cells - points[at] - legs[at] * t[:, None]
        q = self.weights * np.exp(-0.5 * np.einsum("ij,ij->i", away, away) / sigma_m**2)
        force = q[:, None] * away / sigma_m**2
        gradient = np.column_stack(
            [
                np.bincount(at, force[:, k] * (1 - t), len(points)) + np.bincount(at + 1, force[:, k] * t, len(points))
                for k in (0, 1)
            ]
        )
        return float(q.sum()), gradient


def _length_gradient(points: FloatArray) -> FloatArray:
    legs = np.diff(points, axis=0)
    unit = legs / np.maximum(np.hypot(*legs.T), 1e-9)[:, None]
    gradient = np.zeros_like(points)
    gradient[1:] += unit
    gradient[:-1] -= unit
    return gradient


def _smoothed(gradient: FloatArray, fixed: npt.NDArray[np.bool_]) -> FloatArray:
    # Neighbors move together: a corner alone would only bend the route into a kink.
    for _ in range(2):
        wide = np.vstack([gradient[:1], gradient, gradient[-1:]])
        gradient = (wide[:-2] + 2 * gradient + wide[2:]) / 4
        gradient[fixed] = 0.0
    return gradient


def _moved(points: FloatArray, move: FloatArray, ways: Ways) -> FloatArray:
    for _ in range(6):
        trial = points + move
        moved = np.asarray(move.any(axis=1))
        # Legs that stay are as good as before: a row may be walked, though no way leads across rows.
        barred = ~ways.clear(trial[:-1], trial[1:]) & (moved[:-1] | moved[1:])
        if not barred.any():
            return trial
        stay = np.zeros(len(points), dtype=bool)
        stay[:-1] |= barred
        stay[1:] |= barred
        if not move[stay].any():
            break
        move = np.where(stay[:, None], 0.0, move)
    return points


def _to_length(points: FloatArray, budget_m: float, ways: Ways, *, start_fixed: bool, end_fixed: bool) -> FloatArray:
    length = length_of(points)
    if length <= budget_m:
        return points
    if not end_fixed:
        return cut_to(points, budget_m)
    if not start_fixed:
        return cut_to(points[::-1], budget_m)[::-1]
    # Both ends stand: the bends are taken in, most where the route bends most.
    for _ in range(20):
        shorter = points - 0.1 * _length_gradient(points)
        shorter[[0, -1]] = points[[0, -1]]
        points = _moved(points, shorter - points, ways)
        if length_of(points) <= budget_m:
            break
    return points
