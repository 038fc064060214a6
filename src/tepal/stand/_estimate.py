"""From counts to density, total, predictions and patches: one posterior, drawn from in four ways."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import MultiPoint
from shapely.geometry.base import BaseGeometry

from tepal.doubt import Samples
from tepal.stand._counts import Counts, Points
from tepal.stand._covariates import Covariates, Surface, Told, ratio_of
from tepal.stand._patches import Patch, patches_of
from tepal.stand._posterior import mean_draws, posterior_of
from tepal.stand._predict import Predicted, predict
from tepal.stand._total import Cells, density_draws
from tepal.stand._turn import Turn
from tepal.tables import Refused

FloatArray = npt.NDArray[np.float64]

DRAWS = 2000

__all__ = ["DRAWS", "DensityMap", "Patch", "StandEstimate", "Told", "estimate"]


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
    sentences. covariates: what the counts tell of each that was given.
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
    covariates: tuple[Told, ...] = ()

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
    covariates: Mapping[str, Surface] | None = None,
    rng: np.random.Generator,
) -> StandEstimate:
    """Density, total on the site, predictions for new counts and patches, from counts on known areas.

    Parameters
    ----------
    counts : where, on how many square metres, how many
    boundary : the site, polygon or multipolygon in metres, in the frame of the counts
    at : places and areas of new counts to predict
    covariates : what density may go with, each a function of places (n, 2), metres, to values (n,); at most four
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
    turn = Turn(0.0, np.zeros(2)) if boundary is None else Turn.along(boundary)
    counts = turn.counts(counts)
    site = None if boundary is None else turn.shape(boundary)
    cells = None if site is None else Cells.of(site, counts, inside)
    where = np.column_stack([counts.x_m, counts.y_m])
    known, silent = Covariates.of(
        covariates or {}, turn.places_back(where if cells is None else np.vstack([where, cells.centres]))
    )
    warnings += [f"{name} is the same everywhere and says nothing." for name in silent]

    def beside(places: FloatArray) -> FloatArray:
        return known.beside(places, turn.places_back(places)) if known.names else places

    posterior = posterior_of(counts, beside(where), _extent(counts, site))
    total: Samples | None = None
    patches: tuple[Patch, ...] = ()
    drawn: DensityMap | None = None
    ratios: list[FloatArray | None] = [None] * len(known.names)
    counted = (float(counts.count[inside].sum()), float(counts.area_m2[inside].sum()))
    if site is None or cells is None:
        density = Samples(mean_draws(posterior, rng, DRAWS))
    else:
        if counted[1] > 1.01 * site.area:
            warnings.append("The areas counted add to more than the site: some ground was counted twice.")
        places = beside(cells.centres)
        local, unseen = density_draws(posterior, cells, places, rng, DRAWS)
        totals = unseen + counted[0]
        total = Samples(totals)
        density = Samples(totals / site.area)
        ratios = [ratio_of(local, cells.area_m2, places[:, 2 + k]) for k in range(len(known.names))]
        patches = tuple(replace(patch, outline=turn.back(patch.outline)) for patch in patches_of(local, cells))
        drawn = DensityMap(turn.back(cells.pieces), cells.area_m2, local)
    if at is not None:
        at = turn.points(at)
    return StandEstimate(
        density=density,
        total=total,
        at=None if at is None else predict(posterior, at, beside(np.column_stack([at.x_m, at.y_m]))),
        patches=patches,
        map=drawn,
        field_share=posterior.field_share(),
        counted=counted,
        outside=int((~inside).sum()),
        area_m2=math.nan if site is None else float(site.area),
        warnings=tuple(warnings),
        covariates=tuple(
            Told(name, posterior.weight_of(2 + k), ratio)
            for k, (name, ratio) in enumerate(zip(known.names, ratios, strict=True))
        ),
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
