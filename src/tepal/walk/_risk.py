"""Where they are likelier to stand, from what is on record: edges, entries, waterways, and where they stood before."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from tepal.walk._absence import RiskZone

# How many times as many plants as elsewhere, and how far from it, metres. All of it is judgement: seed comes in with
# machines, water and field edges, and most of all from plants that shed there before.
RISKS = {
    "edge": (3.0, 15.0),
    "yard": (3.0, 20.0),
    "waterway": (4.0, 15.0),
    "gate": (5.0, 30.0),
    "entry": (5.0, 30.0),
    "seen": (10.0, 20.0),
}


def risk_zones(site: BaseGeometry, features: Sequence[tuple[str, BaseGeometry]]) -> tuple[RiskZone, ...]:
    """Zones of a site (metres) by kind: its own edge, and a belt about each feature of a kind in `RISKS`.

    `features`: kind and shape; `seen` is a place where plants were counted or seen in an earlier year. Kinds that are
    not in `RISKS` are left out.
    """
    at_edge, width = RISKS["edge"]
    zones = [RiskZone(site.difference(site.buffer(-width)), at_edge)]
    for kind, (weight, reach) in RISKS.items():
        shapes = [shape for name, shape in features if name == kind]
        if shapes:
            zones.append(RiskZone(shapely.union_all([shape.buffer(reach) for shape in shapes]), weight))
    return tuple(zone for zone in zones if zone.area.intersects(site))
