"""What one photo says of one leaf, or why it says nothing."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class LeafMeasure:
    """One leaf measured, or `refused`: then every number is NaN and `refused` says why and what to do.

    Lengths are in pixels of the full-size upright photo, along the curve of petiole and midrib, with standard errors
    `…_sd`; `ratio_sd` holds the doubt about the junction, both ends and, without a scale card, the camera's tilt.
    """

    refused: str | None = None
    reason: str | None = None
    petiole_blade_ratio: float = math.nan
    ratio_sd: float = math.nan
    petiole_px: float = math.nan
    petiole_sd: float = math.nan
    blade_px: float = math.nan
    blade_sd: float = math.nan
    width_px: float = math.nan
    width_sd: float = math.nan
    petiole_base: Point | None = None
    junction: Point | None = None
    tip: Point | None = None
    widest: tuple[Point, Point] | None = None
    axis: tuple[Point, ...] = ()
    length_width: float = math.nan
    length_width_sd: float = math.nan
    # Share of the blade's length, from the junction, at which it is widest; depth of a notch in the tip, same unit.
    widest_at: float = math.nan
    tip_notch: float = math.nan
    outline: Mapping[str, float] = field(default_factory=dict)
    chevron: str = "cannot_tell"
    mm_per_px: float | None = None
    mm_per_px_sd: float | None = None
    scale_from: str | None = None
    leaves_seen: int = 0

    @property
    def points(self) -> Mapping[str, Point]:
        """`petiole_base`, `junction`, `tip`: (x, y) in pixels of the full-size upright photo."""
        if self.petiole_base is None or self.junction is None or self.tip is None:
            return {}
        return {"petiole_base": self.petiole_base, "junction": self.junction, "tip": self.tip}

    def mm(self, pixels: float) -> float | None:
        """A length in millimetres, where the scale is known."""
        return None if self.mm_per_px is None else pixels * self.mm_per_px
