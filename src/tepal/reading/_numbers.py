"""How many plants: counts with their area first, else a walk with finds, else only what was seen in passing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from tepal.doubt import Provenance
from tepal.flora import Flora
from tepal.ledger import Entry, Plant, Report, Stop, Walk, event_date
from tepal.reading._counts import counted_on, pigweeds_of
from tepal.reading._place import Grounded
from tepal.reading._work import ONE_VISIT, left_after_work, since_control
from tepal.tables import Refused
from tepal.walk import Absence, Assumed, absence

FloatArray = npt.NDArray[np.float64]
_Seen = TypeVar("_Seen", Stop, Walk)

# Seen in passing, nobody searched: for each plant seen there may be one to this many in all (judgement, log-uniform).
_UNSEARCHED_MOST = 30.0
# A walk that met some may have met no more than this part of them: one that saw a hundredth of the site is still
# believed, and a site never has fewer plants only because a walk looked at little of it.
_MOST_OF_FOUND = 100


# A slip of the pen may make any number of them; beyond this whole numbers are not exact, and no site holds as many.
_MOST_PLANTS = 1e15


@dataclass(frozen=True, slots=True, eq=False)
class Numbers:
    """Draws of all pigweeds at the site, shape = (n,) each, None where nothing can be said."""

    basis: str
    total: FloatArray | None = None
    density_m2: FloatArray | None = None
    by_size: Mapping[str, float] | None = None
    counted_plants: int = 0
    counted_area_m2: float = 0.0
    stops: int = 0
    walks: int = 0
    found: int | None = None
    seen_share: float | None = None
    density_upper95_per_ha: float | None = None
    patches: Mapping[str, Any] | None = None
    seen_any: bool = False
    been_there: bool = False
    none_found: bool = False  # somebody looked, and there was nothing
    told: bool = False  # somebody told of plants this season, or sent a photo of one
    after_work: bool = False
    of_hectares: float | None = None  # the ground that the total speaks of, where that is less than the site
    notes: tuple[str, ...] = ()
    why: Provenance = field(default_factory=Provenance)


def numbers(
    entries: Sequence[Entry], ground: Grounded, as_of: date, *, flora: Flora, rng: np.random.Generator, n: int
) -> Numbers:
    """All pigweeds at the site, from this season's stops, walks and plants, less what was pulled or cut since."""
    found = _seen(entries, ground, as_of, frozenset(flora.pigweeds()), rng=rng, n=n)
    if found.total is None:
        return found
    total = np.minimum(found.total, _MOST_PLANTS)
    left = left_after_work(entries, as_of, total, flora, rng)
    if left is None:
        return replace(found, total=total)
    density = None if found.density_m2 is None else found.density_m2 * left / np.maximum(total, 1.0)
    return replace(found, total=left, density_m2=density, after_work=True)


def _seen(
    entries: Sequence[Entry],
    ground: Grounded,
    as_of: date,
    pigweeds: frozenset[str],
    *,
    rng: np.random.Generator,
    n: int,
) -> Numbers:
    season = [entry for entry in entries if event_date(entry).year == as_of.year]
    here = since_control(season)
    stops = _visit([(entry, entry.body) for entry in here if isinstance(entry.body, Stop)])
    walks = _visit([(entry, entry.body) for entry in here if isinstance(entry.body, Walk)])
    plants = [(entry, entry.body) for entry in here if isinstance(entry.body, Plant)]
    by_eye = [(entry, body) for entry, body in plants if body.seen_by == "eye"]

    tallied = sum(pigweeds_of(body, pigweeds) for _, body in stops)
    found = [body.found for _, body in walks if body.found is not None]
    seen_plants = sum(body.count for _, body in by_eye)
    looked = bool(found) or any(body.looked_at_m2 is not None or not body.counts for _, body in stops)
    summary = Numbers(
        basis="none",
        counted_plants=max(tallied, seen_plants),
        stops=len(stops),
        walks=len(walks),
        found=sum(found) if found else None,
        seen_any=tallied > 0 or bool(plants) or sum(found) > 0,
        been_there=bool(stops or walks or by_eye),
        none_found=looked and not (tallied or plants or sum(found)),
        told=any(body.seen_by == "photo" for _, body in plants) or any(isinstance(e.body, Report) for e in season),
        why=Provenance(entries=tuple(entry.id for entry, _ in (*stops, *walks, *plants))),
    )
    walked, notes = _absence(walks, ground, max(sum(found), seen_plants))
    summary = replace(summary, notes=notes)
    if walked is not None:
        summary = replace(
            summary, seen_share=walked.seen_share, density_upper95_per_ha=walked.density_upper95_per_ha, basis="walk"
        )
    counted = [(entry, body) for entry, body in stops if body.looked_at_m2 is not None and not body.by_sight]
    if counted and (tallied > 0 or not summary.seen_any or walked is None):
        by_stops = counted_on(counted, ground, pigweeds, rng=rng, n=n)
        return replace(
            summary,
            basis="counts",
            total=by_stops.total,
            density_m2=by_stops.density_m2,
            by_size=by_stops.by_size,
            counted_area_m2=by_stops.area_m2,
            patches=by_stops.patches,
            notes=summary.notes + by_stops.warnings,
            of_hectares=by_stops.of_hectares,
        )
    if not summary.seen_any:
        return summary
    if walked is not None and found and walked.found > 0:
        total = np.maximum(walked.draws(rng, n), seen_plants)
        return replace(summary, total=total, density_m2=total / (1e4 * walked.hectares))
    if seen_plants:
        # One plant seen by chance says little of how many there are: log-uniform over more than an order of magnitude.
        # So do plants looked at on a walk of which nobody wrote down how many it met.
        met = np.full(n, float(seen_plants)) if walked is None else np.maximum(walked.draws(rng, n), seen_plants)
        total = np.round(met * np.exp(rng.uniform(0, np.log(_UNSEARCHED_MOST), n)))
        area = ground.place.hectares
        return replace(summary, basis="plants", total=total, density_m2=None if area is None else total / (1e4 * area))
    return summary


def _absence(
    walks: Sequence[tuple[Entry, Walk]], ground: Grounded, found: int
) -> tuple[Absence | None, tuple[str, ...]]:
    """What the last visit's walks leave open together; None where a boundary, a track or a width is missing.

    A walk that cannot be laid over the site (its track is elsewhere) is left out, and a note says so.
    """
    tracks, widths = [], []
    for _, body in walks:
        if body.track is not None and body.sigma_m is not None:
            tracks += [ground.frame.to_metres(line) for line in _lines(body.track)]
            widths.append(body.sigma_m)
    if ground.flat is None or not tracks:
        return None, ()
    try:
        # Of several widths the narrowest: a walk must not count for more than it saw.
        assumed = Assumed(most_plants=max(Assumed().most_plants, _MOST_OF_FOUND * found))
        return absence(ground.flat, tracks, sigma_m=min(widths), found=found, assumed=assumed), ()
    except Refused as refusal:
        return None, (f"The walks were left out: {refusal}",)


def _lines(track: Mapping[str, Any]) -> list[Any]:
    lines = track["coordinates"] if track["type"] == "MultiLineString" else [track["coordinates"]]
    return [[position[:2] for position in line] for line in lines]


def _visit(made: Sequence[tuple[Entry, _Seen]]) -> list[tuple[Entry, _Seen]]:
    """Those of the last visit: made within ten days of the newest."""
    if not made:
        return []
    last = max(event_date(entry) for entry, _ in made)
    return [(entry, body) for entry, body in made if last - event_date(entry) <= ONE_VISIT]
