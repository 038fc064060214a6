"""The picture that came by telephone: three seedlings, drawn, since no photograph is made up here."""

from __future__ import annotations

import io
from typing import Any

import numpy as np


def seedlings_png(rng: np.random.Generator) -> bytes:
    """A drawn picture of three small pigweeds on bare soil, as PNG."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(4.2, 5.6), dpi=110, facecolor="#b7a68b")
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_xlim(0, 42)
    axes.set_ylim(0, 56)
    axes.axis("off")
    axes.scatter(rng.uniform(0, 42, 900), rng.uniform(0, 56, 900), s=rng.uniform(1, 14, 900), c="#9b8a70", alpha=0.5)
    for east, north, size in ((12, 36, 1.0), (29, 40, 0.8), (22, 17, 1.25)):
        turn = rng.uniform(0, 180)
        for k in range(2):  # the two seed leaves, long and narrow
            _leaf(axes, (east, north), turn + 180 * k, length=3.2 * size, width=1.0 * size, colour="#6f8a4c")
        for k in range(3):
            _leaf(axes, (east, north), turn + 75 + 120 * k, length=4.6 * size, width=2.6 * size, colour="#567a37")
        axes.plot([east], [north], marker="o", ms=4 * size, color="#8c5a4a")
    out = io.BytesIO()
    # No date and no software line: the same picture is the same bytes, and so has the same hash.
    figure.savefig(out, format="png", metadata={"Software": None})
    return out.getvalue()


def _leaf(axes: Any, foot: tuple[float, float], turn: float, *, length: float, width: float, colour: str) -> None:
    from matplotlib.patches import Ellipse

    angle = np.deg2rad(turn)
    middle = (foot[0] + 0.62 * length * np.cos(angle), foot[1] + 0.62 * length * np.sin(angle))
    axes.plot([foot[0], middle[0]], [foot[1], middle[1]], color=colour, lw=1.4)
    axes.add_patch(Ellipse(middle, length, width, angle=turn, facecolor=colour, edgecolor="#3f5a28", lw=0.8))
