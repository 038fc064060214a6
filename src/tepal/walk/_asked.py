"""What may be asked of a plan; and the way from where one parks to the site."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from tepal.tables import Refused
from tepal.walk._absence import RiskZone
from tepal.walk._passes import length_of

FloatArray = npt.NDArray[np.float64]

_STEP_IN_M = 2.0
# From a millimetre of sight to a walk of ten weeks: what lies beyond is a slip, and its squares would overflow.
_LEAST, _MOST = 0.001, 100_000


def lead(begin: FloatArray | None, site: BaseGeometry, budget: float, back: bool) -> tuple[FloatArray | None, float]:
    """From a place off the site straight into it, and the metres left for the site."""
    if begin is None or site.buffer(0.5).contains(shapely.Point(begin)):
        return None, budget
    # A step inside: from between the teeth of a ragged edge hardly any place can be seen.
    inner = site.buffer(-_STEP_IN_M)
    reached = inner if inner.area > 0.5 * site.area else site
    edge = shapely.get_coordinates(shapely.shortest_line(shapely.Point(begin), reached))
    left = budget - (2 if back else 1) * length_of(edge)
    if left <= 0.1 * budget:
        raise Refused(
            f"the place to set out lies {length_of(edge):.0f} m from the site",
            where="from",
            rule="Most of the time is walked on the site.",
            step="Give the place where one parks as longitude,latitude, or more minutes.",
        )
    return edge, left


def check(
    *,
    minutes: float,
    sigma_m: float,
    speed_kmh: float,
    rows_deg: float | None,
    headland_m: float,
    prior: Sequence[RiskZone],
    start: npt.ArrayLike | None,
    back: bool,
    aim: str,
) -> None:
    for name, value, unit in (
        ("minutes", minutes, "minutes"),
        ("sigma", sigma_m, "metres"),
        ("speed", speed_kmh, "km/h"),
    ):
        if not _LEAST <= value <= _MOST:
            raise Refused(
                f"{name} {value:g}",
                where=name,
                rule=f"It is a number above 0: at least {_LEAST}, at most {_MOST:,}.",
                step=f"Give it in {unit}.",
            )
    if rows_deg is not None and not math.isfinite(rows_deg):
        raise Refused(
            f"rows {rows_deg:g}", where="rows", rule="A bearing is in degrees from north.", step="Correct it."
        )
    if not (math.isfinite(headland_m) and headland_m >= 0):
        raise Refused(
            f"headland {headland_m:g}", where="headland", rule="A width is 0 metres or more.", step="Give it in metres."
        )
    for zone in prior:
        if not (math.isfinite(zone.weight) and zone.weight >= 0):
            raise Refused(
                f"weight {zone.weight:g}",
                where="prior",
                rule="A weight is 0 or more: plants per area relative to 1 outside.",
                step="Correct it.",
            )
    if back and start is None:
        raise Refused(
            "--back without --from", where="back", rule="One comes back to where one set out.", step="Give --from."
        )
    if aim not in ("plant", "patch"):
        raise Refused(f"aim {aim!r}", where="aim", rule="The aim is plant or patch.", step="Write --aim patch.")
