"""Where to walk: of many drafts of a route, the one that finds most within the time, then bent to find more."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from tepal.tables import Refused
from tepal.walk._absence import RiskZone
from tepal.walk._assumed import PATCH_PLANTS, PATCH_SD_M
from tepal.walk._design import Zone, giving_up, most_seen, patches_found, spacings, zones_of
from tepal.walk._draft import Trip, joined, metres_of, ordered, selected, stretches, tight
from tepal.walk._order import total
from tepal.walk._passes import Passes, bearings, in_pieces, laps, length_of, lines, middle, sweep
from tepal.walk._refine import Pull, refined
from tepal.walk._score import Score
from tepal.walk._ways import Ways, site_of

FloatArray = npt.NDArray[np.float64]
Aim = Literal["plant", "patch"]

# The budget is kept with this much to spare, for the rounding of coordinates.
_SPARE = 0.9995
# Aiming at a patch may give up so much of the chance to find one plant.
_GIVEN_UP = 0.9715
_UNBENT = 0.91
_MOST_PASSES = 190
_MOST_ROWS = 110
# A pass alone finds the patches on a strip about this wide.
_PATCH_STRIP_M = 30.0
_CLOSEST = 0.8


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
    risk zone, the heaviest first. most: with even risk, a bound that no route of that time can exceed; else None.
    """

    route: FloatArray
    metres: float
    minutes: float
    p_detect: float
    p_patch: float
    zones: tuple[ZoneSeen, ...]
    most: float | None


@dataclass(frozen=True, slots=True)
class Reach:
    """What a walk of so many minutes would find."""

    minutes: float
    p_detect: float
    p_patch: float


@dataclass(frozen=True, slots=True, eq=False)
class _Task:
    site: BaseGeometry
    zones: list[Zone]
    score: Score
    trip: Trip
    sigma_m: float
    rows: float | None
    headland_m: float

    @property
    def even(self) -> bool:
        return len({zone.weight for zone in self.zones}) == 1


