"""Several sightings of one day as one: they are looks at the same stand, not new ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from datetime import date

import numpy as np

from tepal.clock._sighting import STAGES, Sighting


def by_day(seen: Sequence[Sighting]) -> tuple[Sighting, ...]:
    """One sighting a day, in order of the days; a sighting given twice counts once.

    Of the tallest the tallest counts, of the usual ones the middle (geometric mean), of stages the most advanced. What
    one of them saw is there, though others did not meet it.
    """
    days: dict[date, list[Sighting]] = {}
    for sighting in seen:
        known = days.setdefault(sighting.on, [])
        if sighting not in known:
            known.append(sighting)
    return tuple(many[0] if len(many) == 1 else _one(on, many) for on, many in sorted(days.items()))


def _one(on: date, many: Sequence[Sighting]) -> Sighting:
    told = {f.name: [v for one in many if (v := getattr(one, f.name)) is not None] for f in fields(Sighting)}
    usual = [height for height in told["typical_cm"] if height > 0]
    # Where one has usual plants taller than another's tallest, the tallest of all are at least as tall.
    tallest = max([*told["height_cm"], *usual]) if told["height_cm"] else None
    stage = max(told["stage"], key=STAGES.index, default=None)
    flowering, dark = (any(told[name]) if told[name] else None for name in ("flowering", "seed_dark"))
    up = bool(tallest or usual or stage or flowering or dark or False in told["none_up"])
    return Sighting(
        on,
        height_cm=tallest,
        typical_cm=float(np.exp(np.mean(np.log(usual)))) if usual else None,
        stage=stage,
        flowering=flowering,
        seed_dark=dark,
        none_up=not up if told["none_up"] else None,
    )
