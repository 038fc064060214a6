"""Figures of the ripe fruit and of the seed."""

from __future__ import annotations

import math

from tepal.plates._curve import arc, crescent, ellipse, hatch, placed, spread
from tepal.plates._flowers import draw_fruit
from tepal.plates._sheet import HEAVY, LIGHT, OUTLINE, VEIN, Sheet


def fruit(sheet: Sheet, *, lid: bool = False, length_mm: float = 1.8) -> None:
    """A ripe fruit: its top off like a lid around the middle, or torn anywhere."""
    high = 66.0
    r = 24.0
    sheet.per_mm = high / length_mm
    centre = 50 + 64j
    if lid:
        back = [complex(26 + 48 * i / 8, 64 - 5 * math.sin(math.pi * i / 8)) for i in range(9)]
        front = [complex(z.real, 128 - z.imag) for z in back]
        sheet.line([*back, *front[7:0:-1]], OUTLINE, closed=True, fill="paper", corners=(0, 8))
        _seed(sheet, centre - 3j, 15.5)
        sheet.line(
            [*front, *arc(centre, r, 0, 180, 9)[1:8]], OUTLINE, closed=True, fill="wash", corners=(0, 8), part="cup"
        )
        sheet.line(front, HEAVY, part="rim")
        hinge = 57 + 36j
        cap = placed([z - centre for z in arc(centre, r, 180, 360, 9)], hinge, 16)
        sheet.line(
            [*cap, *placed([12 + 3.5j, 0 + 5j, -12 + 3.5j], hinge, 16)],
            HEAVY,
            closed=True,
            fill="wash",
            corners=(0, 8),
            part="lid",
        )
        top = placed([-24j], hinge, 16)[0]
        for turn, lean in ((-105, -30), (-74, 0), (-43, 30)):
            sheet.line(placed([0j, 0.5 + 0j, 1 + 0j], top, turn, 12, lean), LIGHT)
        return
    draw_fruit(sheet, 50 + 92j, high, styles=0.22)
    tear = [
        39 + 50j, 45 + 52j, 49 + 47j, 53 + 53j, 61 + 52j, 58 + 59j, 63 + 65j, 56 + 67j, 55 + 74j, 48 + 70j, 41 + 74j,
        41 + 66j, 35 + 63j, 40 + 58j,
    ]  # fmt: skip
    sheet.line(tear, HEAVY, closed=True, fill="ink", angular=True, part="tear")
    sheet.area(crescent(49 + 61j, 8, 190, 280, 2.2), "paper", corners=(0, 6))
    sheet.lines([(z, z + (z - 49 - 61j) * 0.35) for z in (39 + 50j, 61 + 52j, 41 + 74j)], OUTLINE)


def _seed(sheet: Sheet, centre: complex, r: float) -> None:
    sheet.line(ellipse(centre, r, r, 0, 10), LIGHT, closed=True, fill="ink")
    sheet.area(crescent(centre, r * 0.74, 190, 275, r * 0.2), "paper", corners=(0, 6))


def seed(
    sheet: Sheet,
    *,
    asks: str = "shape",
    length_over_width: float = 1.06,
    tone: str = "dark",
    label: str = "",
    width_mm: float = 1.1,
    largest: float = 0.0,
) -> None:
    """A ripe seed. `asks`: shape, tone or width; `tone`: black, dark (brown, hatched), pale, shiny, dull or plain."""
    r = 33.0 * (width_mm / largest if largest else 1.0)
    if length_over_width > 1.15:
        r = 29.0
    sheet.per_mm = 2 * r / width_mm
    centre = 50 + 47j
    tall = r * length_over_width
    # Narrower at the end where the seed was attached.
    taper = 0.1 * (length_over_width - 1)
    edge = [
        complex(50 + (z.real - 50) * (1 + taper * (z.imag - 47) / tall * -4), z.imag)
        for z in ellipse(centre, r, tall, 0, 12)
    ]
    weight = HEAVY if asks in ("shape", "width") else OUTLINE
    sheet.line(
        edge,
        weight,
        closed=True,
        fill="ink" if tone in ("black", "shiny") else "paper" if tone == "pale" else "wash",
        part="seed",
    )
    rim = [centre + (z - centre) * 0.86 for z in edge]
    if tone in ("black", "shiny"):
        sheet.area(crescent(centre, r * 0.78, 188, 280, r * 0.2), "paper", corners=(0, 6))
        if tone == "shiny":
            sheet.area(crescent(centre, r * 0.8, 20, 70, r * 0.1), "paper", corners=(0, 6))
    elif tone == "dark":
        sheet.lines(hatch(edge, 2.1, 35), LIGHT, part="hatch")
    elif tone == "dull":
        _dull(sheet, centre, r)
    if tone not in ("black", "shiny"):
        sheet.line(rim, VEIN, closed=True)
    # Where it was attached.
    foot = complex(50, 47 + tall)
    sheet.line([foot + complex(-2.2, -1), foot + complex(0, -3.6), foot + complex(2.2, -1)], LIGHT)
    if asks == "width":
        y = 47 + tall + 6
        for side in (-1, 1):
            sheet.leader(complex(50 + side * r, 47), complex(50 + side * r, y))
        sheet.measure(complex(50 - r, y), complex(50 + r, y))
    if label:
        sheet.footer = sheet.words.t(label)


def _dull(sheet: Sheet, centre: complex, r: float) -> None:
    dots = [centre + complex((2 * a - 1) * r, (2 * b - 1) * r) for a, b in spread(520)]
    sheet.dots([z for z in dots if abs(z - centre) < r * 0.93], 1.5, part="stipple")
