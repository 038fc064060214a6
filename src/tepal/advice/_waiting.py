"""What a week of waiting costs, in seed that can grow."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import numpy as np

from tepal.advice._effort import Effort
from tepal.advice._fills import seeds, seeds_between
from tepal.doubt import Provenance, day_quantile
from tepal.words import Words

DAYS = 7
_EARLY, _LATE = 0.1, 0.9
# Below so many seeds a range is not worth a sentence.
_LEAST = 1.0
# A range wider than this either way is told as a factor.
_READABLE = 4.0


# From this share of ripe seed on there is little left to ripen: what counts then is what falls.
_RIPE = 0.8

When = Literal["later", "now", "ripe"]


@dataclass(frozen=True, slots=True)
class Waiting:
    """What a week costs. `when`: `later`, a week from the day on which the first seed can grow, which is `start` at the
    earliest; `now`, the week from today; `ripe`, most seed can grow already and `seeds` are those on the plants.

    `seeds`: mean and 10, 50 and 90 % points of draws.
    """

    start: date
    when: When
    seeds: Mapping[str, float]
    stands_on: Provenance

    def text(self, words: Words) -> str:
        low, middle, high = (self.seeds[key] for key in ("q10", "q50", "q90"))
        if self.when == "ripe":
            told = words.t(
                "Most of the seed can grow by now: something like {middle} seeds. Each day some of it falls.",
                middle=seeds(max(middle, _LEAST), words),
            )
            return f"{told} {_rough(low, high, words)}"
        if self.when == "later":
            told = words.t(
                "No seed is likely to be ripe before {day}. From the first ripe seed on, each week of waiting lets "
                "something like {middle} seeds ripen.",
                day=words.day_month(self.start), middle=seeds(max(middle, _LEAST), words),
            )  # fmt: skip
            return f"{told} {_rough(low, high, words)}"
        if low >= _LEAST:
            told = words.t("Waiting a week from today lets something like {middle} more seeds ripen.",
                           middle=seeds(middle, words))  # fmt: skip
            return f"{told} {_rough(low, high, words)}"
        if middle >= _LEAST:
            return words.t(
                "Waiting a week from today lets something like {middle} more seeds ripen: perhaps none yet, perhaps "
                "{high}.",
                middle=seeds(middle, words), high=seeds(high, words),
            )  # fmt: skip
        return words.t(
            "Waiting a week from today lets none ripen, more likely than not; but it may be as many as {high} seeds.",
            high=seeds(high, words),
        )


def _rough(low: float, high: float, words: Words) -> str:
    """How rough a number of seeds is: its two ends; where they lie too far apart to mean anything, a factor."""
    if low < _LEAST:
        return words.t("It may be none at all, or as many as {high}.", high=seeds(high, words))
    times = math.sqrt(high / low)
    if times <= _READABLE:
        return words.t("It may be {range}.", range=seeds_between(low, high, words))
    # One digit: a factor of doubt is itself no measurement.
    digits = 10.0 ** math.floor(math.log10(times))
    return words.t(
        "That is rough: {times} times more or less would be no surprise.",
        times=words.about(round(times / digits) * digits),
    )


def waiting(effort: Effort, as_of: date) -> Waiting | None:
    """The cost of a week's wait; None where numbers, heights or dates are not known, or no seed is to be feared.

    Where seed can grow in a tenth of all futures by the end of the week, it is the week from today: S (r(t + 7) -
    r(t)), with S = N x female share x seeds per female x lives and r the share of the season's seed that is ripe; where
    most of it is ripe, S r(t) itself. Else it is a week from the first ripe seed: S min(7 / fill, 1), in the futures in
    which seed ripens at all.
    """
    days = effort.draws.get("viable_seed_day")
    if not effort.known or days is None:
        return None
    early = day_quantile(days, _EARLY, date(as_of.year, 1, 1))
    if early is None:
        return None
    whole, ripe = effort.season_seed(), effort.ripe()
    when: When
    if float(np.median(ripe)) >= _RIPE:
        when, cost = "ripe", whole * ripe
    elif early < as_of + timedelta(days=DAYS):
        when, cost = "now", whole * (effort.ripe(effort.day + DAYS) - ripe)
    else:
        ends = np.isfinite(days)
        when, cost = "later", (whole * np.minimum(DAYS / effort.parameter("seed_fill_days"), 1.0))[ends]
    low, middle, high = (float(value) for value in np.quantile(cost, (_EARLY, 0.5, _LATE)))
    if high < _LEAST:
        return None
    start = early if when == "later" else as_of
    return Waiting(start, when, {"mean": float(cost.mean()), "q10": low, "q50": middle, "q90": high}, effort.used)
