"""The ground that has to be searched to find again what was seen: what a few known plants cost is no whole field."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import shapely
from shapely.geometry import MultiPoint

from tepal.ledger import Entry, Plant, Stop, Walk, event_date
from tepal.reading._place import Grounded
from tepal.reading._work import since_control

# Around each place at which plants were seen: a position is good to some metres, and seed falls near the plant.
_AROUND_M = 30.0
_SAMPLE = 3  # fewer stops sample nothing


def where_hectares(entries: Sequence[Entry], ground: Grounded, as_of: date) -> float | None:
    """Hectares within 30 m of every plant and of every stop with plants of this season, inside the boundary.

    Stops are a sample of the site: where some of them met plants, that part of the site holds plants, and it is at
    least that much ground. Unless all of three or more did, close together: then somebody counted in a patch.
    None where nothing was seen, where something that was seen has no place (a walk found more than are placed), or
    where the boundary is not known.
    """
    season = since_control([entry for entry in entries if event_date(entry).year == as_of.year])
    seen = [
        entry.body.at
        for entry in season
        if (isinstance(entry.body, Stop) and any(tally.count for tally in entry.body.counts))
        or isinstance(entry.body, Plant)
    ]
    placed = [ground.frame.to_metres(at) for at in seen if at is not None]
    found = max((entry.body.found or 0 for entry in season if isinstance(entry.body, Walk)), default=0)
    if ground.flat is None or not placed or len(placed) < len(seen) or found > _plants(season):
        return None
    points = MultiPoint(placed)
    near = float(shapely.intersection(shapely.buffer(points, _AROUND_M), ground.flat).area / 1e4)
    return max(near, _sampled(season, ground.flat.area / 1e4)) or None


def _sampled(season: Sequence[Entry], hectares: float) -> float:
    """The part of the site that holds plants by its stops with an area; 0 where all of them do, or fewer than three."""
    met = [
        any(tally.count for tally in entry.body.counts)
        for entry in season
        if isinstance(entry.body, Stop) and entry.body.looked_at_m2 is not None
    ]
    return hectares * sum(met) / len(met) if len(met) >= _SAMPLE and not all(met) else 0.0


def _plants(season: Sequence[Entry]) -> int:
    """Plants that stand at a place: those counted at stops, or those looked at, whichever are more."""
    counted = sum(tally.count for e in season if isinstance(e.body, Stop) for tally in e.body.counts)
    return max(counted, sum(e.body.count for e in season if isinstance(e.body, Plant)))
