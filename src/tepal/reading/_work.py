"""What pulling and cutting have taken away since the plants were counted."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from tepal.flora import Flora
from tepal.ledger import Done, Entry, Plant, Stop, Walk, event_date

FloatArray = npt.NDArray[np.float64]

# Counts made within so many days of the last ones are one visit: plants come up and die between visits (judgement).
ONE_VISIT = timedelta(days=10)
_TALL_CM = 60.0
_CONTROL = ("pulled", "bagged", "cut", "mowed", "cultivated", "sprayed")
# A blade at least this high leaves a stub as in the trial at 15 cm; below the lower one it cuts at the soil line.
_LOW_CUT_CM, _HIGH_CUT_CM = 1.0, 8.0


def since_control(season: Sequence[Entry], *, by_a_plant: bool = False) -> list[Entry]:
    """The season's entries without what was seen before the last piece of work that somebody has looked at since.

    A revisit after pulling, cutting, mowing, cultivating or spraying tells of the stand that is left; what stood there
    before no longer does. Without a revisit all of them are kept. `by_a_plant`: a plant that was measured by eye is a
    revisit too. It tells how far the stand is, and not how many there are: where stops or walks were made their counts
    are not given up for it.
    """
    worked = [event_date(e) for e in season if isinstance(e.body, Done) and e.body.what in _CONTROL]
    seen = [event_date(e) for e in season if isinstance(e.body, (Stop, Walk))]
    if by_a_plant or not seen:
        seen += [event_date(e) for e in season if _measured(e)]
    revisited = [day for day in worked if seen and max(seen) > day]
    if not revisited:
        return list(season)
    last = max(revisited)
    return [e for e in season if not isinstance(e.body, (Stop, Walk, Plant)) or event_date(e) > last]


def _measured(entry: Entry) -> bool:
    return isinstance(entry.body, Plant) and entry.body.seen_by == "eye" and entry.body.height_cm is not None


def left_after_work(
    entries: Sequence[Entry], as_of: date, total: FloatArray, flora: Flora, rng: np.random.Generator
) -> FloatArray | None:
    """Draws of the plants left, shape = (n,); None where nothing was pulled, bagged or cut since the last visit.

    Each piece of work reaches a share of the plants (as told; from the number told; else what a crew usually finds) and
    kills a share of those it reaches (published, with its doubt). Spraying and mowing are not counted: what they left
    has to be looked at.
    """
    season = [e for e in entries if event_date(e).year == as_of.year]
    # The number is that of stops or walks where there are any; a plant looked at since does not count anew.
    counted = [event_date(e) for e in season if isinstance(e.body, (Stop, Walk))]
    last = max(counted or [event_date(e) for e in season if isinstance(e.body, Plant)], default=date.min)
    work = [
        entry.body
        for entry in entries
        if isinstance(entry.body, Done)
        and entry.body.what in ("pulled", "bagged", "cut")
        and last <= event_date(entry) <= as_of
    ]
    if not work:
        return None
    left = np.round(total)
    for body in work:
        reached = _reached(body, left, flora, rng)
        dies = np.clip(reached * _kills(body, left.size, flora, rng), 0.0, 1.0)
        left = rng.binomial(left.astype(np.int64), 1 - dies).astype(np.float64)
    return left


def _reached(body: Done, total: FloatArray, flora: Flora, rng: np.random.Generator) -> FloatArray:
    if body.share is not None:
        return np.full(total.size, body.share)
    if body.plants is not None:
        return np.minimum(body.plants / np.maximum(total, 1.0), 1.0)
    return flora.parameter("crew_finds", "*").value().draws(rng, total.size)


def _kills(body: Done, n: int, flora: Flora, rng: np.random.Generator) -> FloatArray:
    if body.what == "cut":
        height = body.cut_height_cm if body.cut_height_cm is not None else _LOW_CUT_CM
        at = "soil_line" if height <= _LOW_CUT_CM else "2.5_cm" if height < _HIGH_CUT_CM else "15_cm"
        return 1 - flora.parameter("cut_survives", "*", at).value().draws(rng, n)
    tall = body.tallest_cm is not None and body.tallest_cm > _TALL_CM
    return flora.parameter("pull_works", "*", "over_60_cm" if tall else "under_60_cm").value().draws(rng, n)
