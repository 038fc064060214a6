"""When the season's plants come up: cohorts between planting and autumn."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt

from tepal.programme import Season
from tepal.years._values import Values

FloatArray = npt.NDArray[np.float64]

# The season's emergence after planting is cut into so many cohorts of equal number. The curve ends at 99 %, or halfway
# through what is left where the crop is planted so late that nearly all have come up before.
COHORTS, _END = 5, 0.99


@dataclass(frozen=True, slots=True, eq=False)
class Flushes:
    """Days are counted from 1 January; first and last day of each cohort's coming up, shape = (n, K).

    `share`: of the season's seedlings those that come up in the standing season; the rest died when the ground was
    worked.
    """

    share: FloatArray
    first: FloatArray
    last: FloatArray
    planted: FloatArray  # (n,)
    crop_up: FloatArray  # (n,)

    @property
    def middle(self) -> FloatArray:
        return (self.first + self.last) / 2

    @property
    def late(self) -> FloatArray:
        """Days after the crop that a cohort comes up, at least 0."""
        return np.maximum(self.middle - self.crop_up[:, None], 0.0)

    def up(self, day: FloatArray) -> FloatArray:
        """Share of each cohort that is up on a day (n, 1): shape = (n, K)."""
        length = self.last - self.first
        whole = (day >= self.first).astype(np.float64)
        return np.clip(np.divide(day - self.first, length, out=whole, where=length > 0), 0.0, 1.0)

    def between(self, start: FloatArray, end: FloatArray) -> FloatArray:
        """Share of each cohort that comes up between two days, (n, 1) each: shape = (n, K)."""
        length = self.last - self.first
        whole = ((self.first >= start) & (self.first <= end)).astype(np.float64)
        within = np.maximum(np.minimum(self.last, end) - np.maximum(self.first, start), 0.0)
        return np.asarray(np.divide(within, length, out=whole, where=length > 0))


def flushes_of(season: Season, values: Values, *, counted: bool = False) -> Flushes:
    """The cohorts of a season; where they were counted all of them stood in it."""
    n, local = values.luck.size, values.programme.local
    planted = np.full(
        n, float(day_of_year(season.planted) if season.planted else round(values.usual_planting_day(season.crop)))
    )
    if local.days_after_crop is not None:
        # One flush; the crop's own days to come up are then part of what is known here.
        at = (planted + local.days_after_crop)[:, None]
        return Flushes(np.ones((n, 1)), at, at, planted, planted)
    crop_up = planted + values.published("crop_up_days")
    middle, width = values.published("emergence_middle_day"), values.published("emergence_width_days")
    scale = width / (2 * np.log(9))  # of a logistic curve, whose tenth and nine tenths lie 2 ln 9 scales apart
    # Alfalfa stands already: nothing is worked under.
    before = np.full(n, 1 - _END) if season.crop == "alfalfa" else 1 / (1 + np.exp((middle - planted) / scale))
    edges = np.linspace(0.0, 1.0, COHORTS + 1)[None, :]
    end = np.maximum(_END, (1 + before) / 2)
    reached = np.clip(before[:, None] + (end - before)[:, None] * edges, 1e-6, 1 - 1e-6)
    days = middle[:, None] + scale[:, None] * np.log(reached / (1 - reached))
    share = np.diff(reached, axis=1)
    if counted:
        share = share / share.sum(axis=1, keepdims=True)
    return Flushes(share, days[:, :-1], days[:, 1:], planted, days[:, 0] if season.crop == "fallow" else crop_up)


def day_of_year(month_day: str) -> int:
    return (date(2001, int(month_day[:2]), int(month_day[3:])) - date(2001, 1, 1)).days + 1
