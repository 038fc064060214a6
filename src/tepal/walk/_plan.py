"""Where to walk: of many drafts of a route, the one that finds most within the time, then bent to find more."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
from shapely.geometry.base import BaseGeometry

from tepal.tables import Refused
from tepal.walk._absence import RiskZone
from tepal.walk._asked import check, lead
from tepal.walk._bound import most_patches, most_plants
from tepal.walk._design import zones_of
from tepal.walk._draft import Trip, metres_of
from tepal.walk._passes import length_of
from tepal.walk._score import Score
from tepal.walk._search import best_route
from tepal.walk._task import Task
from tepal.walk._ways import Ways, site_of

FloatArray = npt.NDArray[np.float64]
Aim = Literal["plant", "patch"]

# The budget is kept with this much to spare, for the rounding of coordinates.
_SPARE = 0.9995


@dataclass(frozen=True, slots=True)
class ZoneSeen:
    """A part of the site of one weight, and the mean chance of seeing a plant in it."""

    weight: float
    hectares: float
    seen_share: float


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """A route and what it finds.

    route: metres, shape = (n, 2). metres, minutes: the route's own. p_detect: chance of seeing one plant that falls
    by risk. p_patch: chance of seeing at least one plant of a patch of 20 (normal, sd 8 m). zones: share seen of each
    risk zone, the heaviest first. most, most_patch: bounds of p_detect and p_patch that no route of that time exceeds.
    """

    route: FloatArray
    metres: float
    minutes: float
    p_detect: float
    p_patch: float
    zones: tuple[ZoneSeen, ...]
    most: float
    most_patch: float


@dataclass(frozen=True, slots=True)
class Reach:
    """What a walk of so many minutes would find."""

    minutes: float
    p_detect: float
    p_patch: float


def plan(
    boundary: BaseGeometry,
    *,
    minutes: float,
    sigma_m: float,
    speed_kmh: float = 4.0,
    rows_deg: float | None = None,
    headland_m: float = 15.0,
    prior: Sequence[RiskZone] | None = None,
    start: npt.ArrayLike | None = None,
    back: bool = False,
    aim: Aim = "plant",
) -> Plan:
    """The route over a site that finds most within the time.

    Parameters
    ----------
    boundary : polygon or multipolygon, metres; holes are walked around, parts are joined over the gap
    minutes, speed_kmh : the time allowed and how fast one walks while looking
    sigma_m : width of sight S: a plant is seen with exp(-d²/2S²), d to the nearest point of the route
    rows_deg : compass bearing of standing rows; they are crossed only within `headland_m` of the edge
    prior : zones with a weight relative to 1 outside; the greatest where they overlap
    start : where to set out, metres, shape = (2,); with `back`, where to return to
    aim : what to find: one "plant", or one "patch" while giving up at most 3 % of finding one plant

    Raises
    ------
    Refused
        If a number makes no sense, or no route fits.
    """
    check(
        minutes=minutes,
        sigma_m=sigma_m,
        speed_kmh=speed_kmh,
        rows_deg=rows_deg,
        headland_m=headland_m,
        prior=prior or (),
        start=start,
        back=back,
        aim=aim,
    )
    budget = _SPARE * metres_of(minutes, speed_kmh)
    site = site_of(boundary)
    pairs = [(zone.area, zone.weight) for zone in prior or ()]
    score = Score.of(site, pairs, sigma_m)
    if not score.mass > 0:
        raise Refused(
            "no part of the site can have plants",
            where="prior",
            rule="Some part of the site needs a weight above 0.",
            step="Correct the weights or the boundary.",
        )
    core = site.buffer(-headland_m) if rows_deg is not None else None
    if core is not None and core.is_empty:
        core, rows_deg = None, None
    ways = Ways.over(site, core)
    begin = None if start is None else np.asarray(start, dtype=np.float64).reshape(2)
    way_in, budget = lead(begin, site, budget, back)
    trip = Trip(budget, ways, begin if way_in is None else way_in[-1], back, by_rows=rows_deg is not None)
    rows = None if rows_deg is None else math.radians(rows_deg) % math.pi
    task = Task(
        site, zones_of(site, pairs), score, Score.of(site, pairs, sigma_m, rough=True), trip, sigma_m, rows, headland_m
    )
    route = best_route(task, patch=aim == "patch")
    if way_in is not None:
        route = np.vstack([way_in[:1], route, *([way_in[:1]] if back else [])])
    return _told(route, task, pairs, minutes, speed_kmh)


def reaches(
    planned: Plan, boundary: BaseGeometry, *, minutes: float, more: Sequence[float], **asked: Any
) -> tuple[Reach, ...]:
    """What `more` minutes beyond those of a plan would find; `asked` is what `plan` was asked."""
    found, least = [], planned
    for extra in more:
        longer = plan(boundary, minutes=minutes + extra, **asked)
        # Who has more time can always walk the shorter route.
        plant, patch = max(longer.p_detect, least.p_detect), max(longer.p_patch, least.p_patch)
        found.append(Reach(minutes + extra, plant, patch))
        least = replace(planned, p_detect=plant, p_patch=patch)
    return tuple(found)


def _told(
    route: FloatArray, task: Task, pairs: Sequence[tuple[BaseGeometry, float]], minutes: float, speed_kmh: float
) -> Plan:
    seen = task.score.seen(route)
    metres = length_of(route)
    zones = []
    for weight, share in task.score.by_weight(pairs, seen).items():
        area = sum(z.area.area for z in task.zones if z.weight == weight)
        if area > 0:
            zones.append(ZoneSeen(weight, area / 1e4, share))
    route.setflags(write=False)
    return Plan(
        route=route,
        metres=metres,
        minutes=metres / (speed_kmh * 1000 / 60),
        p_detect=task.score.plant(seen),
        p_patch=task.score.patch(seen),
        zones=tuple(zones),
        most=most_plants(metres_of(minutes, speed_kmh), task.zones, task.sigma_m),
        most_patch=most_patches(metres_of(minutes, speed_kmh), task.zones, task.sigma_m),
    )
