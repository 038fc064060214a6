"""When no field of the model looks like what was seen: the plants are moved until they do."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from tepal.clock._courses import APART
from tepal.clock._plants import Plants, age_at
from tepal.clock._share import upper_point
from tepal.clock._sighting import (
    DARK_AFTER_DAYS,
    DAY_ERROR,
    OVERLOOKED_CM,
    OVERLOOKED_SHARE,
    STAGE_AGE_DD,
    STAGE_AGE_SD,
    TALLEST_SHARE,
    Sighting,
)
from tepal.clock._traits import Published

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# A member within so many reading errors of the sighting is left as it is.
_NEAR = 2.0
# A plant no taller than this is young: held back, it would not flower at such a height in the days of early summer.
_YOUNG_CM = 10.0


def believe(plants: Plants, sighting: Sighting, published: Published, rng: np.random.Generator) -> Plants:
    """Plants whose tallest stand as they were seen; only members that are far from it are moved.

    What is up by that day gets a head start in growth degree days, or a delay, so that the tallest one in twenty has
    the height that was seen, with its reading error anew in each member. Such plants are as old as they are tall: on
    their way to the flower they are as far ahead, or behind. But plants over 10 cm that are behind may be young or held
    back, by a spray or by drought, and nobody knows which: there any part of the delay counts. Where nothing is up, all
    plants come up so much earlier that the first one is; where none was seen, so much later. Speeds and later seedlings
    stay the model's: nothing was seen of them, and their doubt stays whole.
    """
    day, error = plants.courses.season.index(sighting.on), published.fixed["tallest_reading_error"]
    height = sighting.height_cm
    if sighting.nothing_up:
        return _none_yet(plants, day)
    if height is None:
        return plants
    moved = _up_by(plants, day)
    is_up = moved.there(day)
    top = upper_point(moved.stalk_cm(day), moved.weight, is_up, TALLEST_SHARE)
    seen = height * np.exp(error * rng.standard_normal(top.size))
    far = np.abs(np.log((np.maximum(top, 0.0) + 0.5) / (height + 0.5))) > _NEAR * error
    far &= is_up.any(axis=1)
    age = upper_point(moved.age_dd(day), moved.weight, is_up, TALLEST_SHARE)
    # Young plants are old enough for a height below 1 cm at once; a final height below what was seen gives way too.
    head = np.where(far, age_at(seen[:, None], moved.members)[:, 0] - age, 0.0)
    moved = replace(moved, head=np.where(is_up, head[:, None], 0.0))
    if not moved.head.any():
        return moved
    young = np.where((head < 0) & (height > _YOUNG_CM), rng.random(head.size), 1.0)
    return replace(moved, to_flower=_as_old_as_tall(moved, young[:, None]))


def believe_flowers(plants: Plants, sighting: Sighting, rng: np.random.Generator) -> Plants:
    """Plants that flower, or do not yet, as they were seen; only members that are far from it are moved.

    The plants that were there need so much less, or more, of their way to the first flower that the most advanced, one
    in twenty, came to it about that day. Dark seed counts as flowers so many days before as it takes.
    """
    day, flowering = plants.courses.season.index(sighting.on), sighting.in_flower
    if sighting.with_dark_seed:
        ripe = DARK_AFTER_DAYS + float(np.median(plants.members.of("flower_to_seed_days")))
        day, flowering = max(day - round(ripe), 1), True
    if flowering is None:
        return plants
    moved = _up_by(plants, day) if flowering else plants
    progress, is_up = moved.progress(), moved.there(day)
    at_up = np.take_along_axis(progress, np.minimum(moved.up, moved.days - 1), axis=1)
    lead = upper_point(progress[:, day : day + 1] - at_up - moved.to_flower, moved.weight, is_up, TALLEST_SHARE)
    error = DAY_ERROR * (progress[:, day] - progress[:, day - 1])
    far = is_up.any(axis=1) & (lead < -_NEAR * error if flowering else lead > _NEAR * error)
    off = np.where(far, lead + error * rng.standard_normal(lead.size), 0.0)
    return replace(moved, to_flower=np.where(is_up, np.maximum(moved.to_flower + off[:, None], 0.0), moved.to_flower))


def believe_stage(plants: Plants, sighting: Sighting, rng: np.random.Generator) -> Plants:
    """Plants no older than the stage of the most advanced: what was up by that day has so much longer to its flower.

    Else a seedling could be an old plant that hardly grew, about to flower at a hand's breadth. Heights, dates of
    coming up and plants still to come stay the model's.
    """
    oldest = STAGE_AGE_DD.get(sighting.stage or "")
    if oldest is None:
        return plants
    day = plants.courses.season.index(sighting.on)
    limit = oldest * np.exp(STAGE_AGE_SD * rng.standard_normal(len(plants.members)))
    growth = plants.courses.growth[plants.members.future]
    young = np.broadcast_to((growth[:, day] - limit)[:, None], plants.up.shape)
    later = np.where(plants.there(day), np.maximum(_day_of_warmth(plants, young), plants.up), plants.up)
    return replace(plants, to_flower=plants.to_flower + _progress_between(plants, plants.up, later))


def believe_none_tall(plants: Plants, sighting: Sighting) -> Plants:
    """Plants of which none stood taller, where none was seen, than can be overlooked; those that did come up that day.

    They are the first few of a season's thousands, hence any number of them is possible by what was seen; but dates of
    "a tenth of the plants then up" turn on them.
    """
    day = plants.courses.season.index(sighting.on)
    return replace(plants, up=np.where(plants.stalk_cm(day) > OVERLOOKED_CM, day, plants.up))


def _as_old_as_tall(plants: Plants, part: FloatArray) -> FloatArray:
    """The way to the first flower that is left to plants with a head start: less by what they went before.

    `part`: how much of the head start, or of the delay, is age; shape = (members, 1).
    """
    growth = plants.courses.growth[plants.members.future]
    at_up = np.minimum(plants.up, plants.days - 1)
    warmth = np.take_along_axis(growth, at_up, axis=1) - part * plants.head / plants.vigour
    born = np.where(plants.head == 0, at_up, _day_of_warmth(plants, warmth))
    return np.asarray(np.maximum(plants.to_flower + _progress_between(plants, plants.up, born), 0.0))


def _day_of_warmth(plants: Plants, sums: FloatArray) -> IntArray:
    """The day on which a member's growth degree days from 1 January reach each of its sums, shape = that of `sums`."""
    days, row = plants.days, np.arange(len(plants.members))[:, None]
    flat = (plants.courses.growth[plants.members.future] + APART * row).ravel()
    found = np.searchsorted(flat, np.maximum(sums, 0.0) + APART * row) - days * row
    return np.asarray(np.clip(found, 0, days - 1))


