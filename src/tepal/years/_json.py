"""A projection as JSON values."""

from __future__ import annotations

from typing import Any

import numpy as np

from tepal.doubt import summary
from tepal.years._records import Projection

_QUANTITIES = ("seedbank_m2", "plants_m2", "seed_rain_m2", "yield_loss", "cost")


def to_json(projection: Projection, *, discount: float = 0.0) -> dict[str, Any]:
    """By year quantiles and means; the chance of holding; when each group fails; money over all years."""
    tracks = projection.tracks
    years = []
    for at in range(projection.years):
        told: dict[str, Any] = {"year": at + 1}
        told |= {name: summary(getattr(tracks, name)[:, at]) for name in _QUANTITIES}
        told["resistant"] = {group: summary(values[:, at]) for group, values in tracks.resistant.items()}
        told["escapes"] = {group: summary(values[:, at]) for group, values in tracks.escapes.items()}
        if tracks.yield_t_ha is not None and not np.isnan(tracks.yield_t_ha[:, at]).any():
            told["yield_t_ha"] = summary(tracks.yield_t_ha[:, at])
        if tracks.lost is not None:
            told["lost"] = summary(tracks.lost[:, at])
        years.append(told)
    fails = {group: dict(zip(("q05", "q50", "q95"), projection.fails(group), strict=True)) for group in tracks.escapes}
    return {
        "name": projection.name,
        "years": years,
        "holds": projection.holds,
        "fails": fails,
        "start_m2": summary(tracks.start_m2),
        "spent": summary(np.asarray(projection.spent(discount))),
        "discount": discount,
        "currency": projection.programme.money.currency,
    }
