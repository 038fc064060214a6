"""When seedlings come up: their degree days, then rain; and again when the ground is worked."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from tepal.clock._courses import Courses
from tepal.clock._traits import Members

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# Irrational steps, unrelated to each other: multiples of each fill (0, 1) evenly (Weyl), and no plant is fast in one
# thing because it is fast in another.
STEPS = (0.6180339887498949, 0.41421356237309515, 0.7320508075688772, 0.23606797749978969)


def come_up(
    courses: Courses, members: Members, *, plants: int, tilled: Sequence[int], rng: np.random.Generator
) -> tuple[IntArray, FloatArray]:
    """The day each plant comes up, shape = (members, plants), and how much of a season's seedlings it stands for.

    `tilled`: days on whose evening the whole ground was worked, in order. From the season's first ripe seed on, that
    wakes ripe seed that waits for rain, and a share of the rest: it is ripe so many degree days later. Before, it wakes
    none, so working the ground does not move the start.
    """
    shares, weight = _ranks(plants)
    days, row = courses.season.days, members.future[:, None]
    ripe = courses.germinated(row, emergence_dd(shares, members) * members.of("emergence_site_year"))
    # Waiting plants come up one by one all the same: dew, depth and luck differ (exponential).
    luck = -np.log1p(-even(rng, STEPS[0], len(members), plants))
    patience = np.floor(members.of("rain_wait_days") * luck).astype(np.int64)
    up = _in_wet_ground(courses, row, ripe, patience)
    first = ripe.min(axis=1, keepdims=True)
    for day in tilled:
        woken = even(rng, STEPS[3], len(members), plants) < members.of("tillage_wakes")
        again = courses.germinated(row, courses.germination[row, day] + members.of("tillage_to_up_dd"))
        sooner = np.minimum(up, _in_wet_ground(courses, row, again, patience))
        up = np.where((day >= first) & (up > day) & (woken | (ripe <= day)), sooner, up)
    return np.minimum(up, days), weight


def _in_wet_ground(courses: Courses, row: IntArray, ripe: IntArray, patience: IntArray) -> IntArray:
    """The day on which ripe seed comes up: in wet ground at once, else after its patience."""
    if courses.wet_from is None:
        return np.broadcast_to(ripe, patience.shape)
    return np.asarray(np.minimum(courses.wet_from[row, ripe], ripe + patience))


def emergence_dd(share: FloatArray, members: Members) -> FloatArray:
    """Degree days by which a share of the season's seedlings is ripe to come up, shape = (members, shares).

    Log-logistic through the published 10, 50 and 90 %: ln d = ln d50 + logit(share)/b, with b of the lower or the
    upper half.
    """
    low, mid, high = (np.log(members.of("emergence_dd", f"{p}_percent")) for p in (10, 50, 90))
    logit = np.log(share / (1 - share))
    return np.asarray(np.exp(mid + logit / np.log(9) * np.where(logit < 0, mid - low, high - mid)))


def _ranks(plants: int) -> tuple[FloatArray, FloatArray]:
    """Ranks of the plants among the season's seedlings, and what each stands for.

    Close together at both ends: the events turn on the earliest plants, the end of emergence on the latest.
    """
    at = np.arange(2 * plants + 1) / (2 * plants)
    share = np.sin(np.pi / 2 * at) ** 2
    return share[1::2], np.diff(share[::2])


def even(rng: np.random.Generator, step: float, rows: int, columns: int) -> FloatArray:
    """Numbers in (0, 1), even along a row whatever part of it is taken; each row starts elsewhere."""
    return np.clip((rng.random((rows, 1)) + step * np.arange(columns)) % 1.0, 1e-6, 1 - 1e-6)