def _progress_between(plants: Plants, first: IntArray, last: IntArray) -> FloatArray:
    """Progress to the flower from one day of each plant to another; negative where the other comes first."""
    progress, end = plants.progress(), plants.days - 1
    at_last, at_first = (np.take_along_axis(progress, np.minimum(day, end), axis=1) for day in (last, first))
    return np.asarray(at_last - at_first)


def _up_by(plants: Plants, day: int) -> Plants:
    """Members with nothing up on a day come up so much earlier that the first plant is."""
    to_come = plants.worked > day
    first = np.where(to_come, plants.up, plants.days).min(axis=1, keepdims=True)
    late = np.where(to_come & (plants.up < plants.days), np.maximum(first - day, 0), 0)
    return replace(plants, up=np.maximum(plants.up - late, 0))


def _none_yet(plants: Plants, day: int) -> Plants:
    """Members with more than a few plants up by a day come up so much later that the first is up the day after."""
    alive = plants.alive(day)
    too_many = np.where(alive, plants.weight, 0.0).sum(axis=1) > OVERLOOKED_SHARE
    first = np.where(alive, plants.up, plants.days).min(axis=1)
    later = np.where(too_many, day + 1 - first, 0)[:, None]
    up = np.where(plants.worked > day, np.minimum(plants.up + later, plants.days), plants.up)
    return replace(plants, up=np.where(up >= plants.frost, plants.days, up))
