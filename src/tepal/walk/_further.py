"""What else to walk before one can say, nearly surely, that there are none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from tepal.tables import Refused
from tepal.walk._absence import Absence, RiskZone, absence_of_walks
from tepal.walk._plan import plan
from tepal.walk._seen import Walked

FloatArray = npt.NDArray[np.float64]

# Ground within this many widths of sight of a track counts as seen when the next route is laid.
_SEEN_WITHIN = 1.2
# The mean of exp(-d²/2S²) over that belt.
_MEAN_WITHIN = 0.80
# The first try sweeps what is left at passes so many widths of sight apart; then doubling, then halving the step.
_PASSES_APART = 4.0
_DOUBLINGS, _HALVINGS = 3, 3


@dataclass(frozen=True, slots=True, eq=False)
class Further:
    """A further walk after which, if nothing is seen on it either, `after` holds. route: metres, shape = (n, 2)."""

    minutes: float
    metres: float
    route: FloatArray
    after: Absence


def further(
    boundary: BaseGeometry,
    walks: Sequence[Walked],
    *,
    sigma_m: float,
    sure: float = 0.95,
    prior_present: float = 0.5,
    prior: Sequence[RiskZone] | None = None,
    speed_kmh: float = 4.0,
    start: npt.ArrayLike | None = None,
) -> Further | None:
    """The shortest further walk, of those that `plan` lays over ground not yet seen, that makes absence `sure`.

    `sure` is 1 - P(present). The route is laid as if seen ground had none of the risk that was seen there; the chance
    afterwards is that of all walks together. The minutes are right to about a tenth. None where even sweeping all of
    it with passes half a width of sight apart does not do.

    Raises
    ------
    Refused
        As `absence_of_walks` and `plan`; and if `sure` is not between 0 and 1.
    """
    if not 0 < sure < 1:
        raise Refused(f"sure {sure:g}", where="sure", rule="It lies between 0 and 1.", step="Write 0.95.")
    left = _left(boundary, walks, prior or ())

    def tried(minutes: float) -> Further:
        made = plan(boundary, minutes=minutes, sigma_m=sigma_m, speed_kmh=speed_kmh, prior=left, start=start)
        after = absence_of_walks(
            boundary, [*walks, Walked([made.route], sigma_m)], prior_present=prior_present, prior=prior
        )
        return Further(made.minutes, made.metres, made.route, after)

    minutes, found = boundary.area / (_PASSES_APART * sigma_m) / (speed_kmh * 1000 / 60), None
    low = 0.0
    for _ in range(_DOUBLINGS + 1):
        trial = tried(minutes)
        if trial.after.p_present <= 1 - sure:
            found = trial
            break
        low, minutes = minutes, 2 * minutes
    if found is None:
        return None
    high = minutes
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        trial = tried(middle)
        if trial.after.p_present <= 1 - sure:
            high, found = middle, trial
        else:
            low = middle
    return found


def _left(boundary: BaseGeometry, walks: Sequence[Walked], prior: Sequence[RiskZone]) -> list[RiskZone]:
    """The prior with the ground near earlier tracks as zones of what is left there."""
    rest = boundary.difference(shapely.union_all([zone.area for zone in prior])) if prior else boundary
    zones = [RiskZone(rest, 1.0), *prior]
    out = list(prior)
    for walk in walks:
        lines = [shapely.LineString(t) for track in walk.tracks if len(t := np.asarray(track, dtype=np.float64)) > 1]
        if not lines:
            continue
        belt = shapely.union_all([line.buffer(_SEEN_WITHIN * walk.sigma_m, quad_segs=2) for line in lines])
        belt = belt.simplify(0.3 * walk.sigma_m).intersection(boundary)
        # A zone takes the greatest weight, so others are cut out of it.
        missed = 1 - walk.up * walk.known * _MEAN_WITHIN
        out = [RiskZone(zone.area.difference(belt), zone.weight) for zone in out]
        for zone in zones:
            part = zone.area.intersection(belt)
            if part.area > 0:
                out.append(RiskZone(part, zone.weight * missed))
    return [zone for zone in out if not zone.area.is_empty]
