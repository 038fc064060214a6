"""Legal descriptions of the United States public land survey: one form for each, and its measure.

A section is nominally a square mile of 640 acres; halves and quarters of it are named from the smallest to the
largest: "SW¼ NE¼" is the southwest quarter of the northeast quarter. A description has no coordinates of its own:
those are in the survey's plats, which are not here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise, product

SECTION_ACRES = 640

Square = tuple[Fraction, Fraction, Fraction, Fraction]  # west, south, east, north; the section is 0 to 1


@dataclass(frozen=True, slots=True)
class Survey:
    """One section, or parts of it. `parts` are each named from the smallest to the largest; () is the whole section.

    `acres` is nominal, None where the words take something away or add a lot whose size only the plat tells. `rest`
    holds such words ("except the yard", "Lot 3").
    """

    section: int
    township: int
    north: bool
    range: int
    east: bool
    parts: tuple[tuple[str, ...], ...] = ()
    meridian: str | None = None
    rest: str = ""

    @property
    def acres(self) -> float | None:
        if self.rest:
            return None
        return float(SECTION_ACRES * covered(self.parts)) if self.parts else float(SECTION_ACRES)

    @property
    def text(self) -> str:
        """The normal form: the same ground as long as the parts are named alike; read again it gives the same."""
        parts = " and ".join(" ".join(f"{d}{'¼' if len(d) == 2 else '½'}" for d in part) for part in self.parts)
        where = (
            f"Sec. {self.section}, T{self.township}{'N' if self.north else 'S'} R{self.range}"
            f"{'E' if self.east else 'W'}"
        )
        return " ".join(p for p in (parts, where) if p) + (f", {self.meridian}" if self.meridian else "")

    def plain(self) -> dict[str, object]:
        """As JSON values."""
        return {
            "text": self.text,
            "parts": [list(part) for part in self.parts],
            "section": self.section,
            "township": f"{self.township}{'N' if self.north else 'S'}",
            "range": f"{self.range}{'E' if self.east else 'W'}",
            "meridian": self.meridian,
            "acres_nominal": self.acres,
            "rest": self.rest or None,
        }


def square_of(part: Iterable[str]) -> Square:
    """The part of the unit section that a chain of halves and quarters names."""
    west, south, east, north = Fraction(0), Fraction(0), Fraction(1), Fraction(1)
    for name in reversed(tuple(part)):
        mid_x, mid_y = (west + east) / 2, (south + north) / 2
        south, north = (mid_y, north) if "N" in name else (south, mid_y) if "S" in name else (south, north)
        west, east = (mid_x, east) if "E" in name else (west, mid_x) if "W" in name else (west, east)
    return west, south, east, north


def covered(parts: Iterable[Iterable[str]]) -> Fraction:
    """The share of the section that parts cover together; ground named twice counts once."""
    squares = [square_of(part) for part in parts]
    xs = sorted({x for square in squares for x in (square[0], square[2])})
    ys = sorted({y for square in squares for y in (square[1], square[3])})
    return sum(
        (
            (x2 - x1) * (y2 - y1)
            for (x1, x2), (y1, y2) in product(pairwise(xs), pairwise(ys))
            if any(w <= x1 and x2 <= e and s <= y1 and y2 <= n for w, s, e, n in squares)
        ),
        Fraction(0),
    )
