"""Plants that were cut and live: when they are back."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt

from tepal.clock._plants import Plants
from tepal.clock._traits import spread_evenly
from tepal.doubt import day_quantile
from tepal.flora import Flora, Parameter

FloatArray = npt.NDArray[np.float64]

# Heights of cut that were tried in one trial (Sosnoskie2014), in cm, with the condition of their rows.
_TRIED_CM = ((0.0, "soil_line"), (2.5, "2.5_cm"), (15.0, "15_cm"))
_BACK_AT_CM = 10.0
_Z90 = 1.2815515655446004


@dataclass(frozen=True, slots=True, eq=False)
class Regrowth:
    """What cut plants do: `survives` (share that lives), and days after 1 January (NaN: not this year), shape = (n,).

    `height_10_cm`: new growth stands 10 cm above the cut; `flowers`, `viable_seed`: on it.
    """

    survives: FloatArray
    height_10_cm: FloatArray
    flowers: FloatArray
    viable_seed: FloatArray
    start: date

    def quantile(self, name: str, probability: float) -> date | None:
        """The date by which it has happened in this share of all futures, for plants that live."""
        return day_quantile(getattr(self, name), probability, self.start)

    @property
    def return_by(self) -> date | None:
        """When to be back: the early end (10 %) of flowers on new growth, before any seed."""
        return self.quantile("flowers", 0.1)


def regrow(
    plants: Plants, flora: Flora, code: str, *, cut_on: int, cut_height_cm: float, start: date,
    rng: np.random.Generator,
) -> Regrowth:  # fmt: skip
    """Regrowth of plants cut on a day at a height (cm above soil), straight between the heights that were tried.

    New growth rises linearly in degree days at the published rate of its cut. It flowers after a share of the way that
    a plant from seed goes (judgement: the plant is no seedling), then needs the same days to viable seed.
    """
    if cut_height_cm < 0:
        raise ValueError(f"a cut is at or above the soil, got {cut_height_cm}")
    of_rate, of_survival, of_part = spread_evenly(rng, len(plants.members), 3).T
    rows = {
        name: [flora.parameter(name, code, condition) for _, condition in _TRIED_CM]
        for name in ("regrowth_rate", "cut_survives")
    }
    rate = np.exp(_between(rows["regrowth_rate"], cut_height_cm, of_rate, math.log))
    survives = 1 / (1 + np.exp(-_between(rows["cut_survives"], cut_height_cm, of_survival, _logit)))
    centre, spread = _point(flora.parameter("regrowth_flower_share", code), math.log)
    part = np.exp(centre + spread * of_part)
    days = plants.days
    future = plants.members.future
    growth = plants.courses.growth[future]
    back = _first_since(growth, cut_on, _BACK_AT_CM / rate, days)
    flower = _first_since(plants.progress(), cut_on, part, days)
    ripening = plants.courses.ripening[future]
    need = plants.members.values["flower_to_seed_days", ""]
    seed = np.full(flower.shape, days)
    for_seed = flower < days
    seed[for_seed] = _first_since(ripening[for_seed], flower[for_seed], need[for_seed], days)
    frost = plants.frost[:, 0]
    days_of = [np.where(when < frost, when.astype(np.float64), np.nan) for when in (back, flower, seed)]
    return Regrowth(survives, days_of[0], days_of[1], days_of[2], start)


def _first_since(
    sums: FloatArray, since: npt.NDArray[np.int64] | int, need: FloatArray, days: int
) -> npt.NDArray[np.int64]:
    rows = np.arange(sums.shape[0])
    enough = sums >= (sums[rows, since] + need)[:, None]
    return np.where(enough.any(axis=1), enough.argmax(axis=1), days)


def _logit(share: float) -> float:
    return math.log(share / (1 - share))


def _between(rows: Sequence[Parameter], height_cm: float, z: FloatArray, onto: Callable[[float], float]) -> FloatArray:
    """A parameter at a height of cut, on its scale: straight between the heights tried, level beyond the last."""
    points = [_point(row, onto) for row in rows]
    heights = [height for height, _ in _TRIED_CM]
    centre, spread = (float(np.interp(height_cm, heights, values)) for values in zip(*points, strict=True))
    return np.asarray(centre + spread * z)


def _point(row: Parameter, onto: Callable[[float], float]) -> tuple[float, float]:
    """A row's centre and spread on a scale, its low and high being the 10 and 90 % points."""
    if row.mean is None or row.low is None or row.high is None:
        raise ValueError(f"{row.name} of {row.code} is needed with a range")
    return onto(row.mean), (onto(row.high) - onto(row.low)) / (2 * _Z90)
