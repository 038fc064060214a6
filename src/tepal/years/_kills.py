"""What a season's tactics leave alive, cohort by cohort and genotype by genotype."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tepal.programme import Cultivation, Cut, Post, Pull, Residual, Season
from tepal.years._flushes import Flushes, day_of_year
from tepal.years._loci import Loci
from tepal.years._values import Values

FloatArray = npt.NDArray[np.float64]

# When it is done, as a share of the days to ripe seed.
_PULLED_BEFORE_SEED, _CUT_AT_FLOWERING = 0.9, 0.7
# Nothing taller is advised to be sprayed; a kill that nobody tells is meant for plants up to here.
GOOD_HEIGHT_CM = 10.0


@dataclass(frozen=True, slots=True, eq=False)
class Kill:
    """On a day, shape = (n, 1), this share is left alive, shape = (n, K, G) or with 1 where nothing differs."""

    day: FloatArray
    left: FloatArray


def kills_of(season: Season, values: Values, loci: Loci, up: Flushes) -> list[Kill]:
    """All that kills before seed is set, in the order of its days."""
    return sorted(_kills(season, values, loci, up), key=lambda kill: float(np.mean(kill.day)))


def _kills(season: Season, values: Values, loci: Loci, up: Flushes) -> Iterator[Kill]:
    for residual in season.residual:
        yield _after_residual(residual, values, loci, up)
    for number, post in enumerate(season.post):
        yield _after_post(post, number, values, loci, up)
    for cultivation in season.cultivate:
        yield _after_cultivation(cultivation, values, up)
    for number, pull in enumerate(season.pull):
        if pull.when != "after seed":
            day, reached = _pulled(pull, values, up)
            yield Kill(day, (1 - _share(pull, number, values) * reached)[:, :, None])
    for cut in season.cut:
        yield _after_cut(cut, values, up)


def standing(season: Season, values: Values, up: Flushes) -> FloatArray:
    """Of the plants that set seed, the share that still stands at harvest: (n, K)."""
    left = np.ones_like(up.share)
    for number, pull in enumerate(season.pull):
        if pull.when == "after seed":
            left = left * (1 - _share(pull, number, values))
    return left


def seed_after_cuts(season: Season, values: Values, up: Flushes) -> FloatArray:
    """Seed of a plant that lived through the cuts, against one that was not cut: (n, K)."""
    left = np.ones_like(up.share)
    for cut in season.cut:
        seed = _by_cut_height(cut, "regrowth_seed", values)[:, None]
        left = left * (1 - up.up(_cut_day(cut, values, up)) * (1 - seed))
    return left


def known_kill(spray: Residual | Post, group: str, values: Values) -> FloatArray | None:
    """The kill of susceptible plants that the programme tells for a group of this spraying, or None."""
    known = spray.kill.get(group) if isinstance(spray.kill, dict) else spray.kill
    name = "post_kills" if isinstance(spray, Post) else "residual_kills"
    return None if known is None else known.draws(values.luck.of(name, group), values.luck.size)


def usual_kill(group: str, season: Season, values: Values) -> FloatArray:
    """Share of susceptible plants that a group kills: as told for this season, else for another, else as published.

    The published kill is that of small plants, at its middle: a spray over tall ones, or doubt about how well it works
    on plants without the gene, shows in plants and seed, and does not mean that a site of action is lost.
    """
    sprays: list[Post | Residual] = []
    for each in (season, *values.programme.season):
        both: tuple[Post | Residual, ...] = (*each.post, *each.residual)
        sprays += [spray for spray in both if group in spray.groups]
    told = next((kill for spray in sprays if (kill := known_kill(spray, group, values)) is not None), None)
    if told is not None:
        return told
    if sprays and not any(isinstance(spray, Post) for spray in sprays):
        return np.full(values.luck.size, values.row("residual_kills", f"group_{group}", "").mean)
    height = f"{GOOD_HEIGHT_CM:.0f}_cm"
    return np.full(values.luck.size, values.row("post_kills", f"group_{group} {height}", f"any {height}").mean)


def _together(kills: list[FloatArray]) -> FloatArray:
    """Groups act independently: survivors are the product of the survivors of each."""
    left = kills[0]
    for each in kills[1:]:
        left = left * each
    return left


def _after_residual(residual: Residual, values: Values, loci: Loci, up: Flushes) -> Kill:
    left = []
    for group in residual.groups:
        known = known_kill(residual, group, values)
        left.append(loci.survive(group, values.kills_residual(group) if known is None else known))
    start = (up.planted + residual.days_after_planting)[:, None]
    end = start + values.here("residual_lasts_days", residual.lasts_days)[:, None]
    share = up.between(start, end)
    # Seedlings die of it as they come up, before any of them has cost yield.
    return Kill(np.full_like(start, -np.inf), 1 - share[:, :, None] * (1 - _together(left)[:, None, :]))


def _after_post(post: Post, number: int, values: Values, loci: Loci, up: Flushes) -> Kill:
    n = values.luck.size
    to_ten = values.published("days_to_10_cm")[:, None]
    wanted = None if post.height_cm is None else post.height_cm.draws(values.luck.of("post_height", number), n)[:, None]
    if post.days_after_planting is not None:
        day = (up.planted + post.days_after_planting)[:, None]
    else:
        assert wanted is not None  # the programme's reader asks for one of the two
        day = up.middle[:, :1] + to_ten * np.sqrt(wanted / 10)
    is_up = up.up(day)
    # A plant's height grows as the square of its age, and is 10 cm at the published age.
    height = 10 * (np.maximum(day - up.middle, 0.0) / to_ten) ** 2
    if wanted is not None:
        weight = up.share * is_up
        mean = (height * weight).sum(axis=1, keepdims=True) / np.maximum(weight.sum(axis=1, keepdims=True), 1e-300)
        height = np.where(mean > 0, height * np.divide(wanted, mean, out=np.ones_like(mean), where=mean > 0), wanted)
    left = []
    for group in post.groups:
        known = known_kill(post, group, values)
        kill = values.kills_post(group, height) if known is None else np.broadcast_to(known[:, None], height.shape)
        left.append(np.stack([loci.survive(group, kill[:, c]) for c in range(kill.shape[1])], axis=1))
    return Kill(day, 1 - is_up[:, :, None] * (1 - _together(left)))


def _after_cultivation(done: Cultivation, values: Values, up: Flushes) -> Kill:
    day = (up.planted + done.days_after_planting)[:, None]
    kill = values.here("cultivation_kills", done.kill, "under_8_cm")[:, None]
    return Kill(day, (1 - kill * up.up(day))[:, :, None])


def _share(pull: Pull, number: int, values: Values) -> FloatArray:
    return pull.share.draws(values.luck.of("pull", number), values.luck.size)[:, None]


def _pulled(pull: Pull, values: Values, up: Flushes) -> tuple[FloatArray, FloatArray]:
    """The day (n, 1), and the share of each cohort that is up by then (n, K)."""
    if pull.when == "before seed":  # crews come back until all are out
        ripe = values.published("days_to_ripe_seed")[:, None]
        return up.middle[:, :1] + _PULLED_BEFORE_SEED * ripe, np.ones_like(up.share)
    day = np.full((values.luck.size, 1), float(day_of_year(pull.when)))
    return day, up.up(day)


def _cut_day(cut: Cut, values: Values, up: Flushes) -> FloatArray:
    if cut.when != "flowering":
        return np.full((values.luck.size, 1), float(day_of_year(cut.when)))
    return np.asarray(up.middle[:, :1] + _CUT_AT_FLOWERING * values.published("days_to_ripe_seed")[:, None])


def _after_cut(cut: Cut, values: Values, up: Flushes) -> Kill:
    day = _cut_day(cut, values, up)
    live = _by_cut_height(cut, "cut_survives", values)[:, None]
    return Kill(day, (1 - up.up(day) * (1 - live))[:, :, None])


def _by_cut_height(cut: Cut, name: str, values: Values) -> FloatArray:
    """A published share by height of the cut: straight between the published heights, on the logit."""
    heights, shown = (0.0, 2.5, 15.0), ("soil_line", "2.5_cm", "15_cm")
    n = values.luck.size
    height = np.clip(cut.height_cm.draws(values.luck.of("cut_height"), n), 0.0, 15.0)
    # One luck for the three heights, so that a lower cut never leaves more.
    shares = np.stack([values.row(name, each).value().draws(values.luck.of(name), n) for each in shown])
    logits = np.log(shares / (1 - shares))
    right = np.clip(np.searchsorted(heights, height), 1, 2)
    low, high = np.take(heights, right - 1), np.take(heights, right)
    at = np.arange(n)
    logit = logits[right - 1, at] + (logits[right, at] - logits[right - 1, at]) * (height - low) / (high - low)
    return np.asarray(1 / (1 + np.exp(-logit)))
