"""How many plants by stops with an area: the field between them, its patches, and what no count can tell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from scipy.spatial.distance import cdist
from shapely.geometry import MultiPoint, MultiPolygon

from tepal.ledger import Entry, Stop
from tepal.reading._place import Grounded
from tepal.stand import Counts, estimate

FloatArray = npt.NDArray[np.float64]

# Counts that all have plants speak for a patch where their ground is less than this share of the site (judgement); of
# one or two stops nobody can say. Plants stand around a stop at least and at most so far, in metres (judgement).
_SMALL_PART, _LEAST_STOPS = 0.25, 3
_FAR_APART = 0.5  # of the site's diagonal (judgement)
_AROUND_M = (10.0, 40.0)
# The ground between the stops is not like that at them by more than counts can tell: routes follow rows, wheel tracks
# and edges, and where these come again at the distance of the stops all of them are met, or none. The spread of the
# logarithm of what was not counted (judgement; without it ranges of 90 % held 83 in 100 of fields made by other rules).
_ROUTE_SD = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class Counted:
    """What stops say of all pigweeds: draws, shape = (n,). `total`: None without a boundary. The rest as `Numbers`."""

    total: FloatArray | None
    density_m2: FloatArray
    by_size: Mapping[str, float]
    area_m2: float
    patches: Mapping[str, Any] | None
    of_hectares: float | None
    warnings: tuple[str, ...]


def counted_on(
    counted: Sequence[tuple[Entry, Stop]],
    ground: Grounded,
    pigweeds: frozenset[str],
    *,
    rng: np.random.Generator,
    n: int,
) -> Counted:
    """How many by stops with an area, each with its entry."""
    # The same place counted twice on one visit is one place: its newest count stands.
    newest = {_spot(entry, body): (entry, body) for entry, body in counted}
    counted = list(newest.values())
    # A stop without a place has its count and its area, but says nothing of where: then the field is left out.
    placed = all(body.at is not None for _, body in counted)
    places = np.array([(0.0, 0.0) if body.at is None else ground.frame.to_metres(body.at) for _, body in counted])
    areas = np.array([body.looked_at_m2 for _, body in counted], dtype=np.float64)
    counts = np.array([pigweeds_of(body, pigweeds) for _, body in counted], dtype=np.float64)
    boundary = _spoken_for(places, counts, ground.flat) if placed else None
    part = boundary is not None and ground.flat is not None and boundary.area < ground.flat.area
    found = estimate(Counts(places[:, 0], places[:, 1], areas, counts), boundary=boundary, rng=rng)
    density = found.density.draws(rng, n)
    total = None
    route = np.exp(_ROUTE_SD * rng.standard_normal(n))
    if ground.flat is None:
        density = density * route
    else:
        total = found.draws(rng, n) if placed else np.maximum(density * ground.flat.area, counts.sum())
        total = np.round(counts.sum() + np.maximum(total - counts.sum(), 0.0) * route)
        density = total / (boundary if boundary is not None else ground.flat).area
    return Counted(
        total=total,
        density_m2=density,
        by_size=_sizes(counted, pigweeds),
        area_m2=float(areas.sum()),
        patches=_patches(found.patches, ground) if placed and ground.flat is not None else None,
        of_hectares=float(boundary.area / 1e4) if part and boundary is not None else None,
        warnings=found.warnings,
    )


def _spoken_for(places: FloatArray, counts: FloatArray, site: MultiPolygon | None) -> MultiPolygon | None:
    """The ground that counts speak for: the site, but where every stop has plants and all stand close together, theirs.

    Who counts only where plants stand has measured the patch. The ground around each stop, to half the usual distance
    between them, and what lies between is then what the number is of; the rest of the site has not been counted.
    `places` shape = (stops, 2), `counts` shape = (stops,).
    """
    if site is None or len(counts) < _LEAST_STOPS or not (counts > 0).all():
        return site
    apart = cdist(places, places)
    west, south, east, north = site.bounds
    if apart.max() > _FAR_APART * np.hypot(east - west, north - south):
        return site  # a line across the site speaks for it, thin as its own ground is
    np.fill_diagonal(apart, np.inf)
    around = float(np.clip(np.median(apart.min(axis=1)) / 2, *_AROUND_M))
    patch = shapely.intersection(shapely.buffer(MultiPoint(places).convex_hull, around), site)
    if patch.is_empty or patch.area >= _SMALL_PART * site.area:
        return site
    parts = [part for part in getattr(patch, "geoms", [patch]) if part.geom_type == "Polygon"]
    return MultiPolygon(parts) if parts else site


def _spot(entry: Entry, stop: Stop) -> object:
    """Where a stop is, to about five metres; a stop without a place is its own."""
    return entry.id if stop.at is None else (round(stop.at[0] / 5e-5), round(stop.at[1] / 5e-5))


def pigweeds_of(stop: Stop, pigweeds: frozenset[str]) -> int:
    """Plants counted, without look-alikes and "other"."""
    return sum(tally.count for tally in stop.counts if tally.taxon == "pigweed" or _is_pigweed(tally.taxon, pigweeds))


def _is_pigweed(code: str, pigweeds: frozenset[str]) -> bool:
    return bool(set(code.split("x")) & pigweeds)


def _sizes(stops: Sequence[tuple[Entry, Stop]], pigweeds: frozenset[str]) -> dict[str, float]:
    sizes: dict[str, int] = {}
    for _, body in stops:
        for tally in body.counts:
            if tally.taxon == "pigweed" or _is_pigweed(tally.taxon, pigweeds):
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
