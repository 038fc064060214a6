"""What a projection says: by year quantiles over all replicates, and what follows from the whole."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tepal.programme import Programme

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Tracks:
    """All replicates of one programme: shape = (R, years) for each; `resistant`, `escapes` by group.

    `start_m2` is the seedbank before the first season (R,). `yield_t_ha` is what is harvested, NaN in seasons for
    which no weed-free yield is told; `lost` is money per ha, 0 in seasons that are not priced. Both are None where no
    season has them.
    """

    seedbank_m2: FloatArray
    plants_m2: FloatArray
    seed_rain_m2: FloatArray
    yield_loss: FloatArray
    cost: FloatArray
    resistant: Mapping[str, FloatArray]
    escapes: Mapping[str, FloatArray]
    start_m2: FloatArray
    yield_t_ha: FloatArray | None
    lost: FloatArray | None


@dataclass(frozen=True, slots=True, eq=False)
class Projection:
    """One programme, its tracks, and the groups whose genes are told."""

    programme: Programme
    groups: tuple[str, ...]
    tracks: Tracks

    @property
    def name(self) -> str:
        return self.programme.name

    @property
    def years(self) -> int:
        return int(self.tracks.seedbank_m2.shape[1])

    @property
    def replicates(self) -> int:
        return int(self.tracks.seedbank_m2.shape[0])

    def spent(self, discount: float = 0.0) -> FloatArray:
        """Money per ha over all seasons, tactics and lost yield where it is priced: shape = (R,).

        `discount` is a yearly rate: a season's money counts 1 / (1 + discount)^(year - 1).
        """
        each = self.tracks.cost + (0.0 if self.tracks.lost is None else self.tracks.lost)
        return np.asarray(each @ (1 + discount) ** -np.arange(self.years))

    @property
    def holds(self) -> float:
        """The chance that the seedbank is at or below the start at the end of each of the last three seasons."""
        last = self.tracks.seedbank_m2[:, -3:]
        return float(np.mean((last <= self.tracks.start_m2[:, None]).all(axis=1)))

    def fails(self, group: str) -> tuple[int | None, int | None, int | None]:
        """5, 50 and 95 % points of the first year in which half of the plants coming up escape the group.

        None where it lies beyond the horizon: such replicates count as later than every year.
        """
        escaped = self.tracks.escapes[group] >= 0.5
        first = np.where(escaped.any(axis=1), escaped.argmax(axis=1) + 1, np.iinfo(np.int64).max)
        ordered = np.sort(first)
        points = []
        for probability in (0.05, 0.5, 0.95):
            value = int(ordered[max(int(np.ceil(probability * ordered.size)) - 1, 0)])
            points.append(value if value <= self.years else None)
        return points[0], points[1], points[2]
