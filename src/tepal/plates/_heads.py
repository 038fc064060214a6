"""Figures of flower heads: form, place, lengths, feel."""

from __future__ import annotations

from tepal.plates._curve import UP, placed
from tepal.plates._leaf import Blade
from tepal.plates._plants import Spike, cluster, draw_head, draw_spike, leaf_at
from tepal.plates._sheet import HAIR, HEAVY, LIGHT, OUTLINE, VEIN, Sheet

_LEAF = Blade(2.1, 0.4, "egg", "tapering")


def head(
    sheet: Sheet, *, form: str = "one_long_spike", bristle: float = 0.0, dark: bool = False, length_mm: float = 300.0,
    label: str = "",
) -> None:  # fmt: skip
    """A flower head by its form: one of `HEADS`, axillary_clusters, or balls_and_spike."""
    if form in ("axillary_clusters", "balls_and_spike"):
        in_joints(sheet, prickly=form == "balls_and_spike", spike=form == "balls_and_spike")
        return
    tall = {"thick_short": 66.0, "plume": 74.0}.get(form, 78.0)
    sheet.per_mm = tall / length_mm
    foot = complex(50, 4 + tall)
    stem_leaves(sheet, foot.imag)
    draw_head(sheet, form, foot, tall, bristle=bristle, dark=dark, stem=2.6)
    if label:
        sheet.footer = sheet.words.t(label)


def stem_leaves(sheet: Sheet, y: float) -> None:
    """The top of a leafy stem below a head."""
    sheet.line([complex(50, 95), complex(50, y)], HEAVY, angular=True)
    for k, side in enumerate((-1, 1)):
        leaf_at(sheet, complex(50, min(92.0, y + 6 + 4 * k)), UP + side * 68, _LEAF, long=24, stalk=0.45)


def in_joints(
    sheet: Sheet, *, prickly: bool = False, spike: bool = False, length_mm: float = 120.0, terminal: bool = False
) -> None:
    """A leafy stem with clusters in its leaf joints, with or without a thin spike at the top."""
    top = 34.0 if spike or terminal else 14.0
    sheet.per_mm = 90 / length_mm
    sheet.line([complex(50, 95), complex(50, top)], OUTLINE, angular=True)
    n = 4 if spike else 5
    for k in range(n):
        y = 86 - k * (86 - top - 6) / (n - 0.6)
        side = 1 if k % 2 else -1
        long = 25 - 2.2 * k
        leaf_at(sheet, complex(50, y), UP + side * 58, _LEAF, long=long, stalk=0.42)
        r = (6.2 if prickly else 4.6) - 0.35 * k
        cluster(sheet, complex(50 + side * (r * 0.75), y - r * 0.9), r, prickly=prickly, weight=OUTLINE)
        cluster(sheet, complex(50 - side * (r * 0.95), y - r * 0.2), r * 0.9, prickly=prickly, weight=OUTLINE)
    if spike:
        draw_spike(sheet, Spike(complex(50, top + 4), UP, 34, 5.6, 10), weight=OUTLINE)
    else:
        for turn in (-30, 30, 0):
            leaf_at(sheet, complex(50, top), UP + turn, _LEAF, long=13, stalk=0.15)


def place_of_head(sheet: Sheet, *, terminal: bool = False) -> None:
    """Where the flowers stand: a head at the top, or clusters in the leaf joints only."""
    if not terminal:
        in_joints(sheet)
        return
    sheet.per_mm = 90 / 300
    sheet.line([complex(50, 95), complex(50, 52)], OUTLINE, angular=True)
    for k in range(4):
        side = 1 if k % 2 else -1
        leaf_at(sheet, complex(50, 90 - 10 * k), UP + side * 60, _LEAF, long=26 - 2.5 * k, stalk=0.42)
    draw_head(sheet, "few_stiff_branches", complex(50, 57), 53, weight=HEAVY)


