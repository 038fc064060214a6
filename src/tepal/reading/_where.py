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


def where_hectares(entries: Sequence[Entry], ground: Grounded, as_of: date) -> float | None:
    """Hectares within 30 m of every plant and of every stop with plants of this season, inside the boundary.

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
    return float(shapely.intersection(shapely.buffer(points, _AROUND_M), ground.flat).area / 1e4) or None


def _plants(season: Sequence[Entry]) -> int:
    """Plants that stand at a place: those counted at stops, or those looked at, whichever are more."""
    counted = sum(tally.count for e in season if isinstance(e.body, Stop) for tally in e.body.counts)
    return max(counted, sum(e.body.count for e in season if isinstance(e.body, Plant)))
