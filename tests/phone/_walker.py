"""Somebody who walks, as a noisy receiver tells of them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from phone._fake import fix
from phone._office import MIDDLE

if TYPE_CHECKING:
    from playwright.sync_api import Page

M = 1 / 111_195
EAST = M / math.cos(math.radians(MIDDLE[1]))


class Receiver:
    """Somebody walks east at 1.2 m/s; the receiver says so with noise of 4 m."""

    def __init__(self) -> None:
        self.rng = np.random.default_rng(20260618)
        self.t, self.east = 0.0, -150.0

    @property
    def truth(self) -> tuple[float, float]:
        return MIDDLE[0] + self.east * EAST, MIDDLE[1]

    def walk(self, page: Page, seconds: int) -> None:
        for _ in range(seconds):
            self.t, self.east = self.t + 1, self.east + 1.2
            lon, lat = self.truth
            noise = self.rng.normal(0, 4, 2)
            fix(page, lon + noise[0] * EAST, lat + noise[1] * M, 6.0, self.t)

    def lose_sight(self, seconds: int) -> None:
        self.t, self.east = self.t + seconds, self.east + 1.2 * seconds
