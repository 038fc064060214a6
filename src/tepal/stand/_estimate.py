"""From counts to density, total, predictions and patches: one posterior, drawn from in four ways."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import MultiPoint
from shapely.geometry.base import BaseGeometry

from tepal.doubt import Samples
from tepal.stand._counts import Counts, Points
from tepal.stand._patches import Patch, patches_of
from tepal.stand._posterior import mean_draws, posterior_of
from tepal.stand._predict import Predicted, predict
from tepal.stand._total import Cells, density_draws
from tepal.stand._turn import Turn
from tepal.tables import Refused

FloatArray = npt.NDArray[np.float64]

DRAWS = 2000

__all__ = ["DRAWS", "DensityMap", "Patch", "StandEstimate", "estimate"]


@dataclass(frozen=True, slots=True, eq=False)
class DensityMap:
    """The site cut into m pieces: their shapes (m,), area (m,), and draws of their density (n, m), plants/m2."""

    pieces: npt.NDArray[Any]
    area_m2: FloatArray
    density: FloatArray

    def quantile(self, p: float) -> FloatArray:
        """Quantile of the density in each piece, shape = (m,)."""
        return np.asarray(np.quantile(self.density, p, axis=0))

    def chance_above(self, density_per_m2: float) -> FloatArray:
        """Probability that a piece has at least this many plants/m2, shape = (m,)."""
        return np.asarray((self.density >= density_per_m2).mean(axis=0))


@dataclass(frozen=True, slots=True, eq=False)
class StandEstimate:
    """How many and where.

    density: plants/m2, the mean over the site with a boundary; without one, the mean of ground like that counted.
    total: plants on the site, None without a boundary. at: predictions, None where no points were asked. patches:
    where it stands thick, empty without a boundary. map: density piece by piece, None without a boundary. field_share:
    probability that neighbouring counts hang together. counted: plants and square metres counted inside the boundary
    (all without one). outside: how many counts lie outside. area_m2: of the site, NaN without a boundary. warnings:
    sentences.
    """

    density: Samples
    total: Samples | None
    at: Predicted | None
    patches: tuple[Patch, ...]
    map: DensityMap | None
    field_share: float
    counted: tuple[float, float]
    outside: int
    area_m2: float
    warnings: tuple[str, ...]

    def draws(self, rng: np.random.Generator, n: int) -> FloatArray:
        """Totals, shape = (n,).

        Raises
        ------
        Refused
            If there was no boundary.
        """
        if self.total is None:
            raise Refused(
                "no boundary", where="stand", rule="A total needs the site's boundary.", step="Draw the boundary."
            )
        return self.total.draws(rng, n)


def estimate(
    counts: Counts,
    *,
    boundary: BaseGeometry | None = None,
    at: Points | None = None,
    rng: np.random.Generator,
) -> StandEstimate:
    """Density, total on the site, predictions for new counts and patches, from counts on known areas.

    Parameters
    ----------
    counts : where, on how many square metres, how many
    boundary : the site, polygon or multipolygon in metres, in the frame of the counts
    at : places and areas of new counts to predict
    rng : randomness of the draws and of the list of parameters that is averaged over

    The model is told in `_margin` and `_field`. Counts outside the boundary inform the density and are no part of the
    total. Stops chosen because plants were seen there make every figure too high: a warning says so where the counts
    tell it; `with_passed` mends it where the track is known. With a boundary that lies aslant, the axes of the field
    are those of its sides.
    """
    inside = np.ones(len(counts), dtype=np.bool_)
    warnings: list[str] = []
    if boundary is not None:
        if boundary.is_empty or not boundary.area > 0:
            raise Refused("an empty boundary", where="boundary", rule="A site has an area.", step="Draw it again.")
        shapely.prepare(boundary)
        inside = np.asarray(shapely.intersects_xy(boundary, counts.x_m, counts.y_m))
        if not inside.all():
            warnings.append(
                f"{int((~inside).sum())} of {len(counts)} counts lie outside the boundary: they tell how dense such "
                "ground is, and are no part of the total."
            )
    warnings += _chosen(counts)
    turn = None if boundary is None else Turn.along(boundary)
    if turn is not None and boundary is not None:
        counts, boundary = turn.counts(counts), turn.shape(boundary)
        at = None if at is None else turn.points(at)
    posterior = posterior_of(counts, _extent(counts, boundary))

    total: Samples | None = None
    patches: tuple[Patch, ...] = ()
    drawn: DensityMap | None = None
    counted = (float(counts.count[inside].sum()), float(counts.area_m2[inside].sum()))
    if boundary is None:
        density = Samples(mean_draws(posterior, rng, DRAWS))
    else:
        if counted[1] > 1.01 * boundary.area:
            warnings.append("The areas counted add to more than the site: some ground was counted twice.")
        cells = Cells.of(boundary, counts, inside)
        local, unseen = density_draws(posterior, cells, rng, DRAWS)
        totals = unseen + counted[0]
        total = Samples(totals)
        density = Samples(totals / boundary.area)
        assert turn is not None
        patches = tuple(replace(patch, outline=turn.back(patch.outline)) for patch in patches_of(local, cells))
        drawn = DensityMap(turn.back(cells.pieces), cells.area_m2, local)
    return StandEstimate(
        density=density,
        total=total,
        at=None if at is None else predict(posterior, at),
        patches=patches,
        map=drawn,
        field_share=posterior.field_share(),
        counted=counted,
        outside=int((~inside).sum()),
        area_m2=float(boundary.area) if boundary is not None else math.nan,
        warnings=tuple(warnings),
    )


def _chosen(counts: Counts) -> list[str]:
    """A warning where no stop was empty, though by the ones and twos some should have been (Chao 1984: f1²/2 f2)."""
    ones, twos = (float((counts.count == k).sum()) for k in (1, 2))
    empty = ones * (ones - 1) / (2 * (twos + 1))
    if (counts.count == 0).any() or len(counts) < 8 or empty < max(2.0, 0.1 * len(counts)):
        return []
    return [
        f"None of the {len(counts)} stops was without plants, though about {empty:.0f} such stops would be expected. "
        "If stops were made where plants were seen, density and total are too high: count at places set beforehand too."
    ]


def _extent(counts: Counts, boundary: BaseGeometry | None) -> float:
    shape = boundary if boundary is not None else MultiPoint(np.column_stack([counts.x_m, counts.y_m]))
    west, south, east, north = shape.bounds
    return math.hypot(east - west, north - south)
