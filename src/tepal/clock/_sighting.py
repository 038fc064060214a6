"""What a person saw of the plants on a day, and how likely each member of the ensemble makes it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date

import numpy as np
import numpy.typing as npt

from tepal.clock._plants import Plants
from tepal.clock._share import upper_point
from tepal.clock._traits import Published
from tepal.tables import Refused, Where, parse_date

FloatArray = npt.NDArray[np.float64]

STAGES = ("cotyledon", "seedling_2-4_leaf", "vegetative", "reproductive", "mature_seed")
# The plants that a person calls the tallest, or the most advanced: one in twenty (judgement).
TALLEST_SHARE = 0.05
_TALLEST_POSSIBLE_CM = 400.0
_IN_INCHES, _CM_OF_INCH = {"height_in": "height_cm", "typical_in": "typical_cm"}, 2.54
# Height of the tallest plants while the most advanced are at a stage, with the spread of its logarithm (judgement).
_STAGE_HEIGHT_CM = {"cotyledon": (1.2, 0.5), "seedling_2-4_leaf": (4.0, 0.5)}
# Growth degree days (base 10 degC) within which plants are no older than a stage, with the spread of its logarithm:
# four true leaves are out 6 to 14 days after coming up at daily means of 20 to 25 degC (Sellers2003, StripTillPage),
# the first true leaf in about five (judgement).
STAGE_AGE_DD = {"cotyledon": 60.0, "seedling_2-4_leaf": 150.0}
STAGE_AGE_SD = 0.2
# Dark seed is seen some days after the first is viable (viable 7-9 days after pollination, dark by day 12).
DARK_AFTER_DAYS = 4.0
# How sharp the day of a flower or a seed coat is told: people overlook the first ones, or take buds for them.
DAY_ERROR = 3.0
# Where none was seen a few may be up all the same, but small.
OVERLOOKED_SHARE = 0.01
OVERLOOKED_CM, _OVERLOOKED_SD = 2.0, 0.3
# So short the tallest of a stand have no flower before days shorten: they are seedlings, and who measures them would
# have said so (judgement). In late summer the last flush flowers at that height.
_TOO_SHORT_TO_FLOWER_CM, _TILL_MONTH = 5.0, 7
# Added to heights before their logarithm: below it, nobody measures.
_NOTHING_CM = 0.5
# Where no plant is left to come at all, as if the next one were this warmth away: hardly possible, and still a number.
_FARTHEST_DD = 1500.0


@dataclass(frozen=True, slots=True)
class Sighting:
    """What was seen on a day: `height_cm` of the tallest plants, `typical_cm` of the usual ones, `stage` of the most
    advanced, `flowering` (some, or none), `seed_dark` (some, or none), `none_up` (looked and saw none).

    Raises
    ------
    Refused
        If nothing is told, or a value is impossible.
    """

    on: date
    height_cm: float | None = None
    typical_cm: float | None = None
    stage: str | None = None
    flowering: bool | None = None
    seed_dark: bool | None = None
    none_up: bool | None = None

    def __post_init__(self) -> None:
        told = {f.name: getattr(self, f.name) for f in fields(self) if f.name != "on"}
        if all(value is None for value in told.values()):
            raise _refused(f"nothing seen on {self.on}", "A sighting tells at least one thing.")
        for name in ("height_cm", "typical_cm"):
            value = told[name]
            if value is not None and not 0 <= value <= _TALLEST_POSSIBLE_CM:
                raise _refused(f"{name}={value:g}", f"A height lies between 0 and {_TALLEST_POSSIBLE_CM:g} cm.")
        if self.height_cm is not None and self.typical_cm is not None and self.typical_cm > self.height_cm:
            raise _refused(
                f"typical_cm={self.typical_cm:g} above height_cm={self.height_cm:g}",
                "height_cm is that of the tallest plants.",
            )
        if self.none_up and any(value for name, value in told.items() if name != "none_up"):
            raise _refused(
                f"none_up on {self.on} beside what was seen", "Where none is up there is nothing else to tell."
            )
        if self.stage is not None and self.stage not in STAGES:
            raise _refused(f"stage={self.stage}", f"A stage is one of {', '.join(STAGES)}.")

    @property
    def nothing_up(self) -> bool:
        return bool(self.none_up) or self.height_cm == 0

    @property
    def in_flower(self) -> bool | None:
        """Whether flowers were seen, as told or by the stage; seedlings have none; None where nothing speaks of it."""
        if self.flowering is None and self.stage is None and self._seedlings:
            return False
        if self.flowering is not None or self.stage is None:
            return self.flowering
        return self.stage in ("reproductive", "mature_seed")

    @property
    def _seedlings(self) -> bool:
        """Whether the tallest were so short, so early in the year, that none can have been in flower."""
        height = self.height_cm
        short = height is not None and 0 < height <= _TOO_SHORT_TO_FLOWER_CM
        return short and self.on.month <= _TILL_MONTH and not self.seed_dark

    @property
    def with_dark_seed(self) -> bool | None:
        """Whether dark seed was seen, as told or by the stage; None where neither speaks of it."""
        return True if self.seed_dark is None and self.stage == "mature_seed" else self.seed_dark

    @classmethod
    def from_text(cls, text: str) -> Sighting:
        """A sighting written as `2026-06-01:height_cm=12,typical_cm=5`; heights may be told in inches (`height_in=5`).

        Raises
        ------
        Refused
            If the day, a name or a value is not understood.
        """
        day, colon, rest = text.partition(":")
        if not colon or not rest.strip():
            raise _refused(text, "A sighting is written DATE:NAME=VALUE, as in 2026-06-01:height_cm=12.")
        told: dict[str, object] = {}
        for part in rest.split(","):
            name, equals, value = (piece.strip() for piece in part.partition("="))
            ours = _IN_INCHES.get(name, name)
            if ours in told:
                raise _refused(f"{name} twice in {text}", "One value for each name.")
            found = _value(ours, value if equals else "", text)
            told[ours] = _CM_OF_INCH * found if ours != name and isinstance(found, float) else found
        return cls(parse_date(day, Where("--seen")), **told)  # type: ignore[arg-type]


def _value(name: str, value: str, text: str) -> float | bool | str:
    if name in ("height_cm", "typical_cm"):
        try:
            number = float(value)
        except ValueError:
            number = np.nan
        if not np.isfinite(number):
            raise _refused(
                f"{name}={value!r}", "A height is a number, of centimeters (height_cm) or inches (height_in)."
            )
        return number
    if name == "stage":
        return value
    if name in ("flowering", "seed_dark", "none_up"):
        words = {"1": True, "yes": True, "true": True, "0": False, "no": False, "false": False}
        if value.lower() not in words:
            raise _refused(f"{name}={value!r}", "It is 1 (yes) or 0 (no).")
        return words[value.lower()]
    names = ", ".join(f.name for f in fields(Sighting) if f.name != "on")
    raise _refused(f"{name or text!r} in a sighting", f"One can tell {names}.")


def _refused(what: str, rule: str) -> Refused:
    return Refused(what, where="--seen", rule=rule, step="Correct the sighting.")


def log_likelihood(plants: Plants, seen: Sequence[Sighting], published: Published) -> FloatArray:
    """How well each member explains all sightings, shape = (members,); up to a constant."""
    total = np.zeros(len(plants.members))
    for sighting in seen:
        total += _one(plants, sighting, published)
    return total


def _one(plants: Plants, sighting: Sighting, published: Published) -> FloatArray:
    day = plants.courses.season.index(sighting.on)
    total = np.zeros(len(plants.members))
    up = np.where(plants.alive(day), plants.weight, 0.0).sum(axis=1)
    if sighting.none_up is False:
        # Some are up: more than can be overlooked.
        total += np.log(np.maximum(-np.expm1(-up / OVERLOOKED_SHARE), 1e-9))
    if sighting.nothing_up:
        return np.asarray(-up / OVERLOOKED_SHARE) + _height(
            plants, day, OVERLOOKED_CM, TALLEST_SHARE, _OVERLOOKED_SD, at_most=True
        )
    error = published.fixed["tallest_reading_error"]
    for height, share, sd in (
        (sighting.height_cm, TALLEST_SHARE, error),
        (sighting.typical_cm, 0.5, published.fixed["typical_reading_error"]),
    ):
        if height is not None:
            total += _height(plants, day, height, share, sd)
    if sighting.stage in _STAGE_HEIGHT_CM and sighting.height_cm is None:
        height, sd = _STAGE_HEIGHT_CM[sighting.stage]
        total += _height(plants, day, height, TALLEST_SHARE, sd)
    if sighting.in_flower is not None or sighting.with_dark_seed is not None:
        flower = plants.flower()
    if sighting.in_flower is not None:
        total += _happened(plants, flower, day, sighting.in_flower, 0.0)
    if sighting.with_dark_seed is not None:
        total += _happened(plants, plants.viable_seed(flower), day, sighting.with_dark_seed, DARK_AFTER_DAYS)
    return total


def _height(
    plants: Plants, day: int, height_cm: float, share: float, sd: float, *, at_most: bool = False
) -> FloatArray:
    """Normal error of the logarithm of the height that the top `share` of the plants up have reached.

    The tails of this error are light and those of the field's own factors heavy, so that in a conflict the sighting
    wins. `at_most`: only plants taller than that speak against a member.
    """
    is_up = plants.there(day)
    reached = upper_point(plants.stalk_cm(day), plants.weight, is_up, share)
    # Where none is up, the first plant's missing warmth stands in, so that members nearer to the truth weigh more.
    to_come = np.where(plants.worked > day, plants.age_dd(day), -np.inf).max(axis=1)
    missing = 0.5 * np.exp(np.clip(to_come, -_FARTHEST_DD, 0.0) / 50)
    model = np.where(is_up.any(axis=1), np.maximum(reached, 0.0) + _NOTHING_CM, missing)
    off = (np.log(model) - np.log(height_cm + _NOTHING_CM)) / sd
    return np.asarray(-0.5 * np.maximum(off, 0.0 if at_most else -np.inf) ** 2)


def _happened(plants: Plants, when: npt.NDArray[np.int64], day: int, seen: bool, after: float) -> FloatArray:
    """Whether the most advanced plants have reached something by a day: the logarithm of a normal probability in days.

    Light tails, as for heights: what was seen wins over what the model holds for possible. The normal integral is
    1/(1 + exp(-1.59577 x - 0.071355 x^3)) to 0.0002 (Page 1977, Applied Statistics 26:75-76).
    """
    # Frozen plants still show their flowers and their seed.
    first = -upper_point(-when.astype(np.float64), plants.weight, plants.there(day), TALLEST_SHARE)
    since = np.where(np.isfinite(first), day - after - first, -200.0) / DAY_ERROR
    speaks = since if seen else -since
    return np.asarray(-np.logaddexp(0.0, -(1.59577 * speaks + 0.071355 * speaks**3)))
