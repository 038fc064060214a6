"""One year in the field, for a block of replicates: whole plants and seeds, genotype by genotype."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tepal.years._chance import come_through, shared_out, so_many, weighed_parts
from tepal.years._genes import gamete_shares, hardy_weinberg, mated, meiosis, selfed
from tepal.years._loci import Loci
from tepal.years._luck import Luck
from tepal.years._plan import Plan
from tepal.years._values import Values

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Seedbank:
    """Viable seed of the whole field by genotype, above 5 cm and below: whole numbers, shape = (n, 3^L)."""

    top: FloatArray
    deep: FloatArray

    @property
    def all(self) -> FloatArray:
        return self.top + self.deep


@dataclass(frozen=True, slots=True, eq=False)
class Year:
    """What a season left. Per m2, shape = (n,); `competing_m2` in each part of the season, (n, P); `came_up`: seedlings
    of each genotype, (n, 3^L)."""

    seedbank: Seedbank
    came_up: FloatArray
    plants_m2: FloatArray
    seed_rain_m2: FloatArray
    competing_m2: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """What stays from year to year. `outside`: allele shares of pollen and seed from beyond the field, (n, L)."""

    values: Values
    loci: Loci
    outside: FloatArray
    area_m2: float

    @property
    def start(self) -> FloatArray:
        """Allele shares with which the field began, (n, L)."""
        return self.loci.start


def pass_year(seedbank: Seedbank, year: int, plan: Plan, place: Place, counted: FloatArray | None = None) -> Year:
    """Inversion; emergence; what kills; seed set and crossing; harvest; eating; winter.

    `counted`: seedlings of the field in this season, if they were counted (n,).
    """
    values, area_m2 = place.values, place.area_m2
    luck = values.luck
    top, deep = _inverted(seedbank, plan.inverted, luck, year)
    sprouted = _sprout(top, values, year) if counted is None else _counted(top, counted, place)
    top = np.maximum(top - sprouted, 0.0)
    came_up = _through_cover(sprouted, plan, luck, year) if counted is None else sprouted

    setting = _cohorts(came_up, _not_crowded_out(came_up, plan, place), plan, luck, year)  # (n, K, G)
    competing = np.einsum("ng,npg->np", came_up, plan.competing) / area_m2
    rain = _seed(setting, year, plan, place) * (1 - plan.kept_out[:, None])
    if plan.brought_m2.any():
        rain = rain + (plan.brought_m2 * area_m2)[:, None] * hardy_weinberg(place.outside)

    survives = values.survives(year)
    left = (1 - values.eaten) * survives
    new = so_many(luck.of("new seed", year), rain * left[:, None])
    old = come_through(luck.of("old seed", year), top, survives[:, None])
    below = come_through(luck.of("deep seed", year), deep, values.survives_deep(year)[:, None])
    return Year(
        Seedbank(old + new, below),
        came_up,
        np.einsum("nkg,nk->n", setting, plan.standing) / area_m2,
        rain.sum(axis=1) / area_m2,
        competing,
    )


def _inverted(seedbank: Seedbank, share: FloatArray, luck: Luck, year: int) -> tuple[FloatArray, FloatArray]:
    if not share.any():
        return seedbank.top, seedbank.deep
    down = come_through(luck.of("turned down", year), seedbank.top, share[:, None])
    up = come_through(luck.of("turned up", year), seedbank.deep, share[:, None])
    return seedbank.top - down + up, seedbank.deep - up + down


def _sprout(top: FloatArray, values: Values, year: int) -> FloatArray:
    emerges = np.minimum(values.emerges * values.season_factor("emergence factor", year), 1.0)
    return come_through(values.luck.of("emergence", year), top, emerges[:, None])


def _through_cover(sprouted: FloatArray, plan: Plan, luck: Luck, year: int) -> FloatArray:
    """Seedlings that get through a cover crop; the others die under it, so that their seed is spent too.

    Trials of ten years found no more seed under a cover crop than without (Nichols2020), as there would be if what it
    holds back stayed in the ground.
    """
    if (plan.emergence_left >= 1).all():
        return sprouted
    return come_through(luck.of("through cover", year), sprouted, plan.emergence_left[:, None])


def _counted(top: FloatArray, counted: FloatArray, place: Place) -> FloatArray:
    """They were counted, so their number is known; which genotypes they are is chance."""
    rng = place.values.luck.of("counted plants")
    total = top.sum(axis=1)
    share = np.divide(counted, total, out=np.zeros_like(total), where=total > 0)
    out = come_through(rng, top, np.minimum(share, 1.0)[:, None])
    # The commonest genotype makes up the number that was counted; the rare ones stay as they fell.
    rows, common = np.arange(len(total)), top.argmax(axis=1)
    out[rows, common] = 0.0
    out[rows, common] = np.clip(counted - out.sum(axis=1), 0.0, top[rows, common])
    # More were counted than the ground was said to hold: the count is right, and they are as the field began.
    more = np.flatnonzero(counted > total)
    if more.size:
        out[more] = shared_out(rng, counted[more], hardy_weinberg(place.start[more]))
    return out


def _not_crowded_out(came_up: FloatArray, plan: Plan, place: Place) -> FloatArray | None:
    """Share of the plants that live in spite of each other, (n,), or None where all do: 1 / (1 + D / M).

    D adds up their sizes, as for seed: of few plants nearly all live, of very many M per m2. More of any plants never
    leaves less of the whole.
    """
    most = place.values.most_live
    if plan.crowds is None or most is None:
        return None
    dense = np.einsum("ng,ng->n", came_up, plan.crowds) / place.area_m2
    return np.asarray(1 / (1 + dense / most))


def _cohorts(came_up: FloatArray, left_room: FloatArray | None, plan: Plan, luck: Luck, year: int) -> FloatArray:
    """Plants of each cohort and genotype that come to set seed: a multinomial, drawn one cohort after the other."""
    out = np.empty_like(plan.setting)
    rng, left, free = luck.of("cohorts", year), came_up, np.ones_like(came_up)
    for cohort in range(plan.setting.shape[1]):
        chance = plan.setting[:, cohort]
        if left_room is not None:
            chance = chance * left_room[:, None]
        # Of those that did not in an earlier cohort.
        in_turn = np.divide(chance, free, out=np.zeros_like(free), where=free > 0)
        free = free - chance
        drawn = come_through(rng, left, in_turn)
        out[:, cohort] = drawn
        left = left - drawn
    return out


def _seed(setting: FloatArray, year: int, plan: Plan, place: Place) -> FloatArray:
    """Ripe seed of the field by genotype, (n, 3^L)."""
    values, kept = place.values, place.loci.kept
    luck = values.luck
    # A plant crowds by its size, as it seeds by it: otherwise killing late plants would raise the seed of all.
    sizes = np.einsum("nkg,nk->ng", setting, plan.size)
    crowd = sizes.sum(axis=1) / place.area_m2
    each = (
        values.seeds_alone(plan.crop)
        * values.season_factor("seed factor", year)
        / (1 + values.crowding(plan.crop) * crowd)
    )
    # Each plant counts by its size: as a mother by the seed it bears, as a father by the pollen it sheds.
    mothers, others = weighed_parts(luck.of("mothers", year), setting, values.bears, plan.size)
    # Where sexes are apart those that bear no seed are the fathers; else every plant is both.
    fathers = others if values.two_sexes and (values.bears < 1).any() else sizes
    eggs = mothers * kept * each[:, None]
    pollen = fathers * kept
    return _crossed(eggs, pollen, place)


def _crossed(eggs: FloatArray, pollen: FloatArray, place: Place) -> FloatArray:
    """Seed by genotype, (n, 3^L), from the seed that each genotype bears and the pollen that it sheds."""
    values = place.values
    share = meiosis(place.loci.count)
    grains = pollen @ share
    total = grains.sum(axis=1, keepdims=True)
    near = np.divide(grains, total, out=np.zeros_like(grains), where=total > 0)
    # Without a father in the field whatever pollen comes is from outside; if none comes there is no crossed seed.
    from_far = values.pollen_from_outside[:, None]
    from_far = np.where((total == 0) & (from_far > 0), 1.0, from_far)
    pool = (1 - from_far) * near + from_far * gamete_shares(place.outside)
    crossed = mated(eggs @ share, pool)
    if values.never_selfed:
        return crossed
    cross = values.outcrossing[:, None]
    return np.asarray(cross * crossed + (1 - cross) * selfed(eggs))
