"""What absence takes as given, in one record, so that every answer can print it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

# One patch, as planning and absence take it (judgement): so many plants, normal about its center.
PATCH_PLANTS = 20
PATCH_SD_M = 8.0


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
        """Numbers of plants on an infested site and their chances, each of shape = (most_plants,)."""
        numbers = np.arange(1, self.most_plants + 1, dtype=np.float64)
        chances = 1 / numbers
        return numbers, chances / chances.sum()

    def in_words(self) -> str:
        return (
            f"Before the walk: present with probability {self.prior_present:g}; an infested site has 1 to "
            f"{self.most_plants} plants (log-uniform), {self.clustered:.0%} of them in one cluster of sd "
            f"{self.cluster_sd_m:g} m, the others scattered. A plant is seen with probability exp(-d²/2S²), d its "
            "distance from the route. Seen plants were rightly named."
        )
