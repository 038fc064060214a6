"""Coordinates in other reference systems, brought to longitude and latitude."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from tepal.tables import Refused, Where

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Reproject = Callable[["BaseGeometry"], "BaseGeometry"]


def to_lonlat(definition: str, *, where: Where | str) -> Reproject:
    """A function that brings a shape from `definition` (an authority code or WKT) to WGS84, longitude first.

    Raises
    ------
    Refused
        If the definition is not known, or its coordinates are no places on the ground.
    """
    import numpy as np
    import shapely
    from pyproj import CRS, Transformer
    from pyproj.exceptions import ProjError

    try:
        frame = CRS.from_user_input(definition)
        if not (frame.is_geographic or frame.is_projected or frame.is_compound):
            raise ValueError
        transformer = Transformer.from_crs(frame, "EPSG:4326", always_xy=True)
    except (ProjError, ValueError, TypeError):
        said = " ".join(definition.split())[:60]
        raise Refused(
            f"the reference system {said!r} is not known",
            where=where,
            rule="Coordinates are in a reference system with a place on the ground.",
            step="Export in WGS84 (EPSG:4326).",
        ) from None

    def move(points: Any) -> Any:
        x, y = transformer.transform(points[:, 0], points[:, 1])
        return np.column_stack([x, y])

    def reproject(shape: BaseGeometry) -> BaseGeometry:
        moved: BaseGeometry = shapely.transform(shapely.force_2d(shape), move)
        return moved

    return reproject
