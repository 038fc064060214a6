"""The forms of terminal flower heads, as a top spike and side spikes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple


class Side(NamedTuple):
    """A side spike. `at`: where it leaves, in lengths of the top spike from that one's base; `lean`: degrees from it.

    `long` and `wide` are shares of the top spike's; `bend` in degrees over its length.
    """

    at: float
    lean: float
    long: float
    wide: float
    bend: float


class HeadForm(NamedTuple):
    """`slender`: length over width of the top spike; `share`: its part of the head's height.

    `loose`: the spikes are small clusters set apart along thin axes.
    """

    slender: float
    share: float
    sides: tuple[Side, ...]
    loose: bool = False


def _pairs(*sides: Side) -> tuple[Side, ...]:
    """Each to the left as it is, and to the right a little higher."""
    return tuple(
        one
        for side in sides
        for one in (side._replace(lean=-side.lean), side._replace(at=side.at + 0.03, bend=-side.bend))
    )


HEADS: Mapping[str, HeadForm] = {
    "one_long_spike": HeadForm(
        8.5, 1.0, (Side(0.0, -34, 0.3, 0.8, 26), Side(0.03, 36, 0.26, 0.8, -26), Side(-0.1, 46, 0.14, 0.7, -20))
    ),
    "loose_panicle": HeadForm(
        10.5,
        0.62,
        (
            Side(-0.5, -58, 0.8, 1, 44),
            Side(-0.4, 60, 0.72, 1, -40),
            Side(-0.16, -54, 0.62, 1, 34),
            Side(-0.04, 50, 0.66, 1, -28),
            Side(0.2, -48, 0.44, 1, 22),
            Side(0.36, 46, 0.34, 1, -18),
        ),
        loose=True,
    ),
    "thick_short": HeadForm(
        2.4,
        0.78,
        _pairs(
            Side(-0.26, 70, 0.42, 0.66, 40),
            Side(-0.06, 52, 0.5, 0.68, 30),
            Side(0.18, 42, 0.44, 0.64, 22),
            Side(0.4, 32, 0.3, 0.55, 12),
        ),
    ),
    "many_thin_branches": HeadForm(
        7.5,
        0.84,
        _pairs(
            Side(-0.18, 63, 0.4, 0.85, 50),
            Side(-0.07, 58, 0.38, 0.85, 44),
            Side(0.05, 52, 0.34, 0.85, 36),
            Side(0.17, 46, 0.27, 0.8, 28),
        ),
    ),
    "few_stiff_branches": HeadForm(8.0, 0.9, _pairs(Side(-0.1, 31, 0.74, 0.9, 16), Side(0.12, 27, 0.44, 0.85, 10))),
    "plume": HeadForm(
        3.4,
        0.86,
        _pairs(Side(-0.16, 72, 0.52, 0.72, -34), Side(-0.02, 50, 0.58, 0.78, -30), Side(0.2, 34, 0.48, 0.72, -16)),
    ),
}
