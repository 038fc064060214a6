"""One season of a programme as numbers: when plants come up, what each cohort and genotype survives, what it costs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt

from tepal.programme import Cultivation, Cut, Post, Pull, Residual, Season
from tepal.years._loci import Loci
from tepal.years._values import Values

FloatArray = npt.NDArray[np.float64]

# The season's emergence after planting, cut into cohorts of these shares: finer where plants are large.
_COHORTS = np.array([0.2, 0.2, 0.2, 0.2, 0.2])
# Where no crop was sown and the ground not worked the season begins with the first plants.
_FULL_COVER_T = 8.0
_PULLED_BEFORE_SEED_DAYS, _CUT_AT_FLOWERING = 0.9, 0.7  # as a share of the days to ripe seed


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """What a season does, for K cohorts and G genotypes, shapes by (n, K, G) with 1 where nothing differs.

    `share`: of the season's seedlings, those of each cohort that come up in a standing season, (n, K); the rest died
    when the ground was worked. `setting`: share of a cohort's seedlings that come to set seed. `standing`: of those,
    share still there at harvest. `competed`: share of a cohort's seedlings that cost yield like a plant that came up
    with the crop and stood. `size`: seed of a plant against one that came up with the crop, (n, K).
    """

    crop: str
    share: FloatArray
    size: FloatArray
    setting: FloatArray
    standing: FloatArray
    competed: FloatArray
    emergence_left: FloatArray
    inverted: FloatArray
    kept_out: FloatArray
    brought_m2: FloatArray
    cost_ha: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _Cohorts:
    """Days are counted from 1 January; first and last day of each cohort's coming up, shape = (n, K)."""

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


def plan_of(season: Season, values: Values, loci: Loci, fallback_row_cm: float) -> Plan:
    """The season as numbers for every replicate."""
    row = fallback_row_cm if season.row_cm is None else season.row_cm
    up = _cohorts(season, values)
    n = values.luck.size
    genotypes = 3**loci.count
    alive = np.ones((n, up.share.shape[1], genotypes))
    competed = np.zeros_like(alive)
    weight_from, weight_full = values.published("competes_from_days"), values.published("competes_full_days")

    def cost_of(day: FloatArray) -> FloatArray:
        """How much of its cost to the crop a plant killed on a day (n, K) has done: 0 to 1."""
        since = day - up.crop_up[:, None]
        span = np.maximum(weight_full - weight_from, 1.0)[:, None]
        return np.clip((since - weight_from[:, None]) / span, 0.0, 1.0)

    for day, left in sorted(_killings(season, values, loci, up), key=lambda event: float(np.mean(event[0]))):
        now = alive * left
        competed += (alive - now) * np.broadcast_to(cost_of(day), up.share.shape)[:, :, None]
        alive = now
    lives = values.lives(up.late, season.crop)
    size = values.size(up.late, season.crop, row)
    for cut in season.cut:
        size = size * _seed_after_cut(cut, values, up)
    fall = values.published("loss_fall")[:, None]
    competed = (competed + alive) * (lives * np.exp(-fall * up.late))[:, :, None]
    standing = np.ones((n, up.share.shape[1]))
    for pull in season.pull:
        if not _before_seed(pull):
            share = pull.share.draws(values.luck.of("pull", season.pull.index(pull)), n)
            standing = standing * (1 - share[:, None])
    return Plan(
        season.crop, up.share, size, alive * lives[:, :, None], standing, competed, _uncovered(season, values),
        season.inverted.draws(values.luck.of("inverted"), n) if season.inversion else np.zeros(n),
        _kept_out(season, values), _brought(season, values), _cost(season, values),
    )  # fmt: skip


