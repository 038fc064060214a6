"""What is not known of a field's plants: one draw of all parameters per member of the ensemble."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tepal.clock._normal import normal_quantile
from tepal.flora import Flora, Parameter

FloatArray = npt.NDArray[np.float64]

_Z90 = 1.2815515655446004
# How much of the doubt the three points of one emergence curve share: a late field is late at all three (judgement).
_SHARED = 0.7
_WIDEN_JUDGEMENT = 1.08
# Strength of the heavy tails (see `_heavy`).
_TAIL = 0.6

# One standard normal number per member and name. "heavy" ones have long tails, so that a field seen to be unlike the
# published plants is possible, if unlikely.
_LOG, _LOGIT, _NORMAL = "log", "logit", "normal"
_DRAWN: tuple[tuple[str, str, str, bool], ...] = (
    # name, condition, scale, heavy
    ("emergence_dd", "10_percent", _LOG, False),
    ("emergence_dd", "50_percent", _LOG, False),
    ("emergence_dd", "90_percent", _LOG, False),
    ("emergence_site_year", "", _LOG, True),
    ("rain_wait_days", "", _LOG, False),
    ("dd_to_10_cm", "", _LOG, False),
    ("dd_share_at_5_cm", "", _LOGIT, False),
    ("height_rate", "", _LOG, False),
    ("growth_site", "", _LOG, True),
    ("final_height_cm", "", _LOG, False),
    ("flower_dd", "long_days", _LOG, True),
    ("flower_dd", "short_days", _LOG, False),
    ("day_length_threshold_h", "", _NORMAL, False),
    ("flower_to_seed_days", "", _LOG, True),
    ("frost_kill_c", "", _NORMAL, False),
    ("canopy_half_dd", "", _LOG, False),
    ("canopy_emergence_cut", "", _LOGIT, False),
    ("canopy_height_cut", "", _LOGIT, False),
    ("tillage_wakes", "", _LOGIT, False),
    ("tillage_to_up_dd", "", _LOG, False),
)
_FIXED = (
    "emergence_base_c",
    "emergence_upper_c",
    "emergence_from_day",
    "rain_that_wets_mm",
    "growth_base_c",
    "growth_upper_c",
    "flower_base_c",
    "flower_upper_c",
    "plant_growth_spread",
    "day_length_width_h",
    "plant_flower_spread",
    "seed_ripening_dd",
    "canopy_width_dd",
    "tallest_reading_error",
    "typical_reading_error",
)
# One more number than there are parameters: the doubt that the points of the emergence curve share.
DIMENSIONS = len(_DRAWN) + 1


@dataclass(frozen=True, slots=True)
class Published:
    """The published numbers of one taxon: `fixed` by name, `spread` (centre, spread on the scale) by (name, condition).

    A row's low and high are taken as its 10 and 90 % points, a little wider where they are judgement. Not as wide as a
    lone number of the flora would be: most of these ranges were set wide by judgement, they are many, and what they may
    all miss together is carried by `emergence_site_year` and `growth_site`, which the curves are multiplied by.
    """

    fixed: Mapping[str, float]
    spread: Mapping[tuple[str, str], tuple[float, float]]
    sources: tuple[str, ...]

    @classmethod
    def of(cls, flora: Flora, code: str) -> Published:
        rows = {(name, condition): flora.parameter(name, code, condition) for name, condition, *_ in _DRAWN}
        fixed = {name: flora.parameter(name, code) for name in _FIXED}
        sources = [key for row in (*rows.values(), *fixed.values()) for key in row.sources]
        return cls(
            {name: _mean(row) for name, row in fixed.items()},
            {(name, condition): _spread(rows[name, condition], scale) for name, condition, scale, _ in _DRAWN},
            tuple(dict.fromkeys(sources)),
        )


@dataclass(frozen=True, slots=True, eq=False)
class Members:
    """The ensemble: `future` (index of the weather, shape = (members,)), and values by name."""

    future: npt.NDArray[np.int64]
    values: Mapping[tuple[str, str], FloatArray]

    def __len__(self) -> int:
        return int(self.future.size)

    def of(self, name: str, condition: str = "") -> FloatArray:
        """One parameter, a column to be set against plants or days: shape = (members, 1)."""
        return self.values[name, condition][:, None]


def spread_evenly(rng: np.random.Generator, count: int, dimensions: int = DIMENSIONS) -> FloatArray:
    """Standard normal numbers, shape = (count, dimensions), each dimension cut in `count` equally likely parts.

    A Latin hypercube: quantiles of the ensemble jump less from one question to the next than with free draws.
    """
    ranks = rng.permuted(np.tile(np.arange(count), (dimensions, 1)), axis=1).T
    return normal_quantile((ranks + rng.random((count, dimensions))) / count)


def even_futures(rng: np.random.Generator, count: int, futures: int) -> npt.NDArray[np.int64]:
    """An index of the weather for each member, every future as often as the others (to within one)."""
    start = rng.integers(futures)
    return rng.permutation((np.arange(count) + start) % futures)


def members(z: FloatArray, future: npt.NDArray[np.int64], published: Published) -> Members:
    """The ensemble's parameters from its standard normal numbers."""
    values: dict[tuple[str, str], FloatArray] = {}
    shared = z[:, -1]
    for column, (name, condition, scale, heavy) in enumerate(_DRAWN):
        centre, sd = published.spread[name, condition]
        own = z[:, column]
        if name == "emergence_dd":
            own = _SHARED**0.5 * shared + (1 - _SHARED) ** 0.5 * own
        on_scale = centre + sd * (_heavy(own) if heavy else own)
        if scale == _LOG:
            on_scale = np.exp(on_scale)
        elif scale == _LOGIT:
            on_scale = 1 / (1 + np.exp(-on_scale))
        values[name, condition] = on_scale
    _in_order(values)
    return Members(future, values)


def _in_order(values: dict[tuple[str, str], FloatArray]) -> None:
    """Keep the emergence curve rising: each point at least 15 % after the one before."""
    least = values["emergence_dd", "10_percent"]
    for condition in ("50_percent", "90_percent"):
        least = np.maximum(values["emergence_dd", condition], 1.15 * least)
        values["emergence_dd", condition] = least


def _heavy(z: FloatArray) -> FloatArray:
    """A normal number stretched in its tails; the 10 and 90 % points stay where they are."""
    return np.asarray(_Z90 * np.sinh(_TAIL * z) / math.sinh(_TAIL * _Z90))


def _mean(row: Parameter) -> float:
    if row.mean is None:
        raise ValueError(f"{row.name} of {row.code} is needed as one number")
    return row.mean


def _spread(row: Parameter, scale: str) -> tuple[float, float]:
    mean, low, high = _mean(row), row.low, row.high
    if low is None or high is None:
        raise ValueError(f"{row.name} of {row.code} is needed with a range")
    on_scale = [_ON_SCALE[scale](value) for value in (mean, low, high)]
    widen = _WIDEN_JUDGEMENT if row.basis == "judgement" else 1.0
    return on_scale[0], widen * (on_scale[2] - on_scale[1]) / (2 * _Z90)


def _logit(share: float) -> float:
    return math.log(share / (1 - share))


_ON_SCALE: Mapping[str, Callable[[float], float]] = {_LOG: math.log, _LOGIT: _logit, _NORMAL: float}
