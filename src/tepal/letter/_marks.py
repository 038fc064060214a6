"""The marks of the map: each kind its own shape, so that a black-and-white copy loses nothing."""

from __future__ import annotations

import math

from tepal.letter._ink import INK, WHITE
from tepal.letter._svg import Canvas

# Signs of named plants, in the order in which taxa are given out (hunted first); a plant without a name is a diamond.
SIGNS = ("cross", "plus", "star", "triangle")
UNNAMED = "diamond"
_STROKES = {
    "cross": "M-1-1L1 1M-1 1L1-1",
    "plus": "M-1.2 0L1.2 0M0-1.2L0 1.2",
    "star": "M-1.2 0L1.2 0M-.6-1L.6 1M-.6 1L.6-1",
    "triangle": "M0-1.2L1.1 .8L-1.1 .8Z",
    "diamond": "M0-1.2L1.2 0L0 1.2L-1.2 0Z",
}


def sign(canvas: Canvas, kind: str, x: float, y: float, size: float = 4.2) -> None:
    """A plant that was looked at. A paper-coloured edge keeps it apart from what lies below."""
    closed = kind in ("triangle", "diamond")
    place = f"translate({x:.1f} {y:.1f}) scale({size:.2f})"
    for width, colour, name in ((4.4, WHITE, "sheet"), (1.9, INK, "ink")):
        canvas.add(
            "path", d=_STROKES[kind], transform=place, stroke=colour, stroke_width=f"{width / size:.3f}",
            fill=WHITE if closed else "none", stroke_linecap="round", stroke_linejoin="round",
            class_=f"{name}-line" + (" sheet-fill" if closed else ""),
        )  # fmt: skip


def radius(count: int, most: int, stops: int) -> float:
    """The radius of a stop: its area follows the count, the largest in keeping with how many there are."""
    largest = 9.0 if stops <= 40 else 6.5
    return max(2.2, largest * math.sqrt(count / max(most, 1))) if count else 2.5


def stop(canvas: Canvas, x: float, y: float, count: int, reach: float) -> None:
    """A place where plants were counted: filled by count, open where there were none."""
    if count:
        canvas.add(
            "circle", cx=x, cy=y, r=reach, fill=INK, stroke=WHITE, stroke_width="0.8", class_="ink-fill sheet-line"
        )
    else:
        canvas.add(
            "circle", cx=x, cy=y, r=reach, fill=WHITE, stroke=INK, stroke_width="1.1", class_="sheet-fill ink-line"
        )


def gate(canvas: Canvas, x: float, y: float) -> None:
    """A way in: two posts and a bar."""
    canvas.add(
        "path", d="M-4-4V4M4-4V4M-4 0H4", transform=f"translate({x:.1f} {y:.1f})",
        stroke=INK, stroke_width="1.6", fill="none", stroke_linecap="round", class_="ink-line",
    )  # fmt: skip


def spot(canvas: Canvas, x: float, y: float, reach: float) -> None:
    """The place as told, a point within a ring as wide as the doubt about it."""
    canvas.add(
        "circle", cx=x, cy=y, r=max(reach, 7.0), fill="none", stroke=INK, stroke_width="1", stroke_dasharray="1 3",
        stroke_linecap="round", class_="ink-line",
    )  # fmt: skip
    canvas.add("circle", cx=x, cy=y, r=2.6, fill=INK, class_="ink-fill")


def arrow(canvas: Canvas, x: float, y: float, size: float = 8.5) -> None:
    """North is up: a shaft with one barb, and N."""
    canvas.add(
        "path", d=f"M{x:.1f} {y + 8:.1f}V{y - 8:.1f}L{x + 3.5:.1f} {y - 2:.1f}", stroke=INK, stroke_width="1.3",
        fill="none", stroke_linecap="round", stroke_linejoin="round", class_="ink-line",
    )  # fmt: skip
    canvas.text(x - 5, y + 3, "N", size=size, fill=INK, anchor="end", class_="ink-fill")
