"""The picture in which leaves are found: a photo made to one size, and parts of it seen from nearer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

# So many pixels it has, 1,000 on its longer side in a photo of 4:3.
WORKING = 750_000
# A small leaf is looked at from nearer: with so much about it (of its longer side), enlarged by no more than that
# against the pixels there are, and only if it becomes so much larger.
_SPARE, _MOST_GROWN, _WORTH_IT = 0.3, 1.2, 1.3


def working_scale(width: int, height: int) -> float:
    """Working pixels for one pixel of a photo of that size."""
    return float((WORKING / (width * height)) ** 0.5)


@dataclass(frozen=True)
class Photo:
    """`picture` (h, w, 3; uint8) of `WORKING` pixels in all. `width`, `height`: of the upright photo in full.

    `scale`: working pixels for one pixel of the full photo; above 1 for small photos. `left`, `top`: where the picture
    begins, in pixels of the full photo; `kept`: the photo as a Pillow image of more pixels, to go nearer. `squeezed`:
    mean step of brightness (of 255) to which a JPEG's waves were rounded, as far as it shows in the working pixels.
    """

    picture: NDArray[np.uint8]
    width: int
    height: int
    scale: float
    left: float = 0.0
    top: float = 0.0
    kept: Any = None
    squeezed: float = 0.0

    def full(self, x: float, y: float) -> tuple[float, float]:
        """Working pixels → pixels of the full upright photo; the centre of the first pixel is (0, 0) in both."""
        return ((x + 0.5) / self.scale - 0.5 + self.left, (y + 0.5) / self.scale - 0.5 + self.top)

    def whole(self, points: NDArray[Any]) -> NDArray[Any]:
        """Points of this picture (n, 2) → points of the working picture of the whole photo."""
        scale = working_scale(self.width, self.height)
        return np.asarray(((points + 0.5) / self.scale + [self.left, self.top]) * scale - 0.5)

    def nearer(self, box: tuple[slice, slice]) -> Photo | None:
        """The part about a box (rows, columns) of the picture, enlarged as far as the photo has pixels for it; None
        where that is not worth it."""
        from PIL import Image

        if self.kept is None:
            return None
        rows, columns = box
        spare = _SPARE * max(rows.stop - rows.start, columns.stop - columns.start)
        finer = self.kept.width / self.width
        sides = (columns.start, rows.start, columns.stop, rows.stop)
        low = [max(0, int((v - spare) / self.scale * finer)) for v in sides[:2]]
        high = [
            min(most, int((v + spare) / self.scale * finer) + 1)
            for v, most in zip(sides[2:], self.kept.size, strict=True)
        ]
        wide, tall = high[0] - low[0], high[1] - low[1]
        grow = min((WORKING / max(1, wide * tall)) ** 0.5, _MOST_GROWN)
        if grow * finer < _WORTH_IT * self.scale:
            return None
        size = (max(1, round(wide * grow)), max(1, round(tall * grow)))
        kind = Image.Resampling.BOX if grow < 1 else Image.Resampling.BICUBIC
        picture = np.asarray(self.kept.resize(size, kind, box=(*low, *high)))
        return Photo(picture, self.width, self.height, size[0] / wide * finer, low[0] / finer, low[1] / finer)
