"""A point as it was given, with the error that its digits leave."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Coordinates:
    """A point in degrees WGS84, with the error (1 sd, m) that its digits leave, and how it was read."""

    lon: float
    lat: float
    error_m: float
    by: Literal["coordinates", "link"]

    @property
    def text(self) -> str:
        """The normal form: latitude, then longitude, with letters."""
        return f"{abs(self.lat):.6f} {'NS'[self.lat < 0]}, {abs(self.lon):.6f} {'EW'[self.lon < 0]}"
