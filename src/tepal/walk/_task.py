"""What a plan was asked: the site, its risk, the time, and what is reckoned of them once for all drafts."""

from __future__ import annotations

from dataclasses import dataclass, field

from shapely.geometry.base import BaseGeometry

from tepal.walk._design import Zone
from tepal.walk._draft import Trip
from tepal.walk._passes import Passes
from tepal.walk._score import Score

# No more passes than this are put in order.
MOST_PASSES = 190
# A patch counts so much beside a plant where plants are looked for: it only tells equals apart.
FEW = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    site: BaseGeometry
    zones: list[Zone]
    score: Score
    rough: Score
    trip: Trip
    sigma_m: float
    rows: float | None
    headland_m: float
    # Passes over a zone by its number and spacing, as they take long to find.
    swept: dict[tuple[int, int], Passes] = field(default_factory=dict, repr=False)

    @property
    def even(self) -> bool:
        return len({zone.weight for zone in self.zones}) == 1
