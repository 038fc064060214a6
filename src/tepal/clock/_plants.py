"""The plants of a field, day by day: when each comes up, grows, flowers and has viable seed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt

from tepal.clock._coming_up import STEPS, come_up, even
from tepal.clock._courses import APART, Courses
from tepal.clock._normal import normal_quantile
from tepal.clock._traits import Members, Published

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

# The day length at which the published times to flower from May and June were told: June at 41 degrees north.
_LONG_DAY_H = 15.0


@dataclass(frozen=True, slots=True, eq=False)
class Plants:
    """Virtual plants of every member, shape = (members, plants); a day is its index, `days` stands for never.

    `up`: the day it comes up. `weight`: how many seedlings it stands for; a member's weights sum to its season's
    emergence, 1 without a crop. `vigour`: its speed of growth relative to the member's. `frost`: the killing frost,
    shape = (members, 1). `worked`: the day on which the ground was worked over it. `to_flower`: how much photothermal
    progress the plant needs. `head`: growth degree days that a plant is ahead of its own weather (or, negative, behind
    it), 0 unless a sighting said so.
    """

    courses: Courses
    members: Members
    published: Published
    up: IntArray
    weight: FloatArray
    vigour: FloatArray
    frost: IntArray
    worked: IntArray
    to_flower: FloatArray
    head: FloatArray

    @property
    def days(self) -> int:
        return self.courses.season.days

    @property
    def standing(self) -> FloatArray:
        """The weights of the plants that no working of the ground has killed by the as-of date, 0 for the others."""
        return np.where(self.worked < self.days, 0.0, self.weight)

    def alive(self, day: int) -> BoolArray:
        """Which plants stand at the end of a day: up, not worked under, not frozen."""
        return np.asarray((self.up <= day) & (day < self.frost) & (day < self.worked))

    def there(self, day: int) -> BoolArray:
        """Which plants can be met at the end of a day: up, not worked under; those that frost killed still stand."""
        return np.asarray((self.up <= day) & (day < self.worked))

    def age_dd(self, day: int) -> FloatArray:
        """Growth degree days from coming up to the end of a day or to the frost, weighed by vigour; negative before."""
        sums = self.courses.growth[self.members.future]
        at_up = np.take_along_axis(sums, np.minimum(self.up, self.days - 1), axis=1)
        now = np.take_along_axis(sums, np.minimum(day, self.frost - 1), axis=1)
        return np.asarray((now - at_up) * self.vigour + self.head)

    def stalk_cm(self, day: int) -> FloatArray:
        """Height of each plant at the end of a day, or as frost left it; 0 where it is not there."""
        return np.where(self.there(day), height_at(np.maximum(self.age_dd(day), 0.0), self.members), 0.0)

    def height_cm(self, day: int) -> FloatArray:
        """Height of each plant at the end of a day; 0 where it is not up yet or dead."""
        return np.where(self.alive(day), self.stalk_cm(day), 0.0)

    def reach_height(self, height_cm: float) -> IntArray:
        """The day on which each plant reaches a height."""
        need = np.where(
            self.members.of("final_height_cm") >= height_cm, age_at(height_cm, self.members) - self.head, 2 * APART
        )
        found = self._first(self.courses.growth, self.members.future[:, None], self.up, need / self.vigour)
        # With a head start the sum was reached before the plant was up.
        return np.maximum(found, self.up)

    def progress(self) -> FloatArray:
        """Progress to the first flower, summed over days, shape = (members, days); at 1 an average plant flowers.

        Each day gives its degree days over the need at its day length D: the short-day need, plus the rest of the
        long-day need times f(D)/f(15 h), at most 1, with f(D) = 1/(1 + exp((threshold - D)/width)). A facultative
        short-day plant flowers in any case, and sooner as days shorten. The long-day need was told of days of some 15
        hours, so it holds there whatever the threshold: else the doubt of the threshold would count twice.
        """
        courses, members, width = self.courses, self.members, self.published.fixed["day_length_width_h"]
        threshold = members.of("day_length_threshold_h")
        long_days = (1 + np.exp((threshold - _LONG_DAY_H) / width)) / (1 + np.exp((threshold - courses.hours) / width))
        short, full = members.of("flower_dd", "short_days"), members.of("flower_dd", "long_days")
        need = short + np.maximum(full - short, 0.0) * np.minimum(long_days, 1.0)
        return np.cumsum(courses.toward_flower[members.future] / need, axis=1)

    def flower(self) -> IntArray:
        """The day on which each plant shows its first flower."""
        rows = np.arange(len(self.members))[:, None]
        return self._first(self.progress(), rows, self.up, self.to_flower)

    def viable_seed(self, flower: IntArray) -> IntArray:
        """The day on which each plant has its first viable seed."""
        need = np.broadcast_to(self.members.of("flower_to_seed_days"), flower.shape)
        return self._first(self.courses.ripening, self.members.future[:, None], flower, need)

    def _first(self, sums: FloatArray, row: IntArray, since: IntArray, need: FloatArray) -> IntArray:
        """The first day on which `sums` has risen by `need` since a day; never after the plant's death."""
        days = sums.shape[1]
        flat = sums + APART * np.arange(sums.shape[0])[:, None]
        start = np.take(flat, row * days + np.minimum(since, days - 1))
        found = np.searchsorted(flat.ravel(), start + need) - row * days
        return np.asarray(np.where((since >= days) | (found >= np.minimum(self.frost, self.worked)), days, found))


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
    tilled: Sequence[int] = (), rng: np.random.Generator,
) -> Plants:  # fmt: skip
    """The plants of each member from the day they come up. See `Plants`. `tilled`: days, in order."""
    days = courses.season.days
    up, weight = come_up(courses, members, plants=plants, tilled=tilled, rng=rng)
    frost = _killing_frost(courses, members)
    up = np.where(up >= frost, days, up)
    worked = np.full(up.shape, days)
    for day in reversed(tilled):
        worked = np.where(up <= day, day, worked)
    vigour = np.exp(published.fixed["plant_growth_spread"] * normal_quantile(even(rng, STEPS[1], len(members), plants)))
    weights = np.broadcast_to(weight, up.shape)
    if planted is not None:
        cover = _crop_cover(courses, members, published, planted, up)
        weights = weights * (1 - members.of("canopy_emergence_cut") * cover)
        vigour = vigour * (1 - members.of("canopy_height_cut") * cover)
    spread = published.fixed["plant_flower_spread"] * normal_quantile(even(rng, STEPS[2], len(members), plants))
    return Plants(
        courses,
        members,
        published,
        up,
        weights,
        vigour,
        frost,
        worked,
        np.exp(spread),
        np.zeros(up.shape),
    )


def _killing_frost(courses: Courses, members: Members) -> IntArray:
    days = courses.season.days
    flat = -np.maximum(np.minimum(courses.coldest, 1e3), -1e3) + APART * np.arange(courses.season.futures)[:, None]
    row = members.future[:, None]
    found = np.searchsorted(flat.ravel(), -members.of("frost_kill_c") + APART * row) - row * days
    return np.asarray(np.minimum(found, days))


def _crop_cover(courses: Courses, members: Members, published: Published, planted: date, up: IntArray) -> FloatArray:
    """Share of the ground that the crop covers on the day each plant comes up, 0 before planting."""
    at = courses.season.index(planted)
    sums = courses.growth[members.future]
    before = sums[:, at - 1 : at] if 0 < at <= courses.season.days else np.zeros((len(members), 1))
    at_up = np.take_along_axis(sums, np.minimum(up, courses.season.days - 1), axis=1)
    cover = 1 / (1 + np.exp((members.of("canopy_half_dd") - (at_up - before)) / published.fixed["canopy_width_dd"]))
    return np.asarray(np.where(up >= at, cover, 0.0))