def _cohorts(season: Season, values: Values) -> _Cohorts:
    n, local = values.luck.size, values.programme.local
    planted = np.full(n, _day(season.planted)) if season.planted else np.rint(
        np.full(n, values.row("usual_planting_day", season.crop).mean)
    )  # fmt: skip
    if local.days_after_crop is not None:
        # One flush; the crop's own days to come up are then part of what is known here.
        at = (planted + local.days_after_crop)[:, None]
        return _Cohorts(np.ones((n, 1)), at, at, planted, planted)
    crop_up = planted + values.published("crop_up_days")
    middle, width = values.published("emergence_middle_day"), values.published("emergence_width_days")
    scale = width / (2 * np.log(9))  # of a logistic curve, whose tenth and nine tenths lie 2 ln 9 scales apart

    def day_of(share: FloatArray) -> FloatArray:
        return np.asarray(middle[:, None] + scale[:, None] * np.log(share / (1 - share)))

    worked = season.crop != "alfalfa"
    before = 1 / (1 + np.exp((middle - planted) / scale)) if worked else np.full(n, 0.01)
    edges = np.concatenate([[0.0], np.cumsum(_COHORTS)])[None, :]
    share = np.clip(before[:, None] + (0.99 - before[:, None]) * edges, 1e-6, 1 - 1e-6)
    days = day_of(share)
    start = crop_up if season.crop != "fallow" else days[:, 0]
    return _Cohorts(np.diff(share, axis=1), days[:, :-1], days[:, 1:], planted, start)


def _killings(season: Season, values: Values, loci: Loci, up: _Cohorts) -> list[tuple[FloatArray, FloatArray]]:
    """Each thing done: its day (n, 1 or K) and the share that it leaves alive (n, K, G)."""
    out: list[tuple[FloatArray, FloatArray]] = []
    for residual in season.residual:
        out.append((up.middle, _after_residual(residual, values, loci, up)))
    for number, post in enumerate(season.post):
        out.append(_after_post(post, number, values, loci, up))
    for cultivation in season.cultivate:
        out.append(_after_cultivation(cultivation, values, up))
    ripe = values.published("days_to_ripe_seed")[:, None]
    for number, pull in enumerate(season.pull):
        if _before_seed(pull):
            share = pull.share.draws(values.luck.of("pull", number), values.luck.size)[:, None]
            day = up.middle[:, :1] + _PULLED_BEFORE_SEED_DAYS * ripe
            reached = np.ones_like(up.share)
            if pull.when != "before seed":
                day = np.full_like(day, _day(pull.when))
                # Plants that are not up yet stay; of those whose seed is ripe by then the seed has fallen or falls.
                reached = ((up.middle <= day) & (up.middle + ripe > day)).astype(np.float64)
            out.append((day, (1 - share * reached)[:, :, None]))
    for cut in season.cut:
        out.append(_after_cut(cut, values, up))
    return out


def _before_seed(pull: Pull) -> bool:
    return pull.when != "after seed"


def _together(kills: list[FloatArray]) -> FloatArray:
    """Groups act independently: survivors are the product of the survivors of each."""
    left = kills[0]
    for each in kills[1:]:
        left = left * each
    return left


def known_kill(spray: Residual | Post, group: str, name: str, values: Values) -> FloatArray | None:
    """The kill of susceptible plants that the programme tells for a group of this spraying, or None."""
    known = spray.kill.get(group) if isinstance(spray.kill, dict) else spray.kill
    return None if known is None else known.draws(values.luck.of(name, group), values.luck.size)


def _after_residual(residual: Residual, values: Values, loci: Loci, up: _Cohorts) -> FloatArray:
    left = []
    for group in residual.groups:
        known = known_kill(residual, group, "residual_kills", values)
        left.append(loci.survive(group, values.kills_residual(group) if known is None else known))
    start = (up.planted + residual.days_after_planting)[:, None]
    end = start + values.here("residual_lasts_days", residual.lasts_days)[:, None]
    within = np.clip(np.minimum(up.last, end) - np.maximum(up.first, start), 0.0, None)
    length = up.last - up.first
    flush = ((up.first >= start) & (up.first <= end)).astype(np.float64)
    share = np.divide(within, length, out=flush, where=length > 0)
    return np.asarray(1 - share[:, :, None] * (1 - _together(left)[:, None, :]))


