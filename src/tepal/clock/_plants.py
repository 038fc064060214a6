"""The plants of a field, day by day: when each comes up, grows, flowers and has viable seed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri

from tepal.clock._day_length import day_length_h
from tepal.clock._degree_days import degree_days
from tepal.clock._season import Season
from tepal.clock._traits import Members, Published

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

_FROST_FROM_DAY = 200  # before mid July a frost is one of spring, and later seedlings replace those it kills
_RAIN_DAYS = 3
# Seed ripens at no less and no more than these parts of its reference speed (judgement).
_RIPENING_SPEED = (0.2, 1.2)
# Larger than any running sum of one future or member, so that one sorted search can serve all of them.
_APART = 1e5
# Irrational steps, unrelated to each other: multiples of each fill (0, 1) evenly (Weyl), and no plant is fast in one
# thing because it is fast in another.
_STEPS = (0.6180339887498949, 0.41421356237309515, 0.7320508075688772)


@dataclass(frozen=True, slots=True, eq=False)
class Courses:
    """What a season's weather means for plants, per future and day, shape = (futures, days) unless said otherwise.

    `germination` and `growth`: degree days summed from the biofix and from 1 January. `toward_flower`: degree days of
    each day, by the upper threshold of flowering. `ripening`: days of seed
    ripening at the reference warmth, summed. `wet_from`: index of the first day from this one on when the ground is
    wet (days: never), one column more than days. `coldest`: lowest temperature since mid July. `hours`: day length,
    shape = (days,).
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
            degree_days(low, high, lower_c=fixed["growth_base_c"], upper_c=fixed["flower_upper_c"]),
            np.cumsum(daily, axis=1),
            np.cumsum(np.clip(daily / fixed["seed_ripening_dd"], *_RIPENING_SPEED), axis=1),
            _wet_from(season.prcp_mm, fixed["rain_that_wets_mm"]),
            coldest,
            day_length_h(season.lat, np.arange(1.0, season.days + 1)),
        )


@dataclass(frozen=True, slots=True, eq=False)
class Plants:
    """Virtual plants of every member, shape = (members, plants); a day is its index, `days` stands for never.

    `up`: the day it comes up. `weight`: how many seedlings it stands for; a member's weights sum to its season's
    emergence, 1 without a crop. `vigour`: its speed of growth relative to the member's. `dies`: the killing frost,
    shape = (members, 1). `progress`: photothermal progress to flowering, summed, shape = (members, days). `to_flower`:
    how much of it the plant needs. `head`: growth degree days that a plant is ahead of (or, negative, behind) its own
    weather, 0 unless a sighting said so.
    """

    courses: Courses
    members: Members
    up: IntArray
    weight: FloatArray
    vigour: FloatArray
    dies: IntArray
    progress: FloatArray
    to_flower: FloatArray
    head: FloatArray

    @property
    def days(self) -> int:
        return self.courses.season.days

    def age_dd(self, day: int) -> FloatArray:
        """Growth degree days since coming up at the end of a day, weighed by vigour; negative where not up yet."""
        sums = self.courses.growth[self.members.future]
        at_up = np.take_along_axis(sums, np.minimum(self.up, self.days - 1), axis=1)
        return np.asarray((sums[:, day : day + 1] - at_up) * self.vigour + self.head)

    def height_cm(self, day: int) -> FloatArray:
        """Height of each plant at the end of a day; 0 where it is not up yet or frost has killed it."""
        alive = (self.up <= day) & (day < self.dies)
        return np.where(alive, height_at(np.maximum(self.age_dd(day), 0.0), self.members), 0.0)

    def reach_height(self, height_cm: float) -> IntArray:
        """The day on which each plant reaches a height."""
        need = np.where(
            self.members.of("final_height_cm") >= height_cm, age_at(height_cm, self.members) - self.head, 2 * _APART
        )
        found = self._first(self.courses.growth, self.members.future[:, None], self.up, need / self.vigour)
        # With a head start the sum was reached before the plant was up.
        return np.maximum(found, self.up)

    def flower(self) -> IntArray:
        """The day on which each plant shows its first flower."""
        rows = np.arange(len(self.members))[:, None]
        return self._first(self.progress, rows, self.up, self.to_flower)

    def viable_seed(self, flower: IntArray) -> IntArray:
        """The day on which each plant has its first viable seed."""
        need = np.broadcast_to(self.members.of("flower_to_seed_days"), flower.shape)
        return self._first(self.courses.ripening, self.members.future[:, None], flower, need)

    def _first(self, sums: FloatArray, row: IntArray, since: IntArray, need: FloatArray) -> IntArray:
        """The first day on which `sums` has risen by `need` since a day; never after the killing frost."""
        days = sums.shape[1]
        flat = sums + _APART * np.arange(sums.shape[0])[:, None]
        start = np.take(flat, row * days + np.minimum(since, days - 1))
        found = np.searchsorted(flat.ravel(), start + need) - row * days
        return np.asarray(np.where((since >= days) | (found >= self.dies), days, found))


