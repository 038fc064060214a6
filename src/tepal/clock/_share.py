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


def first_day(share: FloatArray, least: float) -> FloatArray:
    """The first day on which a share (members, days) is at least `least`; NaN where it never is. Shape = (members,)."""
    enough = share >= least - 1e-12
    return np.where(enough.any(axis=1), enough.argmax(axis=1), np.nan)


def upper_point(values: FloatArray, weight: FloatArray, among: BoolArray, share: float) -> FloatArray:
    """The value that the top `share` of the plants `among` reach, per member; -inf where there are none."""
    ranked = np.where(among, values, -np.inf)
    order = np.argsort(-ranked, axis=1)
    ranked = np.take_along_axis(ranked, order, axis=1)
    sums = np.cumsum(np.take_along_axis(np.where(among, weight, 0.0), order, axis=1), axis=1)
    at = (sums >= share * sums[:, -1:] - 1e-12).argmax(axis=1)
    return np.asarray(ranked[np.arange(values.shape[0]), at])
