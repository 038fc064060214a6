"""What a season's weather means for plants: degree days, wet days, frost and day length."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tepal.clock._day_length import day_length_h
from tepal.clock._degree_days import degree_days
from tepal.clock._season import Season
from tepal.clock._traits import Published

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# Larger than any running sum of one future or member, so that one sorted search can serve all of them.
APART = 1e5
_FROST_FROM_DAY = 200  # before mid July a frost is one of spring, and later seedlings replace those it kills
_RAIN_DAYS = 3
# Seed ripens at no less and no more than these parts of its reference speed (judgement).
_RIPENING_SPEED = (0.2, 1.2)


@dataclass(frozen=True, slots=True, eq=False)
class Courses:
    """What a season's weather means for plants, per future and day, shape = (futures, days) unless said otherwise.

    `germination` and `growth`: degree days summed from the biofix and from 1 January. `toward_flower`: degree days of
    each day, by the thresholds of flowering. `ripening`: days of seed ripening at the reference warmth, summed.
    `wet_from`: index of the first day from this one on when the ground is wet (days: never), one column more than days.
    `coldest`: lowest temperature since mid July. `hours`: day length, shape = (days,).
    """

    season: Season
    germination: FloatArray
    toward_flower: FloatArray
    growth: FloatArray
    ripening: FloatArray
    wet_from: IntArray | None
    coldest: FloatArray
    hours: FloatArray

    @classmethod
    def of(cls, season: Season, published: Published) -> Courses:
        fixed = published.fixed
        low, high = season.tmin_c, season.tmax_c
        warm = degree_days(low, high, lower_c=fixed["emergence_base_c"], upper_c=fixed["emergence_upper_c"])
        warm[:, : int(fixed["emergence_from_day"])] = 0.0
        daily = degree_days(low, high, lower_c=fixed["growth_base_c"], upper_c=fixed["growth_upper_c"])
        coldest = np.full(low.shape, np.inf)
        coldest[:, _FROST_FROM_DAY:] = np.minimum.accumulate(low[:, _FROST_FROM_DAY:], axis=1)
        return cls(
            season,
            np.cumsum(warm, axis=1),
            degree_days(low, high, lower_c=fixed["flower_base_c"], upper_c=fixed["flower_upper_c"]),
            np.cumsum(daily, axis=1),
            np.cumsum(np.clip(daily / fixed["seed_ripening_dd"], *_RIPENING_SPEED), axis=1),
            _wet_from(season.prcp_mm, fixed["rain_that_wets_mm"]),
            coldest,
            day_length_h(season.lat, np.arange(1.0, season.days + 1)),
        )

    def germinated(self, row: IntArray, degree: FloatArray) -> IntArray:
        """The day on which the degree days from the biofix reach a sum in future `row`; days where they never do."""
        flat = self.germination + APART * np.arange(self.season.futures)[:, None]
        found = np.searchsorted(flat.ravel(), degree + APART * row) - row * self.season.days
        return np.asarray(np.minimum(found, self.season.days))


def _wet_from(rain: FloatArray | None, enough_mm: float) -> IntArray | None:
    if rain is None:
        return None
    days = rain.shape[1]
    padded = np.concatenate([np.zeros((rain.shape[0], _RAIN_DAYS)), np.cumsum(rain, axis=1)], axis=1)
    wet = padded[:, _RAIN_DAYS:] - padded[:, :-_RAIN_DAYS] >= enough_mm
    first = np.where(wet, np.arange(days), days)
    first = np.minimum.accumulate(first[:, ::-1], axis=1)[:, ::-1]
    return np.concatenate([first, np.full((rain.shape[0], 1), days)], axis=1)
