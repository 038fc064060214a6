"""What belongs to a leaf across a gap."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from tepal.leaf._ground import Bools, Floats

# In pixels of the working picture, and sds from the ground: the widest gap, the smallest and faintest thing joined.
_FARTHEST_GAP, _SMALLEST, _FAINTEST = 45.0, 100, 6.5
_RIM = 15


@dataclass(frozen=True)
class _Bar:
    rows: NDArray[np.intp]
    columns: NDArray[np.intp]

    @property
    def length(self) -> float:
        return max(float(np.ptp(self.rows)), float(np.ptp(self.columns)), 1.0)

    @property
    def half(self) -> float:
        """Half its width, as if it were straight along one side of the picture."""
        return max(1.0, len(self.rows) / self.length / 2)


def joined(likely: Bools, lamina: Bools, unlike: Floats) -> Bools:
    """Long thin things that point at the greenest thing across a gap are joined to it.

    A crease, glare, or a neutral mixture of red and green lies between a petiole and its blade, or between two parts of
    a petiole.
    """
    label, count = ndimage.label(likely, structure=np.ones((3, 3)))
    if count < 2:
        return likely
    index = np.arange(1, count + 1)
    area = ndimage.sum_labels(likely, label, index)
    strength = ndimage.mean(unlike, label, index)
    main = 1 + int(np.argmax(ndimage.sum_labels(lamina & likely, label, index)))
    loose = []
    for k, box in enumerate(ndimage.find_objects(label), start=1):
        if k == main or area[k - 1] < _SMALLEST or strength[k - 1] <= _FAINTEST or _is_rim(box, likely.shape):
            continue
        rows, columns = np.nonzero(label[box] == k)
        bar = _Bar(rows + box[0].start, columns + box[1].start)
        small, large = np.linalg.eigvalsh(np.cov(np.vstack([bar.rows, bar.columns])))
        if large > 5 * max(small, 0.2):
            loose.append(bar)
    leaf = label == main
    for _ in range(4):
        best = _nearest(leaf, loose) if loose else None
        if best is None:
            break
        bar, here, there = best
        leaf[bar.rows, bar.columns] = True
        _bridge(leaf, here, there, bar.half)
        loose = [other for other in loose if other is not bar]
    return np.asarray(likely | leaf)


_Place = tuple[int, int]


def _nearest(leaf: Bools, loose: list[_Bar]) -> tuple[_Bar, _Place, _Place] | None:
    """The bar with the narrowest gap that points at the leaf, and the two ends of the gap."""
    away, nearest = ndimage.distance_transform_edt(~leaf, return_indices=True)
    best: tuple[_Bar, _Place, _Place] | None = None
    narrowest = np.inf
    for bar in loose:
        i = int(np.argmin(away[bar.rows, bar.columns]))
        here = (int(bar.rows[i]), int(bar.columns[i]))
        there = (int(nearest[0][here]), int(nearest[1][here]))
        gap = float(away[here])
        if gap > min(_FARTHEST_GAP, 6 + 0.35 * bar.length) or gap >= narrowest:
            continue
        ahead = np.array([bar.rows.mean() - there[0], bar.columns.mean() - there[1]])
        along = np.linalg.eigh(np.cov(np.vstack([bar.rows, bar.columns])))[1][:, 1]
        straight = abs(float(ahead @ along)) / max(float(np.linalg.norm(ahead)), 1e-9)
        if straight > (0.9 if gap > 8 else 0.75):
            best, narrowest = (bar, here, there), gap
    return best


def _bridge(leaf: Bools, here: _Place, there: _Place, half: float) -> None:
    r = int(np.ceil(min(half, 6)))
    steps = max(abs(here[0] - there[0]), abs(here[1] - there[1])) + 1
    for t in np.linspace(0, 1, steps + 1):
        y, x = here[0] + t * (there[0] - here[0]), here[1] + t * (there[1] - here[1])
        y0, x0 = max(0, int(y) - r), max(0, int(x) - r)
        patch = leaf[y0 : int(y) + r + 1, x0 : int(x) + r + 1]
        yy, xx = np.mgrid[y0 : y0 + patch.shape[0], x0 : x0 + patch.shape[1]]
        patch |= (yy - y) ** 2 + (xx - x) ** 2 <= half**2


def _is_rim(box: tuple[slice, ...], shape: tuple[int, ...]) -> bool:
    """The rim of a scan or of a sheet, or a clip: a strip along one edge of the picture."""
    rows, columns = box
    wide, high = columns.stop - columns.start, rows.stop - rows.start
    if (rows.start <= 1 or rows.stop >= shape[0] - 1) and wide > 0.3 * shape[1]:
        return True
    if (columns.start <= 1 or columns.stop >= shape[1] - 1) and high > 0.3 * shape[0]:
        return True
    return bool(
        rows.stop < _RIM or columns.stop < _RIM or rows.start > shape[0] - _RIM or columns.start > shape[1] - _RIM
    )
