"""When no field of the model looks like what was seen: the plants are moved until they do."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from tepal.clock._plants import Plants, age_at
from tepal.clock._share import upper_point
from tepal.clock._sighting import TALLEST_SHARE, Sighting
from tepal.clock._traits import Published

FloatArray = npt.NDArray[np.float64]

# A member within so many reading errors of the sighting is left as it is.
_NEAR = 2.0


def believe(plants: Plants, sighting: Sighting, published: Published, rng: np.random.Generator) -> Plants:
    """Plants whose tallest stand as they were seen; only members that are far from it are moved.

    What is up by that day gets a head start in growth degree days, or a delay, so that the tallest one in twenty has
    the height that was seen, with its reading error anew in each member. Where nothing is up, all plants come up
    so much earlier that the first one is. Speed of growth, flowers and later seedlings stay the model's: nothing was
    seen of them, and their doubt stays whole.
    """
    height = sighting.height_cm
    if height is None or height <= 0:
        return plants
    day, error = plants.courses.season.index(sighting.on), published.fixed["tallest_reading_error"]
    to_come = plants.worked > day
    first = np.where(to_come, plants.up, plants.days).min(axis=1, keepdims=True)
    late = np.where(to_come & (plants.up < plants.days), np.maximum(first - day, 0), 0)
    moved = replace(plants, up=np.maximum(plants.up - late, 0))
    is_up = moved.alive(day)
    top = upper_point(moved.height_cm(day), moved.weight, is_up, TALLEST_SHARE)
    seen = height * np.exp(error * rng.standard_normal(top.size))
    far = np.abs(np.log((np.maximum(top, 0.0) + 0.5) / (height + 0.5))) > _NEAR * error
    far &= is_up.any(axis=1)
    age = upper_point(moved.age_dd(day), moved.weight, is_up, TALLEST_SHARE)
    # Young plants are old enough for a height below 1 cm at once; a final height below what was seen gives way too.
    head = np.where(far, age_at(seen[:, None], moved.members)[:, 0] - age, 0.0)
    return replace(moved, head=np.where(is_up, head[:, None], 0.0))
