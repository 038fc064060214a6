"""How many plants: counts with their area first, else a walk with finds, else only what was seen in passing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import numpy.typing as npt

from tepal.doubt import Provenance
from tepal.ledger import Entry, Plant, Stop, Walk, event_date
from tepal.reading._place import Grounded
from tepal.stand import Counts, estimate
from tepal.walk import Absence, Assumed, absence

FloatArray = npt.NDArray[np.float64]

# Counts made within so many days of the last ones are one visit: plants come up and die between visits (judgement).
ONE_VISIT = timedelta(days=10)
# Seen in passing, nobody searched: for each plant seen there may be one to this many in all (judgement, log-uniform).
_UNSEARCHED_MOST = 30.0


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
    why: Provenance = field(default_factory=Provenance)


def numbers(entries: Sequence[Entry], ground: Grounded, as_of: date, rng: np.random.Generator, n: int) -> Numbers:
    """All pigweeds at the site, from this season's stops, walks and plants."""
    season = [entry for entry in entries if event_date(entry).year == as_of.year]
    stops = [(entry, entry.body) for entry in season if isinstance(entry.body, Stop)]
    walks = [(entry, entry.body) for entry in season if isinstance(entry.body, Walk)]
    plants = [(entry, entry.body) for entry in season if isinstance(entry.body, Plant)]
    by_eye = [(entry, body) for entry, body in plants if body.seen_by == "eye"]

    tallied = sum(_pigweeds(body) for _, body in stops)
    found = [body.found for _, body in walks if body.found is not None]
    seen_plants = sum(body.count for _, body in by_eye)
    here = Numbers(
        basis="none",
        counted_plants=max(tallied, seen_plants),
        stops=len(stops),
        walks=len(walks),
        found=sum(found) if found else None,
        seen_any=tallied > 0 or bool(plants) or sum(found) > 0,
        been_there=bool(stops or walks or by_eye),
        why=Provenance(entries=tuple(entry.id for entry, _ in (*stops, *walks, *plants))),
    )
    walked = _absence(walks, ground, max(sum(found), seen_plants))
    if walked is not None:
        here = replace(
            here, seen_share=walked.seen_share, density_upper95_per_ha=walked.density_upper95_per_ha, basis="walk"
        )
    counted = _visit([(entry, body) for entry, body in stops if body.looked_at_m2 is not None and not body.by_sight])
    if counted and (tallied > 0 or not here.seen_any or walked is None):
        return _from_counts(here, counted, ground, rng, n)
    if not here.seen_any:
        return here
    if walked is not None and walked.found > 0:
        total = np.maximum(walked.draws(rng, n), seen_plants)
        return replace(here, total=total, density_m2=total / (1e4 * walked.hectares))
    if seen_plants:
        # One plant seen by chance says little of how many there are: log-uniform over more than an order of magnitude.
        total = np.round(seen_plants * np.exp(rng.uniform(0, np.log(_UNSEARCHED_MOST), n)))
        area = ground.place.hectares
        return replace(here, basis="plants", total=total, density_m2=None if area is None else total / (1e4 * area))
    return here


def _from_counts(
    here: Numbers, counted: Sequence[tuple[Entry, Stop]], ground: Grounded, rng: np.random.Generator, n: int
) -> Numbers:
    # A stop without a place still has its count and its area; it is laid at the middle, where it says least of where.
    middle = (0.0, 0.0)
    places = np.array([middle if body.at is None else ground.frame.to_metres(body.at) for _, body in counted])
    areas = np.array([body.looked_at_m2 for _, body in counted], dtype=np.float64)
    counts = np.array([_pigweeds(body) for _, body in counted], dtype=np.float64)
    found = estimate(Counts(places[:, 0], places[:, 1], areas, counts), boundary=ground.flat, rng=rng)
    total = None if ground.flat is None else found.draws(rng, n)
    patches = None if ground.flat is None else _patches(found.patches, ground)
    return replace(
        here,
        basis="counts",
        total=total,
        density_m2=found.density.draws(rng, n) if total is None else total / ground.flat.area,  # type: ignore[union-attr]
        by_size=_sizes(counted),
        counted_area_m2=float(areas.sum()),
        patches=patches,
    )


def _absence(walks: Sequence[tuple[Entry, Walk]], ground: Grounded, found: int) -> Absence | None:
    """What the season's walks leave open together; None where a boundary, a track or a width is missing."""
    tracks, widths = [], []
    for _, body in walks:
        if body.track is not None and body.sigma_m is not None:
            tracks += [ground.frame.to_metres(line) for line in _lines(body.track)]
            widths.append(body.sigma_m)
    if ground.flat is None or not tracks:
        return None
    # Of several widths the narrowest: a walk must not count for more than it saw.
    most = max(Assumed().most_plants, 20 * found)
    return absence(ground.flat, tracks, sigma_m=min(widths), found=found, assumed=replace(Assumed(), most_plants=most))


def _lines(track: Mapping[str, Any]) -> list[Any]:
    lines = track["coordinates"] if track["type"] == "MultiLineString" else [track["coordinates"]]
    return [[position[:2] for position in line] for line in lines]


def _visit(stops: Sequence[tuple[Entry, Stop]]) -> list[tuple[Entry, Stop]]:
    if not stops:
        return []
    last = max(event_date(entry) for entry, _ in stops)
    return [(entry, body) for entry, body in stops if last - event_date(entry) <= ONE_VISIT]


def _pigweeds(stop: Stop) -> int:
    return sum(tally.count for tally in stop.counts if tally.taxon != "other")


def _sizes(stops: Sequence[tuple[Entry, Stop]]) -> dict[str, float]:
    sizes: dict[str, int] = {}
    for _, body in stops:
        for tally in body.counts:
            if tally.taxon != "other":
                sizes[tally.size] = sizes.get(tally.size, 0) + tally.count
    whole = sum(sizes.values())
    return {size: count / whole for size, count in sizes.items()} if whole else {}


def _patches(patches: Sequence[Any], ground: Grounded) -> Mapping[str, Any]:
    from shapely.geometry import mapping

    return {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "properties": {
                    "probability": patch.probability,
                    "hectares": patch.hectares,
                    "above_per_m2": patch.above_per_m2,
                },
                "geometry": mapping(ground.frame.geometry_to_lonlat(patch.outline)),
            }
            for patch in patches
        ],
    }