def measured_spike(
    sheet: Sheet, *, asks: str = "length", length_mm: float = 0.0, width_mm: float = 0.0, largest: float = 1.0
) -> None:
    """A head with the measure line on it. `asks`: length (top spike), side (a side branch) or width (of a spike)."""
    if asks == "width":
        wide = 34 * width_mm / largest
        sheet.per_mm = wide / width_mm
        draw_spike(sheet, Spike(50 + 92j, UP, 86, wide), weight=OUTLINE, part="top-spike")
        # Thickest a third of the way up.
        sheet.measure(complex(50 - wide / 2, 60), complex(50 + wide / 2, 60))
        return
    if asks == "side":
        long = 42 * length_mm / largest
        sheet.per_mm = long / length_mm

        stem_leaves(sheet, 74)
        for y, side in ((70, -1), (56, 1), (40, -1), (27, 1)):
            asked = y == 56
            spike = Spike(complex(50, y), UP + side * 52, long * (1 if asked else 0.8), max(4.5, min(8.0, long / 2.6)))
            draw_spike(sheet, spike, weight=OUTLINE if asked else LIGHT, part="side-spike" if asked else "")
            if asked:
                tip = placed([1 + 0j], spike.base, spike.turn, spike.length)[0]
                off = 9j * (tip - spike.base) / abs(tip - spike.base)
                sheet.leader(spike.base, spike.base + off)
                sheet.leader(tip, tip + off)
                sheet.measure(spike.base + off, tip + off)
        draw_spike(sheet, Spike(50 + 74j, UP, 70, 9), weight=LIGHT, part="top-spike")
        return
    tall = 82 * length_mm / largest
    sheet.per_mm = tall / length_mm
    foot = 50 + 88j
    sheet.line([50 + 95j, foot], HEAVY, angular=True)
    for side in (-1, 1):
        branch = Spike(foot, UP + side * 46, max(8.0, tall * 0.28), max(3.5, tall * 0.07), -20 * side)
        draw_spike(sheet, branch, weight=LIGHT, part="side-spike")
        leaf_at(sheet, foot + 4j, UP + side * 80, _LEAF, long=min(22.0, 75 * sheet.per_mm), stalk=0.4)
    draw_spike(sheet, Spike(foot, UP, tall, max(4.0, tall / 8.5)), weight=OUTLINE, part="top-spike")
    far = 72.0
    for level in (foot.imag, foot.imag - tall):
        sheet.leader(complex(54, level), complex(far, level))
    sheet.measure(complex(far, foot.imag), complex(far, foot.imag - tall))


def feel(
    sheet: Sheet, *, points_mm: float = 0.0, stiff: bool = False, anthers: bool = False, width_mm: float = 13.0
) -> None:
    """A piece of a head near by, and a fingertip: do points stand out of it? `points_mm`: how far."""
    wide = 34.0
    sheet.per_mm = wide / width_mm
    rows, strokes, spines = 7, [], []
    for i in range(rows):
        y = 92 - 14.5 * i
        for side in (-1, 1):
            z = complex(40 + side * 13, y - (7 if side == 1 else 0))
            if points_mm and z.imag > 16:
                out = placed([1 + 0j], 0j, UP + side * 56, points_mm * sheet.per_mm)[0]
                if stiff:
                    spines.append((z + out * 0.1, out))
                else:
                    for lean in (-22, 0, 22):
                        turn = UP + side * (58 + lean)
                        strokes.append((z, z + placed([1 + 0j], 0j, turn, 6 + points_mm * sheet.per_mm)[0]))
    sheet.lines(strokes, VEIN, part="bristles")
    for z, out in spines:
        across = 1j * out / abs(out) * 1.7
        sheet.line([z - across, z + 5 * out / abs(out) + out, z + across], LIGHT, closed=True, fill="ink", angular=True,
                   part="spine")  # fmt: skip
    for i in range(rows):
        for side in (-1, 1):
            y = 94 - 14.5 * i - (7 if side == 1 else 0)
            if 2 < y < 96:
                cluster(sheet, complex(40 + side * 7.5, y), 9.5, weight=OUTLINE, part="")
    if anthers:
        dots = [complex(40 + side * (19 + 3 * (i % 2)), 90 - 14.5 * i - (7 if side == 1 else 0)) for i in range(6)
                for side in (-1, 1)]  # fmt: skip
        sheet.lines([(complex(40 + (z.real - 40) * 0.7, z.imag + 2), z) for z in dots], HAIR)
        sheet.dots(dots, 3.2, part="anther")
    _finger(sheet)


def _finger(sheet: Sheet) -> None:
    edge = [99 + 36j, 86 + 37j, 76 + 40j, 71 + 46j, 72 + 52j, 78 + 56j, 88 + 57j, 99 + 58j]
    sheet.line(edge, LIGHT, fill="paper", part="finger")
    sheet.line([78 + 40.5j, 73.5 + 43j, 73 + 46j, 80 + 46j], VEIN)
