"""What a route would find: one plant, one patch, and the share of each zone that it sees."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from shapely.geometry.base import BaseGeometry

from tepal.walk._assumed import PATCH_PLANTS, PATCH_SD_M
from tepal.walk._raster import Raster

FloatArray = npt.NDArray[np.float64]

# The sight beyond this many widths gives a ten-thousandth of what a route finds.
_REACH = 4.5
# Cells for a patch of sd 8 m need not be finer than this.
_PATCH_CELL_M = 2.0


@dataclass(frozen=True, eq=False)
class Score:
    """The site's grids with their weights; everything that a route finds is asked here."""

    grids: tuple[Raster, ...]
    weights: tuple[FloatArray, ...]
    sigma_m: float

    @classmethod
    def of(
        cls, site: BaseGeometry, prior: Sequence[tuple[BaseGeometry, float]], sigma_m: float, *, rough: bool = False
    ) -> Score:
        """`rough`: on cells twice as wide, good enough to tell drafts apart."""
        grids = Raster.each(site, 2 * sigma_m if rough else sigma_m)
        return cls(grids, tuple(grid.weights(prior) for grid in grids), sigma_m)

    @cached_property
    def mass(self) -> float:
        """The weight of all cells."""
        return float(sum(weight.sum() for weight in self.weights))

    def seen(self, route: FloatArray) -> tuple[FloatArray, ...]:
        """Chance of seeing a plant in each cell of each grid."""
        return tuple(grid.seen([route], self.sigma_m, reach=_REACH) for grid in self.grids)

    def by_weight(self, prior: Sequence[tuple[BaseGeometry, float]], seen: Sequence[FloatArray]) -> dict[float, float]:
        """For each weight of the prior, the heaviest first, the mean chance of seeing a plant there."""
        cells: dict[float, float] = {}
        found: dict[float, float] = {}
        for grid, q in zip(self.grids, seen, strict=True):
            for weight, share in grid.shares(prior):
                cells[weight] = cells.get(weight, 0.0) + float(share.sum())
                found[weight] = found.get(weight, 0.0) + float(np.vdot(share, q))
        return {weight: found[weight] / cells[weight] for weight in sorted(cells, reverse=True) if cells[weight] > 0}

    def plant(self, seen: Sequence[FloatArray]) -> float:
        """Chance of seeing one plant that falls by weight."""
        return float(sum(np.vdot(w, q) for w, q in zip(self.weights, seen, strict=True))) / self.mass

    def patch(self, seen: Sequence[FloatArray]) -> float:
        """Chance of seeing at least one plant of a patch whose center falls by weight; its plants stand on the site."""
        found = 0.0
        for patches, q in zip(self._patches, seen, strict=True):
            found += float(np.vdot(patches.weight, 1 - (1 - patches.mean(q)) ** PATCH_PLANTS))
        return found / self.mass

    @cached_property
    def _patches(self) -> tuple[_PatchGrid, ...]:
        return tuple(_PatchGrid.of(grid, weight) for grid, weight in zip(self.grids, self.weights, strict=True))

    @cached_property
    def worth(self) -> tuple[FloatArray, ...]:
        """What a metre walked through each cell finds where nothing was seen yet, in square metres of weight 1."""
        from scipy.ndimage import gaussian_filter

        per_metre = self.sigma_m * math.sqrt(2 * math.pi)
        return tuple(
            per_metre * gaussian_filter(weight, self.sigma_m / grid.step, mode="constant", truncate=3)
            for grid, weight in zip(self.grids, self.weights, strict=True)
        )

    def worth_of(self, passes: Sequence[FloatArray]) -> FloatArray:
        """What each pass finds if walked alone, shape = (n,)."""
        spacing = max(self.grids[0].step, self.sigma_m / 2)
        places, share, owner = [], [], []
        for nth, points in enumerate(passes):
            legs = np.hypot(*np.diff(points, axis=0).T)
            along = np.concatenate([[0.0], np.cumsum(legs)])
            count = max(1, math.ceil(along[-1] / spacing))
            at = (np.arange(count) + 0.5) * along[-1] / count
            places.append(np.column_stack([np.interp(at, along, points[:, k]) for k in (0, 1)]))
            share.append(np.full(count, along[-1] / count))
            owner.append(np.full(count, nth))
        if not places:
            return np.zeros(0)
        where, metres, which = np.concatenate(places), np.concatenate(share), np.concatenate(owner)
        value = np.zeros(len(where))
        for grid, worth in zip(self.grids, self.worth, strict=True):
            column = np.floor((where[:, 0] - grid.x[0]) / grid.step + 0.5).astype(np.int64)
            row = np.floor((where[:, 1] - grid.y[0]) / grid.step + 0.5).astype(np.int64)
            on = (column >= 0) & (row >= 0) & (column < len(grid.x)) & (row < len(grid.y))
            value[on] = worth[row[on], column[on]]
        summed: FloatArray = np.bincount(which, value * metres, len(passes)).astype(np.float64)
        return summed

    def with_patches(self, seen: Sequence[FloatArray], patches: float) -> tuple[FloatArray, ...]:
        """What seeing a little more of each cell adds to `plant` + `patches` · `patch`, on the scale of the weights."""
        gained = []
        for weight, grid, patch, q in zip(self.weights, self.grids, self._patches, seen, strict=True):
            gained.append(weight + patches * patch.gain(q)[: weight.shape[0], : weight.shape[1]] * grid.inside)
        return tuple(gained)

    def cells(self, cell_m: float, weights: Sequence[FloatArray] | None = None) -> tuple[FloatArray, FloatArray]:
        """Coarse cells that hold risk, or other `weights`: centers, shape = (n, 2), and the weight in each."""
        every = self.weights if weights is None else weights
        centers, weights = [], []
        for grid, weight in zip(self.grids, every, strict=True):
            k = max(1, round(cell_m / grid.step))
            mass = _blocks(weight, k)
            row, column = np.nonzero(mass)
            offset = (k - 1) / 2 * grid.step
            center = np.column_stack([grid.x[0] + column * k * grid.step, grid.y[0] + row * k * grid.step])
            centers.append(center + offset)
            weights.append(mass[row, column])
        return np.concatenate(centers), np.concatenate(weights)


