"""Shares of a member's plants: by day, and by rank."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


def reached_by_day(when: IntArray, weight: FloatArray, days: int) -> FloatArray:
    """Weight of the plants that have reached something by the end of each day, shape = (members, days).

    `when`: the day of each plant, `days` for never; shape = (members, plants), as `weight`.
    """
    members = when.shape[0]
    cell = np.arange(members)[:, None] * (days + 1) + when
    per_day = np.bincount(cell.ravel(), weights=weight.ravel(), minlength=members * (days + 1))
    return np.cumsum(per_day.reshape(members, days + 1)[:, :days], axis=1)


def day_of_share(when: IntArray, weight: FloatArray, share: float, days: int) -> FloatArray:
    """The day by which a share of all plants has reached something; NaN where it never does. Shape = (members,).

    Each plant stands for those around its rank, so the share is reached half way through its weight; between two plants
    the day is drawn straight. Without that the late ones would come too late, because few virtual plants stand there.
    """
    order = np.argsort(when, axis=1, kind="stable")
    sorted_days = np.take_along_axis(when, order, axis=1).astype(np.float64)
    weights = np.take_along_axis(weight, order, axis=1)
    middle = (np.cumsum(weights, axis=1) - weights / 2) / weights.sum(axis=1, keepdims=True)
    after = np.clip((middle < share).sum(axis=1), 1, when.shape[1] - 1)
    rows = np.arange(when.shape[0])
    low, high = middle[rows, after - 1], middle[rows, after]
    part = np.clip((share - low) / (high - low), 0.0, 1.0)
    early, late = sorted_days[rows, after - 1], sorted_days[rows, after]
    day = np.round(early + part * (late - early))
    # Half way to a plant that never comes up is never.
    return np.where((late >= days) & (part > 0.5) | (early >= days), np.nan, np.where(late >= days, early, day))


def first_day(share: FloatArray, least: float) -> FloatArray:
    """The first day on which a share (members, days) is at least `least`; NaN where it never is. Shape = (members,)."""
    enough = share >= least - 1e-12
    return np.where(enough.any(axis=1), enough.argmax(axis=1), np.nan)


def upper_point(values: FloatArray, weight: FloatArray, among: BoolArray, share: float) -> FloatArray:
    """The value that the top `share` of the plants `among` reach, per member; -inf where there are none.

    As in `day_of_share` each plant stands for those around its rank.
    """
    ranked = np.where(among, values, -np.inf)
    order = np.argsort(-ranked, axis=1)
    ranked = np.take_along_axis(ranked, order, axis=1)
    weights = np.take_along_axis(np.where(among, weight, 0.0), order, axis=1)
    sums = np.cumsum(weights, axis=1)
    total = np.maximum(sums[:, -1:], 1e-12)
    middle = (sums - weights / 2) / total
    after = np.minimum((middle < share).sum(axis=1), values.shape[1] - 1)
    rows, before = np.arange(values.shape[0]), np.maximum(after - 1, 0)
    upper, lower = ranked[rows, before], ranked[rows, after]
    step = middle[rows, after] - middle[rows, before]
    part = np.clip((share - middle[rows, before]) / np.where(step > 0, step, 1.0), 0.0, 1.0)
    # Past the last plant among them there is nothing to go halfway to.
    known = np.isfinite(lower) & np.isfinite(upper)
    gap = np.subtract(upper, lower, out=np.zeros_like(upper), where=known)
    return np.asarray(upper - part * gap)
