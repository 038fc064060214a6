"""One season of a programme as numbers: what each cohort and genotype survives, how it competes, what it costs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tepal.programme import Pull, Season
from tepal.years._flushes import Flushes, flushes_of
from tepal.years._kills import kills_of, seed_after_cuts, standing, usual_kill
from tepal.years._loci import Loci
from tepal.years._values import Values

FloatArray = npt.NDArray[np.float64]

_FULL_COVER_T = 8.0  # dry mass per ha for which the published effect of a cover crop is told


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """What a season does, for n replicates, K cohorts and G genotypes.

    `setting`: chance that a seedling comes to set seed in a cohort, where few crowd each other, (n, K, G). `crowds`:
    size of those plants by seedling, (n, G), where crowding kills some of them, else None.
    `standing`: of those that set seed, share still there at harvest, (n, K). `size`: seed of a plant against one that
    came up with the crop, (n, K). `lasting`, `competing`: the time in which plants cost yield falls into P parts,
    between one killing and the next; its share, (n, P), and of a genotype's seedlings those that stand in it, late
    ones counting for less, (n, P, G). `escape`: by group, share of each genotype that it would fail to kill, (n, G).
    """

    crop: str
    setting: FloatArray
    crowds: FloatArray | None
    size: FloatArray
    standing: FloatArray
    lasting: FloatArray
    competing: FloatArray
    emergence_left: FloatArray
    inverted: FloatArray
    kept_out: FloatArray
    brought_m2: FloatArray
    cost_ha: FloatArray
    escape: dict[str, FloatArray]


def plan_of(season: Season, values: Values, loci: Loci, field_row_cm: float, *, counted: bool = False) -> Plan:
    """The season as numbers for every replicate; `counted`: its plants were counted, so that none is to be added."""
    row = field_row_cm if season.row_cm is None else season.row_cm
    up = flushes_of(season, values, counted=counted)
    n = values.luck.size
    lives = values.lives(up.late, season.crop, row)
    weight = lives * np.exp(-values.published("loss_fall")[:, None] * up.late) * up.share
    alive, lasting, competing = _through(season, values, loci, up, weight)
    setting = up.share[:, :, None] * alive * lives[:, :, None]
    size = (
        values.size(up.late, season.crop, row)
        * values.shortened(up.crop_up)[:, None]
        * seed_after_cuts(season, values, up)
    )
    return Plan(
        season.crop,
        setting,
        None if values.most_live is None else np.einsum("nkg,nk->ng", setting, size),
        size,
        standing(season, values, up),
        lasting, competing,
        _uncovered(season, values),
        season.inverted.draws(values.luck.of("inverted"), n) if season.inversion else np.zeros(n),
        _kept_out(season, values), _brought(season, values), _cost(season, values),
        {group: loci.survive(group, usual_kill(group, season, values)) for group in values.programme.groups},
    )  # fmt: skip


def _through(
    season: Season, values: Values, loci: Loci, up: Flushes, weight: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """What is alive after all that kills, as shares of each cohort's seedlings, (n, K, G); `lasting`; `competing`."""
    alive = np.ones((*up.share.shape, 3**loci.count))
    full, bend = values.published("competes_full_days"), values.published("competes_bend")
    lasting, competing, gone = [], [], np.zeros(values.luck.size)
    for kill in kills_of(season, values, loci, up):
        # What plants have cost by a day rises slowly at first, and from some day after the crop on no more.
        done = np.maximum(np.clip((kill.day[:, 0] - up.crop_up) / full, 0.0, 1.0) ** bend, gone)
        if (done > gone).any():
            lasting.append(done - gone)
            competing.append(np.einsum("nkg,nk->ng", alive, weight))
            gone = done
        alive = alive * kill.left
    lasting.append(1 - gone)
    competing.append(np.einsum("nkg,nk->ng", alive, weight))
    return alive, np.stack(lasting, axis=1), np.stack(competing, axis=1)


def _uncovered(season: Season, values: Values) -> FloatArray:
    """Share of the emergence that a cover crop leaves."""
    if season.cover_crop_t_ha is None:
        return np.ones(values.luck.size)
    mass = season.cover_crop_t_ha.draws(values.luck.of("cover_crop"), values.luck.size)
    return 1 - values.published("cover_stops") * np.minimum(mass / _FULL_COVER_T, 1.0)


def _kept_out(season: Season, values: Values) -> FloatArray:
    harvest = season.harvest
    if harvest.seed_kept_out is not None:
        return values.here("seed_kept_out", harvest.seed_kept_out)
    if harvest.seed_control == "none":
        return np.zeros(values.luck.size)
    return values.published("seed_kept_out", harvest.seed_control)


def _brought(season: Season, values: Values) -> FloatArray:
    harvest = season.harvest
    if harvest.seed_brought_m2 is None and harvest.order != "after infested":
        return np.zeros(values.luck.size)
    return values.here("seed_brought", harvest.seed_brought_m2)


def _cost(season: Season, values: Values) -> FloatArray:
    n, wage = values.luck.size, values.programme.money.wage_hour
    total = np.zeros(n)
    tactics = (*season.residual, *season.post, *season.pull, *season.cut, *season.cultivate, season.harvest)
    for number, tactic in enumerate(tactics):
        total = total + tactic.cost_ha.draws(values.luck.of("cost", number), n)
        if isinstance(tactic, Pull) and tactic.hours_ha is not None and wage is not None:
            hours = tactic.hours_ha.draws(values.luck.of("hours", number), n)
            total = total + hours * wage.draws(values.luck.of("wage"), n)
    return total
