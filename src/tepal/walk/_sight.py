"""How far one sees a plant: from a table by stage and crop, or from the distances at which plants were really found."""

from __future__ import annotations

import math
from dataclasses import dataclass
from importlib.resources import as_file, files

import numpy as np
import numpy.typing as npt

from tepal.tables import Refused, meant, read_csv

FloatArray = npt.NDArray[np.float64]

# Fewer finds say less about the width of sight than an honest guess does.
_LEAST_FINDS = 5
_UNNAMED = "other"
_HALF_OF_CHI2 = 1.3528


@dataclass(frozen=True, slots=True)
class Sight:
    """A width of sight: `sigma_m` (its middle), and the factor `times` by which it is off in one standard deviation.

    low_m, high_m: nine chances in ten lie between. basis: where it comes from; `judgement` means that nobody measured.
    """

    sigma_m: float
    times: float
    low_m: float
    high_m: float
    basis: str


def sight_for(stage: str, crop: str = "none") -> Sight:
    """The width of sight of a growth stage in a crop, by the table `sight.csv`; a crop not in it is taken as `other`.

    All of it is judgement and wide.

    Raises
    ------
    Refused
        If the table does not know the stage.
    """
    with as_file(files("tepal.walk") / "sight.csv") as path:
        rows = list(read_csv(path))
    stages = list(dict.fromkeys(row.text("stage") for row in rows))
    if stage not in stages:
        raise Refused(
            f"stage {stage!r}",
            where="--stage",
            rule=f"A width of sight is known for {', '.join(stages)}.",
            step=meant(stage, stages, "Name one of them, or give --sigma in metres."),
        )
    mine = {row.text("crop"): row for row in rows if row.text("stage") == stage}
    row = mine.get(crop.strip().lower(), mine[_UNNAMED])
    sigma, times = row.number("sigma_m", low=0), row.number("times", low=1)
    return Sight(sigma, times, sigma * times**-1.645, sigma * times**1.645, row.text("basis"))


def sight_from(distances_m: npt.ArrayLike, *, farthest_m: float = math.inf) -> Sight:
    """The width of sight from how far from the track plants were found (distance sampling, half-normal).

    Plants stand evenly about a track, so the distances of those seen fall as exp(-d²/2S²) itself. With n of them up
    to any distance, Σ d²/S² is chi-square with n degrees of freedom: S² = Σ d² / n, and its interval is exact. Where
    distances beyond `farthest_m` were not noted, S is where the truncated likelihood is greatest, and the interval
    where it is within 1.35 of that (half the 0.9 point of chi-square) (Buckland and others 1993, section 3; recalled).

    Raises
    ------
    Refused
        If there are fewer than five, one is negative or beyond `farthest_m`, or all are 0.
    """
    from scipy.special import erf, gammaincinv

    d = np.asarray(distances_m, dtype=np.float64).reshape(-1)
    if d.size < _LEAST_FINDS:
        raise Refused(
            f"{d.size} distances",
            where="distances",
            rule=f"At least {_LEAST_FINDS} finds tell how far one sees.",
            step="Note more of them, or give --sigma or --stage.",
        )
    if not (np.isfinite(d).all() and (d >= 0).all() and (d <= farthest_m).all() and d.any()):
        raise Refused(
            "distances that cannot be",
            where="distances",
            rule="A distance from the track is 0 metres or more, not all are 0, none beyond the farthest noted.",
            step="Correct them.",
        )
    square, n = float(d @ d), d.size
    if math.isinf(farthest_m):
        low, high = (math.sqrt(square / (2 * gammaincinv(n / 2, p))) for p in (0.95, 0.05))
        return Sight(math.sqrt(square / n), math.exp(math.log(high / low) / (2 * 1.645)), low, high, "measured")
    log_s = np.linspace(math.log(math.sqrt(square / n)) - 2.5, math.log(20 * farthest_m), 4000)
    s = np.exp(log_s)
    log_likelihood = -square / (2 * s**2) - n * np.log(s * erf(farthest_m / (math.sqrt(2) * s)))
    inside = np.flatnonzero(log_likelihood >= log_likelihood.max() - _HALF_OF_CHI2)
    low, high = float(s[inside[0]]), float(s[inside[-1]])
    return Sight(
        float(s[np.argmax(log_likelihood)]), math.exp(math.log(high / low) / (2 * 1.645)), low, high, "measured"
    )
