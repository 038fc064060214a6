"""A site that lies aslant, turned so that its long side runs along an axis: rows and edges run along its sides."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from tepal.stand._counts import Counts, Points

FloatArray = npt.NDArray[np.float64]

# A site that fills less of its smallest rectangle has no sides to go by; less than a degree is no slant.
_FILLS, _SLANT = 0.85, math.radians(1.0)


@dataclass(frozen=True, slots=True, eq=False)
class Turn:
    """A turn by `angle` (radians, counterclockwise) about a center, shape = (2,)."""

    angle: float
    center: FloatArray

    @classmethod
    def along(cls, site: BaseGeometry) -> Turn:
        """The turn that lays the smallest rectangle around a site along the axes; none where it has no sides."""
        around = shapely.minimum_rotated_rectangle(site)
        corners = shapely.get_coordinates(around)
        center = shapely.get_coordinates(site.centroid)[0]
        if len(corners) < 4 or site.area < _FILLS * around.area:
            return cls(0.0, center)
        sides = np.diff(corners[:3], axis=0)
        east, north = sides[int(np.argmax(np.hypot(*sides.T)))]
        # Either side may lie along either axis: the smaller turn is enough.
        slant = (math.atan2(north, east) + math.pi / 4) % (math.pi / 2) - math.pi / 4
        return cls(-slant if abs(slant) > _SLANT else 0.0, center)

    def counts(self, counts: Counts) -> Counts:
        x, y = self._places(np.column_stack([counts.x_m, counts.y_m]), self.angle).T
        return counts if not self.angle else Counts(x, y, counts.area_m2, counts.count)

    def points(self, points: Points) -> Points:
        x, y = self._places(np.column_stack([points.x_m, points.y_m]), self.angle).T
        return points if not self.angle else Points(x, y, points.area_m2)

    def shape(self, shape: Any) -> Any:
        """A shape, or an array of shapes, turned."""
        return shape if not self.angle else shapely.transform(shape, lambda p: self._places(p, self.angle))

    def back(self, shape: Any) -> Any:
        """A turned shape, or an array of them, as it lay before."""
        return shape if not self.angle else shapely.transform(shape, lambda p: self._places(p, -self.angle))

    def places_back(self, places: FloatArray) -> FloatArray:
        """Turned places, shape = (n, 2), as they lay before."""
        return self._places(places, -self.angle) if self.angle else places

    def _places(self, places: FloatArray, angle: float) -> FloatArray:
        turned = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
        return np.asarray((places - self.center) @ turned.T + self.center)