def height_at(age_dd: FloatArray, members: Members) -> FloatArray:
    """Height (cm) at an age in growth degree days.

    h = 10 (a/A)^p up to 10 cm, with p such that h = 5 at the published share of A; then 10 + r (a - A), to at most the
    final height. A = dd_to_10_cm and r = height_rate, both sped up by growth_site.
    """
    site, need = members.of("growth_site"), members.of("dd_to_10_cm")
    scaled = age_dd * site
    bend = np.log(0.5) / np.log(members.of("dd_share_at_5_cm"))
    young = 10 * np.minimum(scaled / need, 1.0) ** bend
    older = members.of("height_rate") * np.maximum(scaled - need, 0.0)
    return np.asarray(np.minimum(young + older, members.of("final_height_cm")))


def age_at(height_cm: FloatArray | float, members: Members) -> FloatArray:
    """The inverse of `height_at`, the final height left out; shape = that of the heights set against the members."""
    site, need = members.of("growth_site"), members.of("dd_to_10_cm")
    bend = np.log(0.5) / np.log(members.of("dd_share_at_5_cm"))
    young = need * (np.minimum(height_cm, 10.0) / 10) ** (1 / bend)
    older = np.maximum(np.asarray(height_cm) - 10.0, 0.0) / members.of("height_rate")
    return np.asarray((young + older) / site)


def grow(
    courses: Courses, members: Members, published: Published, *, plants: int, planted: date | None,
    rng: np.random.Generator,
) -> Plants:  # fmt: skip
    """The plants of each member from the day they come up. See `Plants`."""
    shares, weight = _ranks(plants)
    days = courses.season.days
    degree = emergence_dd(shares, members) * members.of("emergence_site_year")
    flat = courses.germination + _APART * np.arange(courses.season.futures)[:, None]
    row = members.future[:, None]
    ripe = np.minimum(np.searchsorted(flat.ravel(), degree + _APART * row) - row * days, days)
    up = ripe
    if courses.wet_from is not None:
        # Waiting plants come up one by one all the same: dew, depth and luck differ (exponential).
        patience = members.of("rain_wait_days") * -np.log1p(-_even(rng, _STEPS[0], len(members), plants))
        wet = courses.wet_from[row, ripe]
        up = np.minimum(np.minimum(wet, ripe + np.floor(patience).astype(np.int64)), days)
    dies = _killing_frost(courses, members)
    up = np.where(up >= dies, days, up)
    vigour = np.exp(published.fixed["plant_growth_spread"] * ndtri(_even(rng, _STEPS[1], len(members), plants)))
    weights = np.broadcast_to(weight, up.shape)
    if planted is not None:
        cover = _crop_cover(courses, members, published, planted, up)
        weights = weights * (1 - members.of("canopy_emergence_cut") * cover)
        vigour = vigour * (1 - members.of("canopy_height_cut") * cover)
    spread = published.fixed["plant_flower_spread"] * ndtri(_even(rng, _STEPS[2], len(members), plants))
    return Plants(
        courses,
        members,
        up,
        weights,
        vigour,
        dies,
        _flower_progress(courses, members, published),
        np.exp(spread),
        np.zeros(up.shape),
    )