def _after_post(post: Post, number: int, values: Values, loci: Loci, up: _Cohorts) -> tuple[FloatArray, FloatArray]:
    n = values.luck.size
    to_ten = values.published("days_to_10_cm")[:, None]
    wanted = None if post.height_cm is None else post.height_cm.draws(values.luck.of("post_height", number), n)[:, None]
    if post.days_after_planting is not None:
        day = (up.planted + post.days_after_planting)[:, None]
    else:
        assert wanted is not None
        day = up.middle[:, :1] + to_ten * np.sqrt(wanted / 10)
    is_up = np.clip(np.divide(day - up.first, up.last - up.first, out=(day >= up.first).astype(np.float64),
                              where=up.last > up.first), 0.0, 1.0)  # fmt: skip
    # A plant's height grows as the square of its age, and is 10 cm at the published age.
    height = 10 * (np.maximum(day - up.middle, 0.0) / to_ten) ** 2
    if wanted is not None:
        weight = up.share * is_up
        mean = (height * weight).sum(axis=1, keepdims=True) / np.maximum(weight.sum(axis=1, keepdims=True), 1e-300)
        height = np.where(mean > 0, height * np.divide(wanted, mean, out=np.ones_like(mean), where=mean > 0), wanted)
    left = []
    for group in post.groups:
        known = known_kill(post, group, "post_kills", values)
        kill = values.kills_post(group, height) if known is None else np.broadcast_to(known[:, None], height.shape)
        left.append(np.stack([loci.survive(group, kill[:, c]) for c in range(kill.shape[1])], axis=1))
    return day, np.asarray(1 - is_up[:, :, None] * (1 - _together(left)))


def _after_cultivation(done: Cultivation, values: Values, up: _Cohorts) -> tuple[FloatArray, FloatArray]:
    day = (up.planted + done.days_after_planting)[:, None]
    kill = values.here("cultivation_kills", done.kill, "under_8_cm")[:, None]
    return day, np.asarray(1 - kill * (up.middle <= day))[:, :, None]


def _cut_day(cut: Cut, values: Values, up: _Cohorts) -> FloatArray:
    if cut.when != "flowering":
        return np.full((values.luck.size, 1), float(_day(cut.when)))
    return up.middle[:, :1] + _CUT_AT_FLOWERING * values.published("days_to_ripe_seed")[:, None]


def _after_cut(cut: Cut, values: Values, up: _Cohorts) -> tuple[FloatArray, FloatArray]:
    day = _cut_day(cut, values, up)
    live = _by_cut_height(cut, "cut_survives", values)
    return day, np.where(up.middle <= day, live[:, None], 1.0)[:, :, None]


def _seed_after_cut(cut: Cut, values: Values, up: _Cohorts) -> FloatArray:
    seed = _by_cut_height(cut, "regrowth_seed", values)
    return np.where(up.middle <= _cut_day(cut, values, up), seed[:, None], 1.0)


def _by_cut_height(cut: Cut, name: str, values: Values) -> FloatArray:
    """A published share by height of the cut: straight between the published heights, on the logit."""
    heights, shown = (0.0, 2.5, 15.0), ("soil_line", "2.5_cm", "15_cm")
    n = values.luck.size
    height = np.clip(cut.height_cm.draws(values.luck.of("cut_height"), n), 0.0, 15.0)
    # One luck for the three heights, so that a lower cut never leaves more.
    logits = np.stack([_logit(values.row(name, each).value().draws(values.luck.of(name), n))
                       for each in shown])  # fmt: skip
    right = np.clip(np.searchsorted(heights, height), 1, 2)
    low, high = np.take(heights, right - 1), np.take(heights, right)
    at = np.arange(n)
    logit = logits[right - 1, at] + (logits[right, at] - logits[right - 1, at]) * (height - low) / (high - low)
    return np.asarray(1 / (1 + np.exp(-logit)))


def _logit(share: FloatArray) -> FloatArray:
    inside = np.clip(share, 1e-9, 1 - 1e-9)
    return np.asarray(np.log(inside / (1 - inside)))


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
    n = values.luck.size
    total = np.zeros(n)
    tactics = (*season.residual, *season.post, *season.pull, *season.cut, *season.cultivate, season.harvest)
    for number, tactic in enumerate(tactics):
        rng = values.luck.of("cost", number)
        total = total + tactic.cost_ha.draws(rng, n)
        wage = values.programme.money.wage_hour
        if isinstance(tactic, Pull) and tactic.hours_ha is not None and wage is not None:
            total = total + tactic.hours_ha.draws(rng, n) * wage.draws(values.luck.of("wage"), n)
    return total


def _day(month_day: str) -> int:
    return (date(2001, int(month_day[:2]), int(month_day[3:])) - date(2001, 1, 1)).days + 1
