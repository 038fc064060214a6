"""What every printed map of a site has: shapes as outlines, a scale."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import shapely

from tepal.cli._clock_picture import INK

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from tepal.words import Words


def outline_path(area: BaseGeometry) -> Any:
    """The rings of an area as one path, holes left open."""
    from matplotlib.path import Path as Outline

    rings = shapely.get_rings(shapely.get_parts(area))
    return Outline.make_compound_path(
        *(Outline(shapely.get_coordinates(ring), closed=True) for ring in rings if ring is not None)
    )


def scale_bar(axes: Any, x: float, y: float, wide: float, words: Words) -> None:
    """A bar of a round length, about a fifth of `wide`, with its length in words."""
    unit = 0.3048 if words.units == "us" else 1.0
    raw = wide / 5 / unit
    power = 10 ** math.floor(math.log10(raw))
    nice = max(k for k in (1, 2, 5) if k * power <= raw) * power * unit
    axes.plot([x, x + nice], [y, y], color=INK, linewidth=2.2, zorder=5, solid_capstyle="butt", clip_on=False)
    axes.text(x + nice, y, "  " + words.length(nice), fontsize=9, color=INK, va="center")