def emergence_dd(share: FloatArray, members: Members) -> FloatArray:
    """Degree days by which a share of the season's seedlings is ripe to come up, shape = (members, shares).

    Log-logistic through the published 10, 50 and 90 %: ln d = ln d50 + logit(share)/b, with b of the lower or the
    upper half.
    """
    low, mid, high = (np.log(members.of("emergence_dd", f"{p}_percent")) for p in (10, 50, 90))
    logit = np.log(share / (1 - share))
    return np.asarray(np.exp(mid + logit / np.log(9) * np.where(logit < 0, mid - low, high - mid)))


def _ranks(plants: int) -> tuple[FloatArray, FloatArray]:
    """Ranks of the plants among the season's seedlings, and what each stands for.

    Close together at both ends: the events turn on the earliest plants, the end of emergence on the latest.
    """
    at = np.arange(2 * plants + 1) / (2 * plants)
    share = np.sin(np.pi / 2 * at) ** 2
    return share[1::2], np.diff(share[::2])


def _even(rng: np.random.Generator, step: float, rows: int, columns: int) -> FloatArray:
    """Numbers in (0, 1), even along a row whatever part of it is taken; each row starts elsewhere."""
    return np.clip((rng.random((rows, 1)) + step * np.arange(columns)) % 1.0, 1e-6, 1 - 1e-6)


def _killing_frost(courses: Courses, members: Members) -> IntArray:
    days = courses.season.days
    flat = -np.maximum(np.minimum(courses.coldest, 1e3), -1e3) + _APART * np.arange(courses.season.futures)[:, None]
    row = members.future[:, None]
    found = np.searchsorted(flat.ravel(), -members.of("frost_kill_c") + _APART * row) - row * days
    return np.asarray(np.minimum(found, days))


def _flower_progress(courses: Courses, members: Members, published: Published) -> FloatArray:
    """Progress to the first flower, summed over days, shape = (members, days); a plant of average need flowers at 1.

    Each day gives its degree days over the need at its day length: the short-day need, plus the rest of the long-day
    need times 1/(1 + exp((threshold - day length)/width)). A facultative short-day plant flowers in any case, and
    sooner as days shorten.
    """
    hours, width = courses.hours[None, :], published.fixed["day_length_width_h"]
    long_days = 1 / (1 + np.exp((members.of("day_length_threshold_h") - hours) / width))
    short, full = members.of("flower_dd", "short_days"), members.of("flower_dd", "long_days")
    need = short + np.maximum(full - short, 0.0) * long_days
    return np.cumsum(courses.toward_flower[members.future] / need, axis=1)


def _crop_cover(courses: Courses, members: Members, published: Published, planted: date, up: IntArray) -> FloatArray:
    """Share of the ground that the crop covers on the day each plant comes up, 0 before planting."""
    at = courses.season.index(planted)
    sums = courses.growth[members.future]
    before = sums[:, at - 1 : at] if 0 < at <= courses.season.days else np.zeros((len(members), 1))
    at_up = np.take_along_axis(sums, np.minimum(up, courses.season.days - 1), axis=1)
    cover = 1 / (1 + np.exp((members.of("canopy_half_dd") - (at_up - before)) / published.fixed["canopy_width_dd"]))
    return np.asarray(np.where(up >= at, cover, 0.0))


def _wet_from(rain: FloatArray | None, enough_mm: float) -> IntArray | None:
    if rain is None:
        return None
    days = rain.shape[1]
    padded = np.concatenate([np.zeros((rain.shape[0], _RAIN_DAYS)), np.cumsum(rain, axis=1)], axis=1)
    wet = padded[:, _RAIN_DAYS:] - padded[:, :-_RAIN_DAYS] >= enough_mm
    first = np.where(wet, np.arange(days), days)
    first = np.minimum.accumulate(first[:, ::-1], axis=1)[:, ::-1]
    return np.concatenate([first, np.full((rain.shape[0], 1), days)], axis=1)
