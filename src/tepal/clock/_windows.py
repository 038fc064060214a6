"""Until when something can still be done in a field, and when to be back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import numpy as np

from tepal.clock._forecast import Event, Forecast
from tepal.clock._regrowth import Regrowth
from tepal.flora import CropRow
from tepal.tables import Refused


@dataclass(frozen=True, slots=True, eq=False)
class Window:
    """Something to do `until` an uncertain day, or `from` it on. Plan by the early one (10 %) either way.

    Names: `spray` (the tallest pass 10 cm), `cultivate` (the tallest pass 8 cm, or the crop stands too high), `pull`
    (viable seed), `next_flush`, `cut_again` (cut plants flower again), `crop_stage` (most labels end sprays over the
    crop), `cross_rows` and `harvest` (the crop's usual days, one date each: they are no forecast).
    """

    name: str
    kind: Literal["until", "from"]
    day: Event


def windows(
    found: Forecast, *, crop: CropRow | None = None, planted: date | None = None, regrowth: Regrowth | None = None
) -> tuple[Window, ...]:
    """The windows of a field, those that close first to last in a usual season.

    Parameters
    ----------
    crop
        Sets until when a machine or a person can pass; its days count from `planted`, which must then be given.
    regrowth
        Of plants that were cut: the dates of those that live.

    Raises
    ------
    Refused
        For a crop whose planting day is not known.
    """
    if crop is not None and planted is None:
        raise Refused(
            f"crop {crop.crop}", where="--crop", rule="What a crop stands is counted from its planting.",
            step="Give --planted too.",
        )  # fmt: skip

    def crop_day(after: float | None) -> date | None:
        return None if planted is None or after is None else planted + timedelta(days=after)

    def fixed(name: str, day: date) -> Event:
        return Event(name, np.full(found.event("flowers").days.shape, float((day - found.start).days)), found.start)

    tallest = found.event("tallest_8_cm")
    last_pass = None if crop is None else crop_day(crop.cultivate_days)
    if last_pass is not None:
        at_most = np.fmin(tallest.days, float((last_pass - found.start).days))
        tallest = Event("cultivate", at_most, found.start)
    made = [
        Window("cultivate", "until", tallest),
        Window("spray", "until", found.event("tallest_10_cm")),
        Window("next_flush", "from", found.next_flush),
        Window("pull", "until", found.event("viable_seed")),
    ]
    if regrowth is not None:
        made.append(Window("cut_again", "from", Event("cut_again", regrowth.flowers, found.start)))
    for name, kind, day in (
        ("crop_stage", "until", crop_day(crop.spray_days) if crop else None),
        ("cross_rows", "until", crop_day(crop.cross_days) if crop else None),
        ("harvest", "from", crop_day(crop.days_to_harvest) if crop else None),
    ):
        if day is not None and day.year == found.start.year:
            made.append(Window(name, kind, fixed(name, day)))  # type: ignore[arg-type]
    return tuple(made)
