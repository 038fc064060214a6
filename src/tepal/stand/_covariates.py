"""What may go along with density: the way to the edge or to water, or anything measured, as a surface over the site."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from scipy.spatial import cKDTree
from shapely.geometry.base import BaseGeometry

from tepal.tables import Refused

FloatArray = npt.NDArray[np.float64]
# A covariate: places in metres, shape = (n, 2), to its values, shape = (n,).
Surface = Callable[[FloatArray], FloatArray]

# Ten metres more matter near a line and not far from it: a distance is told as log(1 + d/10 m).
_NEAR_M = 10.0
# Values further out than this many standard deviations are drawn in: one slip of the pen must not rule the scale.
_FAR = 4.0
_MOST = 4


def distance_to(lines: BaseGeometry) -> Surface:
    """The way to the nearest of `lines` (metres), as log(1 + d/10 m)."""
    shapely.prepare(lines)
    return lambda places: np.log1p(shapely.distance(lines, shapely.points(places)) / _NEAR_M)


def nearest_known(places: npt.ArrayLike, values: npt.ArrayLike) -> Surface:
    """What was noted at the nearest of `places` (n, 2), metres, where `values` (n,) are known."""
    known = np.array(values, dtype=np.float64)
    tree = cKDTree(np.asarray(places, dtype=np.float64).reshape(-1, 2))
    return lambda asked: np.asarray(known[tree.query(asked)[1]])


@dataclass(frozen=True, slots=True, eq=False)
class Covariates:
    """Surfaces by name, each with the middle and spread by which it is put in standard deviations."""

    names: tuple[str, ...] = ()
    surfaces: tuple[Surface, ...] = ()
    middle: tuple[float, ...] = ()
    spread: tuple[float, ...] = ()

    @classmethod
    def of(cls, surfaces: Mapping[str, Surface], places: FloatArray) -> tuple[Covariates, tuple[str, ...]]:
        """Those that differ among `places` (n, 2), and the names of those that do not and so say nothing.

        Raises
        ------
        Refused
            If there are more than four, or a value is not finite.
        """
        if len(surfaces) > _MOST:
            raise Refused(
                f"{len(surfaces)} covariates",
                where="covariates",
                rule=f"At most {_MOST}: each more finds its likeness in so few counts by luck.",
                step="Name those that you would bet on.",
            )
        kept: list[tuple[str, Surface, float, float]] = []
        for name, surface in surfaces.items():
            values = np.asarray(surface(places), dtype=np.float64)
            if not np.isfinite(values).all():
                raise Refused(f"{name} is no number", where="covariates", rule="All are finite.", step="Correct it.")
            spread = float(values.std())
            if spread > 1e-9 * max(1.0, float(np.abs(values).max())):
                kept.append((name, surface, float(values.mean()), spread))
        found = cls(*(tuple(column) for column in zip(*kept, strict=True))) if kept else cls()
        return found, tuple(name for name in surfaces if name not in found.names)

    def beside(self, places: FloatArray, lying: FloatArray) -> FloatArray:
        """`places` (n, 2) with a column for each covariate, its value at `lying` (n, 2) in standard deviations."""
        columns = [
            np.clip((surface(lying) - middle) / spread, -_FAR, _FAR)
            for surface, middle, spread in zip(self.surfaces, self.middle, self.spread, strict=True)
        ]
        return np.column_stack([places, *columns])


@dataclass(frozen=True, slots=True, eq=False)
class Told:
    """What the counts tell of one covariate.

    weight: probability that density goes with it (before the counts, less than 0.24). ratio: draws of the mean density
    on the quarter of the site where it is highest over that where it is lowest, None without a boundary.
    """

    name: str
    weight: float
    ratio: FloatArray | None


def ratio_of(density: FloatArray, area_m2: FloatArray, values: FloatArray) -> FloatArray:
    """Mean density of the quarter of the ground with the highest values over that with the lowest, shape = (draws,).

    `density` (draws, cells), `area_m2` (cells,), `values` (cells,).
    """
    order = np.argsort(values, kind="stable")
    passed = np.cumsum(area_m2[order]) / area_m2.sum()
    # Cells of one value belong together: the outermost cell always counts.
    low = order[(passed <= 0.25) | (np.arange(order.size) == 0)]
    high = order[(passed > 0.75) | (np.arange(order.size) == order.size - 1)]
    top, bottom = (np.average(density[:, part], axis=1, weights=area_m2[part]) for part in (high, low))
    return np.asarray(np.maximum(top, 1e-12) / np.maximum(bottom, 1e-12))
