"""A flat frame for one site: east and north in metres from a point in or near it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import shapely

if TYPE_CHECKING:
    from pyproj import Transformer
    from shapely.geometry.base import BaseGeometry

FloatArray = npt.NDArray[np.float64]


@lru_cache(maxsize=64)
def _transformer(lon: float, lat: float) -> Transformer:
    from pyproj import CRS, Transformer

    # Azimuthal equidistant about the site: lengths off by less than 1 in 10^6 at 10 km, with no zone to choose and
    # no scale factor (a UTM zone is off by up to 4 in 10^4, 8 in 10^4 of an area).
    flat = CRS.from_proj4(f"+proj=aeqd +lat_0={lat!r} +lon_0={lon!r} +datum=WGS84 +units=m +no_defs")
    return Transformer.from_crs(CRS.from_epsg(4326), flat, always_xy=True)


@dataclass(frozen=True, slots=True)
class Frame:
    """A flat frame centred on (`lon`, `lat`) in degrees WGS84."""

    lon: float
    lat: float

    @classmethod
    def around(cls, geometry: BaseGeometry) -> Frame:
        """The frame centred on a geometry given in lon/lat degrees, rounded so that it is the same on every machine."""
        centre = shapely.centroid(geometry)
        return cls(round(float(centre.x), 6), round(float(centre.y), 6))

    def to_metres(self, lonlat: npt.ArrayLike) -> FloatArray:
        """Degrees to metres. `lonlat` has shape = (n, 2) or (2,); so has the answer (east, north)."""
        return self._apply(lonlat, "FORWARD")

    def to_lonlat(self, metres: npt.ArrayLike) -> FloatArray:
        """Metres to degrees. `metres` has shape = (n, 2) or (2,); so has the answer (lon, lat)."""
        return self._apply(metres, "INVERSE")

    def geometry_to_metres(self, geometry: BaseGeometry) -> Any:
        """A shapely geometry from degrees to metres."""
        return shapely.transform(geometry, self.to_metres)

    def geometry_to_lonlat(self, geometry: BaseGeometry) -> Any:
        """A shapely geometry from metres to degrees."""
        return shapely.transform(geometry, self.to_lonlat)

    def _apply(self, points: npt.ArrayLike, direction: str) -> FloatArray:
        values = np.asarray(points, dtype=np.float64)
        flat = np.atleast_2d(values)
        first, second = _transformer(self.lon, self.lat).transform(flat[:, 0], flat[:, 1], direction=direction)
        return np.column_stack([first, second]).reshape(values.shape)
