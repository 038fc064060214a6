"""Draws the figures of the pages `stand` and `walk`. Run: python bench/stand_figures.py"""

from __future__ import annotations

from pathlib import Path

import fontpkg_atkinson_hyperlegible as font
import numpy as np
from matplotlib import font_manager, rc_context
from matplotlib.figure import Figure
from shapely.geometry import box

from tepal.cli._stand_map import draw
from tepal.stand import Counts, estimate
from tepal.walk import absence
from tepal.words import Words

ROOMS = Path(__file__).parents[1] / "docs" / "rooms"
INK, PAPER, RULE = "#1d1a16", "#faf7f0", "#cfc7b8"


def example():
    """Forty counts of 1 m² on 16 ha, thick in one corner: invented, from a seed."""
    rng = np.random.default_rng(4)
    x, y = rng.uniform(10, 390, (2, 40))
    level = 3 * np.exp(-((x - 110) ** 2 + (y - 120) ** 2) / (2 * 60**2)) + 0.05
    return x, y, rng.poisson(level)


def stand():
    x, y, count = example()
    site = box(0, 0, 400, 400)
    counts = Counts(x, y, np.ones(40), count)
    e = estimate(counts, boundary=site, rng=np.random.default_rng(1))
    low, middle, high = np.quantile(e.total.values, (0.05, 0.5, 0.95))
    print(f"stand: {count.sum()} plants on 40 m2; total {low:,.0f} / {middle:,.0f} / {high:,.0f}")
    for p in e.patches:
        print(f"  patch {p.hectares:.2f} ha, probability {p.probability:.2f}, share {p.share_of_plants:.2f}")
    draw(e, counts, site, ROOMS / "stand-example.svg", Words(), name="the example")


def walk():
    site = box(0, 0, 400, 400)
    track = np.array([(20, 380), (110, 20), (200, 380), (290, 20), (380, 380)], dtype=float)
    sigmas = np.array([1, 2, 3, 5, 7, 10, 15, 20, 30.0])
    rows = [absence(site, [track], sigma_m=s) for s in sigmas]
    for s, r in zip(sigmas, rows, strict=True):
        bound = r.density_upper95_per_ha
        print(f"walk: sigma {s:g} seen {r.seen_share:.3f} p_present {r.p_present:.3f} bound {bound:.2f}/ha")
    figure = Figure(figsize=(5.2, 3.4), facecolor=PAPER)
    axes = figure.add_axes((0.13, 0.16, 0.84, 0.8), facecolor=PAPER)
    axes.plot(sigmas, [r.p_present for r in rows], color=INK, lw=1.6, marker="o", ms=4)
    axes.plot(sigmas, [r.seen_share for r in rows], color=INK, lw=0.8, ls="--", marker="s", ms=3)
    axes.text(20, rows[7].p_present - 0.1, "chance that some are there", color=INK, ha="center")
    axes.text(20, rows[7].seen_share + 0.09, "share seen", color=INK, ha="right")
    axes.set_ylim(0, 1)
    axes.set_ylabel("probability, share", color=INK)
    finish(axes, figure, "walk-sight.svg", x="width of sight, m")


def finish(axes, figure, name, x="east, m"):
    axes.set_xlabel(x, color=INK)
    axes.tick_params(colors=INK)
    for side in axes.spines.values():
        side.set_color(RULE)
    figure.savefig(ROOMS / name, metadata={"Date": None})


if __name__ == "__main__":
    for path in Path(font.__file__).parent.rglob("*.[to]tf"):
        font_manager.fontManager.addfont(str(path))
    with rc_context(
        {"svg.fonttype": "path", "svg.hashsalt": "tepal", "font.family": ["Atkinson Hyperlegible", "sans-serif"],
         "hatch.linewidth": 0.4}
    ):  # fmt: skip
        walk()
    stand()