@dataclass(frozen=True, eq=False)
class _PatchGrid:
    """Blocks of a grid's cells, fine enough for patches: weight, and the share of a patch on the site."""

    blocks: int
    sd: float
    weight: FloatArray
    inside: FloatArray
    share: FloatArray

    @classmethod
    def of(cls, grid: Raster, weight: FloatArray) -> _PatchGrid:
        k = max(1, int(_PATCH_CELL_M / grid.step))
        sd = PATCH_SD_M / (grid.step * k)
        inside = _blocks(grid.inside, k) / k**2
        share = _spread(inside, sd)
        return cls(k, sd, _blocks(weight, k), grid.inside, np.where(share > 1e-12, share, np.inf))

    def mean(self, q: FloatArray) -> FloatArray:
        """The mean chance of seeing a plant of a patch, by its center; all its plants stand on the site."""
        seen = _blocks(q * self.inside, self.blocks) / self.blocks**2
        return np.asarray(np.clip(_spread(seen, self.sd) / self.share, 0.0, 1.0))

    def gain(self, q: FloatArray) -> FloatArray:
        """Patches found more, by weight, for each bit that a cell is seen more: the derivative at `q`, cell by cell."""
        by_center = self.weight * PATCH_PLANTS * (1 - self.mean(q)) ** (PATCH_PLANTS - 1) / self.share
        blocks = _spread(by_center, self.sd) / self.blocks**2
        return blocks.repeat(self.blocks, axis=0).repeat(self.blocks, axis=1)


def _spread(values: FloatArray, sd: float) -> FloatArray:
    from scipy.ndimage import gaussian_filter  # here, as it is slow to load

    return np.asarray(gaussian_filter(values, sd, mode="constant", truncate=4))


def _blocks(values: FloatArray, k: int) -> FloatArray:
    """Sums over blocks of k by k cells; what is missing at the far edges counts as 0."""
    if k == 1:
        return values
    rows, columns = values.shape[:2]
    padded: FloatArray = np.pad(values, ((0, -rows % k), (0, -columns % k)))
    blocks = padded.reshape(padded.shape[0] // k, k, -1, k)
    summed: FloatArray = blocks.sum(axis=(1, 3))
    return summed