@dataclass(frozen=True, slots=True, eq=False)
class _Draft:
    route: FloatArray
    plant: float
    patch: float


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
    _check(
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
    lead, budget = _lead(begin, site, budget, back)
    trip = Trip(budget, ways, begin if lead is None else lead[-1], back, by_rows=rows_deg is not None)
    rows = None if rows_deg is None else math.radians(rows_deg) % math.pi
    task = _Task(site, zones_of(site, pairs), score, trip, sigma_m, rows, headland_m)
    best = _best(task, aim)
    route = best.route
    if lead is not None:
        route = np.vstack([lead[:1], route, *([lead[:1]] if back else [])])
    return _told(route, task, minutes, speed_kmh)


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


def _told(route: FloatArray, task: _Task, minutes: float, speed_kmh: float) -> Plan:
    seen = task.score.seen(route)
    metres = length_of(route)
    zones = []
    for weight in sorted({zone.weight for zone in task.zones}, reverse=True):
        here = [(w == weight) & (grid.inside > 0) for w, grid in zip(task.score.weights, task.score.grids, strict=True)]
        cells = sum(int(h.sum()) for h in here)
        if cells:
            share = sum(float(q[h].sum()) for q, h in zip(seen, here, strict=True)) / cells
            area = sum(z.area.area for z in task.zones if z.weight == weight)
            zones.append(ZoneSeen(weight, area / 1e4, share))
    route.setflags(write=False)
    return Plan(
        route=route,
        metres=metres,
        minutes=metres / (speed_kmh * 1000 / 60),
        p_detect=task.score.plant(seen),
        p_patch=task.score.patch(seen),
        zones=tuple(zones),
        most=most_seen(metres_of(minutes, speed_kmh), task.site.area, task.sigma_m) if task.even else None,
    )


def _best(task: _Task, aim: Aim) -> _Draft:
    drafts = [_scored(route, task, patch=aim == "patch") for route in _plant_drafts(task) if route is not None]
    if not drafts:
        drafts = [_scored(route, task, patch=aim == "patch") for route in _any_route(task)]
    if not drafts:
        raise Refused(
            "no route fits", where="site", rule="Some pass must be within the time.", step="Allow more minutes."
        )
    drafts.sort(key=lambda d: -d.plant)
    best = _bent(drafts, task)
    if aim == "plant":
        return best
    # Bending gains a few plants in a hundred, so a draft that has not been bent yet may fall that much shorter.
    more = [_scored(r, task, patch=True) for r in _patch_drafts(task) if r is not None]
    hopeful = [d for d in (*drafts, *more) if d.plant >= _UNBENT * best.plant]
    hopeful.sort(key=lambda d: -d.patch)
    fit = [_scored(best.route, task, patch=True)]
    for draft in hopeful[:4]:
        bent = draft if draft.plant >= _GIVEN_UP * best.plant else _bent_one(draft, task)
        if bent.plant >= _GIVEN_UP * best.plant:
            fit.append(_scored(bent.route, task, patch=True))
    return max(fit, key=lambda d: d.patch)


def _scored(route: FloatArray, task: _Task, *, patch: bool = False) -> _Draft:
    seen = task.score.seen(route)
    return _Draft(route, task.score.plant(seen), task.score.patch(seen) if patch else math.nan)


def _bent(drafts: list[_Draft], task: _Task) -> _Draft:
    """The best of the drafts after the best three of them were bent."""
    best = drafts[0]
    spacing = task.site.area / task.trip.budget_m
    # Rows stand where they stand; and where passes are far apart and risk is even, nothing is left to gain.
    if task.rows is not None or (task.even and not tight(spacing, task.sigma_m) and best.plant > 0.985 * _bound(task)):
        return best
    for draft in drafts[:3]:
        trial = _bent_one(draft, task)
        if trial.plant > best.plant:
            best = trial
    return best


def _bent_one(draft: _Draft, task: _Task) -> _Draft:
    if task.rows is not None:
        return draft
    centers, weights = task.score.cells(max(task.sigma_m * 0.8, 2.0))
    route = refined(
        draft.route,
        Pull(centers, weights, task.sigma_m),
        task.trip.budget_m,
        task.trip.ways,
        start_fixed=task.trip.start is not None,
        end_fixed=task.trip.back,
        corner_m=max(1.5 * task.sigma_m, 6.0),
        rounds=36 if task.sigma_m >= 5 else 20,
    )
    return _scored(route, task)


def _bound(task: _Task) -> float:
    return most_seen(task.trip.budget_m, task.site.area, task.sigma_m)


def _plant_drafts(task: _Task) -> Iterator[FloatArray | None]:
    yield from _even_drafts(task)
    if not task.even:
        for stretch in (0.7, 1.0, 1.5):
            yield from _zone_drafts(task, stretch * task.trip.budget_m, patches=0.02, seed=1)


def _patch_drafts(task: _Task) -> Iterator[FloatArray | None]:
    if task.even:
        return
    length = 0.95 * task.trip.budget_m
    for share in (0.01, 0.03, 0.06):
        patches = giving_up(task.zones, length, task.sigma_m, share, patch_plants=PATCH_PLANTS, patch_sd_m=PATCH_SD_M)
        yield from _zone_drafts(task, length, patches=patches, seed=2)


def _even_drafts(task: _Task) -> Iterator[FloatArray | None]:
    """Passes at one spacing over the whole site, at several bearings, and laps; each fitted to the budget."""
    first = max(task.site.area / task.trip.budget_m, _CLOSEST * task.sigma_m)
    if task.rows is not None:
        yield from _row_drafts(task, first)
        return
    turns = bearings(task.site, 5 if task.even else 3)
    for bearing in turns:
        yield from _fitted(partial(_lines_with_margin, task, bearing), first, task)
    yield from _fitted(lambda w, e: in_pieces(laps(task.site, w, first_m=e), 1e9), first, task)
    if _narrow(task.site, first, task.sigma_m):
        yield _once(middle(task.site, least_m=min(first, 4 * task.sigma_m)), task)


def _row_drafts(task: _Task, first_m: float) -> Iterator[FloatArray | None]:
    """Along the rows: evenly over the site, or closer over as much of it as the time allows, which spares headlands."""
    assert task.rows is not None
    yield from _fitted(partial(_lines_with_margin, task, task.rows), first_m, task)
    per_metre = task.sigma_m * math.sqrt(2 * math.pi)
    tried = {first_m * f for f in (1.25, 1.0, 0.7, 0.5, 0.35)} | {6 * task.sigma_m, 4.5 * task.sigma_m}
    for spacing in sorted(w for w in tried if w >= min(2.5 * task.sigma_m, first_m)):
        for end in (2.2 * task.sigma_m, 1.0):
            passes = _lines_with_margin(task, task.rows, spacing, min(end, spacing / 2))
            if not 0 < len(passes) <= _MOST_ROWS:
                continue
            s, kept = stretches(passes, task.trip)
            if not kept:
                continue
            values = task.score.worth_of(kept)
            # A little more than there is time for: the last row is then walked in part, and no metre is left.
            order = selected(s, values, 1.03 * task.trip.budget_m, worth_per_m=0.5 * per_metre, rounds=4, seed=3)
            yield joined(order, s, kept, task.trip)
            if total(order, s) < 0.9 * task.trip.budget_m:
                yield joined(ordered(s, len(kept), tries=2), s, kept, task.trip)


def _narrow(site: BaseGeometry, spacing: float, sigma_m: float) -> bool:
    """Whether the site is so narrow, in all or between its holes, that one pass in the middle may do."""
    return 2 * site.area / site.length < max(2 * spacing, 6 * sigma_m)


def _once(passes: Passes, task: _Task) -> FloatArray | None:
    if not passes:
        return None
    s, passes = stretches(in_pieces(passes, 1e9), task.trip)
    return joined(ordered(s, len(passes), tries=4), s, passes, task.trip) if passes else None


def _lines_with_margin(task: _Task, bearing: float, spacing: float, end: float) -> Passes:
    if task.rows is not None:
        # One turns on the headland: a pass has to end there.
        return lines(task.site, spacing, bearing, side_m=end, end_m=min(end, task.headland_m - 1), least_m=2.0)
    return lines(task.site, spacing, bearing, side_m=end, end_m=end, least_m=max(2.0, task.sigma_m / 2))


def _fitted(passes_of: Callable[[float, float], Passes], first_m: float, task: _Task) -> Iterator[FloatArray | None]:
    """Drafts whose spacing, then margin, was changed until all passes fit the budget."""
    spacing, trip, sigma = first_m, task.trip, task.sigma_m
    for nth in range(4):
        margin = min(2.2 * sigma, spacing / 2)
        passes = passes_of(spacing, margin)
        while len(passes) > _MOST_PASSES:
            spacing *= 1.5
            passes = passes_of(spacing, min(2.2 * sigma, spacing / 2))
        if not passes:
            return
        s, passes = stretches(passes, trip)
        if not passes:
            return
        order = ordered(s, len(passes), tries=4)
        length = total(order, s)
        if nth >= 1 or abs(length / trip.budget_m - 1) < 0.02:
            yield joined(order, s, passes, trip)
        if 0 <= length / trip.budget_m - 1 < 0.01:
            return
        following = max(spacing * (length / trip.budget_m) ** (1.0 if nth < 2 else 0.8), _CLOSEST * sigma)
        if following == spacing:
            return
        spacing = following


def _zone_drafts(task: _Task, length_m: float, *, patches: float, seed: int) -> Iterator[FloatArray | None]:
    """Each zone swept at the spacing that its risk deserves; of those passes, the ones that pay within the budget."""
    apart = spacings(
        task.zones, length_m, task.sigma_m, patches=patches, patch_plants=PATCH_PLANTS, patch_sd_m=PATCH_SD_M
    )
    passes: Passes = []
    patch_worth: list[float] = []
    for zone, spacing in zip(task.zones, apart, strict=True):
        if not math.isfinite(spacing):
            continue
        swept = _swept(zone.area, float(spacing), task)
        passes += swept
        # A pass of a sweep finds the patches on the strip that is its own.
        strip = spacing * patches_found(float(spacing), task.sigma_m, PATCH_PLANTS, PATCH_SD_M)
        patch_worth += [zone.weight * strip] * len(swept)
    if not passes:
        return
    walked = sum(length_of(p) for p in passes)
    most = max(walked / _MOST_PASSES * 1.6, 40.0)
    cut = [in_pieces([p], most) for p in passes]
    pieces = [piece for each in cut for piece in each]
    if len(pieces) > 2 * _MOST_PASSES:
        return
    per_metre = np.repeat(patch_worth, [len(each) for each in cut])
    s, kept = stretches(pieces, task.trip)
    if not kept:
        return
    numbers = {id(piece): k for k, piece in enumerate(pieces)}
    of_kept = per_metre[[numbers[id(piece)] for piece in kept]]
    values = task.score.worth_of(kept) + patches * of_kept * s.lengths[1:]
    background = min(zone.weight for zone in task.zones)
    strip = _PATCH_STRIP_M if patches > 0.05 else 0.0
    worth_per_m = 0.5 * background * (task.sigma_m * math.sqrt(2 * math.pi) + patches * strip)
    more = 1.0 if task.trip.back else 1.02
    order = selected(s, values, more * task.trip.budget_m, worth_per_m=worth_per_m, rounds=12, seed=seed)
    yield joined(order, s, kept, task.trip)


def _swept(area: BaseGeometry, spacing: float, task: _Task) -> Passes:
    if task.rows is None:
        return sweep(area, spacing, task.sigma_m)
    end = min(spacing / 2, task.sigma_m)
    return lines(area, spacing, task.rows, side_m=spacing / 2, end_m=end)


def _any_route(task: _Task) -> Iterator[FloatArray]:
    """For a site too small or thin for any draft: laps at its very edge, or its longest line."""
    for part in shapely.get_parts(task.site):
        ring = shapely.get_coordinates(part.exterior)
        s, kept = stretches(in_pieces([ring], 1e9), task.trip)
        if kept:
            route = joined(ordered(s, len(kept)), s, kept, task.trip)
            if route is not None:
                yield route


def _lead(begin: FloatArray | None, site: BaseGeometry, budget: float, back: bool) -> tuple[FloatArray | None, float]:
    """From a place off the site straight to its edge, and the metres left for the site."""
    if begin is None or site.buffer(0.5).contains(shapely.Point(begin)):
        return None, budget
    edge = shapely.get_coordinates(shapely.shortest_line(shapely.Point(begin), site))
    left = budget - (2 if back else 1) * length_of(edge)
    if left <= 0.1 * budget:
        raise Refused(
            f"the place to set out lies {length_of(edge):.0f} m from the site",
            where="from",
            rule="Most of the time is walked on the site.",
            step="Give the place where one parks as longitude,latitude, or more minutes.",
        )
    return edge, left


def _check(
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
        if not (math.isfinite(value) and value > 0):
            raise Refused(f"{name} {value:g}", where=name, rule="It is a number above 0.", step=f"Give it in {unit}.")
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
