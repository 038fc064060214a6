"""What absence takes as given, in one record, so that every answer can print it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

# One patch, as planning and absence take it (judgement): so many plants, normal about its center.
PATCH_PLANTS = 20
PATCH_SD_M = 8.0
# Above this many, numbers are taken together that differ by less than a count could tell.
_EACH, _STEP = 1000, 1.01


@dataclass(frozen=True, slots=True)
class Assumed:
    """The prior of absence. All of it is judgement; `prior_present` is the part that the office should set.

    prior_present: chance that the site has any before it was walked. most_plants: an infested site has 1 to this
    many, each number n with a chance in proportion to 1/n (log-uniform). clustered: share of infested sites where
    they stand in one cluster; the others have them scattered. cluster_sd_m: its standard deviation.
    """

    prior_present: float = 0.5
    most_plants: int = 200
    clustered: float = 0.5
    cluster_sd_m: float = PATCH_SD_M

    def plants(self) -> tuple[FloatArray, FloatArray]:
        """Numbers of plants on an infested site and their chances, each of shape = (m,).

        Each number up to a thousand; above, one for all within a hundredth of it, with the chance of them all.
        """
        last = [*range(1, min(self.most_plants, _EACH) + 1)]
        while last[-1] < self.most_plants:
            last.append(min(max(last[-1] + 1, round(last[-1] * _STEP)), self.most_plants))
        ends = np.array([0, *last])
        sums = np.concatenate([[0.0], np.cumsum(1 / np.arange(1, self.most_plants + 1))])
        chances = sums[ends[1:]] - sums[ends[:-1]]
        numbers = np.round((ends[1:] + ends[:-1] + 1) / 2)
        return numbers, chances / chances.sum()

    def in_words(self) -> str:
        return (
            f"Before the walk: present with probability {self.prior_present:g}; an infested site has 1 to "
            f"{self.most_plants} plants (log-uniform), {self.clustered:.0%} of them in one cluster of sd "
            f"{self.cluster_sd_m:g} m, the others scattered. A plant is seen with probability exp(-d²/2S²), d its "
            "distance from the route. Seen plants were rightly named."
        )
