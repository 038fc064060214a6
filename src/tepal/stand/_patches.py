"""Where it stands thick: outlines with the probability that they do."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from tepal.stand._total import Cells

FloatArray = npt.NDArray[np.float64]

# Thick: at least this many times the mean density of the site. Drawn where that is likelier than not.
TIMES = 2.0
LIKELY = 0.5


@dataclass(frozen=True, slots=True)
class Patch:
    """One connected outline (metres): `probability` that ground in it has at least `above_per_m2` plants/m2
    (mean over its cells), hectares, and the share of the site's plants expected in it."""

    outline: BaseGeometry
    probability: float
    hectares: float
    above_per_m2: float
    share_of_plants: float


def patches_of(density: FloatArray, cells: Cells) -> tuple[Patch, ...]:
    """Connected cells whose density is likelier than not at least twice the site's mean of the same draw.

    `density` (n, m): draws of each cell's density. Largest share of plants first; none where no cell qualifies.
    """
    share = cells.area_m2 / cells.area_m2.sum()
    mean = density @ share
    thick = (density >= TIMES * mean[:, None]) & (mean[:, None] > 0)
    chance = thick.mean(axis=0)
    chosen = np.flatnonzero(chance >= LIKELY)
    if chosen.size == 0:
        return ()
    plants = (density * share).mean(axis=0)
    plants = plants / max(float(plants.sum()), 1e-300)
    # Cells that touch by an edge grow together; a corner alone would make an outline that crosses itself.
    merged = shapely.union_all(cells.pieces[chosen])
    above = float(TIMES * np.median(mean))
    found = []
    for outline in getattr(merged, "geoms", [merged]):
        if outline.area <= 0:
            continue
        shapely.prepare(outline)
        mine = chosen[shapely.intersects_xy(outline, cells.centres[chosen, 0], cells.centres[chosen, 1])]
        if mine.size == 0:
            continue
        probability = float(np.average(chance[mine], weights=cells.area_m2[mine]))
        found.append(Patch(outline, probability, float(outline.area) / 1e4, above, float(plants[mine].sum())))
    return tuple(sorted(found, key=lambda patch: -patch.share_of_plants))
