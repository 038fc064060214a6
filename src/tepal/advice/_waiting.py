"""What a week of waiting costs, in seed that can grow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from tepal.advice._effort import Effort
from tepal.advice._fills import seeds, seeds_between
from tepal.doubt import Provenance, day_quantile
from tepal.words import Words

DAYS = 7
_EARLY, _LATE = 0.1, 0.9
# Below so many seeds a range is not worth a sentence.
_LEAST = 1.0


@dataclass(frozen=True, slots=True)
class Waiting:
    """Seed that ripens in the week from `start`; `seeds`: mean and 10, 50 and 90 % points of draws."""

    start: date
    today: bool
    seeds: Mapping[str, float]
    stands_on: Provenance

    def text(self, words: Words) -> str:
        low, high = self.seeds["q10"], self.seeds["q90"]
        day = words.day_month(self.start)
        if low < _LEAST:
            if self.today:
                return words.t(
                    "Waiting a week from today lets up to about {high} more seeds ripen, perhaps none yet.",
                    high=seeds(high, words),
                )
            return words.t(
                "Hardly any seed is ripe before {day}. Waiting a week from then lets up to about {high} seeds ripen, "
                "perhaps none yet.",
                day=day,
                high=seeds(high, words),
            )
        if self.today:
            return words.t(
                "Waiting a week from today lets about {range} more seeds ripen.", range=seeds_between(low, high, words)
            )
        return words.t(
            "Hardly any seed is ripe before {day}. Waiting a week from then lets about {range} seeds ripen.",
            day=day,
            range=seeds_between(low, high, words),
        )


def waiting(effort: Effort, as_of: date) -> Waiting | None:
    """The cost of a week's wait; None where numbers, heights or dates are not known, or no seed is to be feared.

    The week begins today where by its end seed can grow in a tenth of all futures; else on the early date of the first
    such seed. Seed that ripens = N x female share x seeds per female x lives x (r(start + 7) - r(start)), with r the
    share of the season's seed that is ripe.
    """
    days = effort.draws.get("viable_seed_day")
    if not effort.known or days is None:
        return None
    early = day_quantile(days, _EARLY, date(as_of.year, 1, 1))
    if early is None:
        return None
    today = early < as_of + timedelta(days=DAYS)
    start = as_of if today else early
    begins = float((start - date(as_of.year, 1, 1)).days)
    ripens = effort.season_seed() * (effort.ripe(begins + DAYS) - effort.ripe(begins))
    low, middle, high = (float(value) for value in np.quantile(ripens, (_EARLY, 0.5, _LATE)))
    if high < _LEAST:
        return None
    return Waiting(start, today, {"mean": float(ripens.mean()), "q10": low, "q50": middle, "q90": high}, effort.used)
