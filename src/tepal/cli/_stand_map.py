"""The density as a map to print: how thick it stands, with the counts, and beside it how far that may be off."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from tepal.cli._clock_picture import INK, PAPER, RULE, figure, save
from tepal.cli._map_parts import outline_path, scale_bar

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from tepal.stand import Counts, StandEstimate
    from tepal.words import Words

# One scale of lightness, paper to ink, even in what the eye sees: a copier loses nothing, nor does a colour-blind eye.
_STEPS = ("#faf7f0", "#e3ddd0", "#c5bdae", "#a0978a", "#756d62", "#463f37")

# Ground is hatched where the density is likelier than not off by more than so many times.
_TIMES = 3

# With less than so many times between thin and thick, shades of three times each would show one or two of them.
_NARROW = 40


def draw(found: StandEstimate, counts: Counts, site: BaseGeometry, path: Path, words: Words, *, name: str) -> None:
    """Draw an estimate with a boundary, counts and boundary in metres: middle, and low and high of nine in ten."""
    assert found.map is not None
    low, middle, high = (found.map.quantile(p) for p in (0.05, 0.5, 0.95))
    edges = _edges(low, middle, high)
    west, south, east, north = site.bounds
    span = max(east - west, north - south)
    margin = 0.05 * span
    tall = (north - south + 3 * margin) / (east - west + 2 * margin)
    fig, _ = figure(7.2, float(np.clip(5.0 * tall + 1.5, 3.4, 9.5)), (1.0,))
    fig.clear()
    grid = fig.add_gridspec(2, 2, width_ratios=(2.05, 1.0), height_ratios=(1.0, 1.0))
    main, upper, lower = fig.add_subplot(grid[:, 0]), fig.add_subplot(grid[0, 1]), fig.add_subplot(grid[1, 1])
    titles = (words.t("As likely more as less"), words.t("1 chance in 20 of more"), words.t("1 chance in 20 of less"))
    for axes, values, title in zip((main, upper, lower), (middle, high, low), titles, strict=True):
        _ground(axes, found.map.pieces, values, edges)
        axes.add_patch(_outline(site, linewidth=1.4))
        axes.set_aspect("equal")
        axes.set_axis_off()
        axes.set_xlim(west - margin, east + margin)
        axes.set_ylim(south - (2.4 if axes is main else 1) * margin, north + margin)
        axes.set_title(title, loc="left", fontsize=10, color=INK)
    for patch in found.patches:
        # Light beneath dark, so that the line stands out on thick ground too.
        main.add_patch(_outline(patch.outline, PAPER, linewidth=3.0))
        main.add_patch(_outline(patch.outline, linewidth=1.4, linestyle=(0, (3, 1.5))))
    _doubt(main, found)
    _stops(main, counts)
    scale_bar(main, west, south - 1.7 * margin, east - west, words)
    _legend(fig, edges, words)
    save(fig, path, words.t("Map of {name}: plants counted, density and how far it may be off", name=name))


def _edges(low: Any, middle: Any, high: Any) -> Any:
    """Round densities that part the shades: each about three times the one before, twice where all are of one order."""
    top = max(float(np.quantile(high, 0.9)), float(middle.max()), 1e-9)
    narrow = top < _NARROW * max(float(np.quantile(low, 0.1)), 1e-9)
    tens = int(np.floor(np.log10(top)))
    rounds = [step * 10.0**ten for ten in range(tens - 4, tens + 1) for step in ((1, 2, 5) if narrow else (1, 3))]
    return np.array([edge for edge in rounds if edge <= top * (1 + 1e-9)][1 - len(_STEPS) :])


def _ground(axes: Any, pieces: Any, values: Any, edges: Any) -> None:
    from matplotlib.patches import PathPatch

    shade = np.searchsorted(edges, values, side="right")
    for k in np.unique(shade):
        area = shapely.union_all(pieces[shade == k])
        axes.add_patch(PathPatch(outline_path(area), facecolor=_STEPS[k], edgecolor=_STEPS[k], linewidth=0.3, zorder=1))


def _outline(area: BaseGeometry, edge: str = INK, **look: Any) -> Any:
    from matplotlib.patches import PathPatch

    return PathPatch(outline_path(area), facecolor="none", edgecolor=edge, zorder=3, **look)


def _doubt(axes: Any, found: StandEstimate) -> None:
    """Hatch the ground where it is likelier than not that the density is off by more than `_TIMES`."""
    assert found.map is not None
    middle = np.maximum(found.map.quantile(0.5), 1e-12)
    off = np.abs(np.log(np.maximum(found.map.density, 1e-12) / middle)) > np.log(_TIMES)
    pieces = found.map.pieces[off.mean(axis=0) > 0.5]
    if len(pieces):
        axes.add_patch(_outline(shapely.union_all(pieces), linewidth=0.0, hatch="////"))


def _stops(axes: Any, counts: Counts) -> None:
    """Few counts as their numbers; many as open rings for none and full discs that grow with what was found."""
    if len(counts) <= 60:
        for x, y, n in zip(counts.x_m, counts.y_m, counts.count, strict=True):
            axes.text(
                x, y, f"{n:.0f}", fontsize=8 if n else 7, ha="center", va="center", color=INK, zorder=5, clip_on=True,
                bbox={"facecolor": PAPER, "edgecolor": RULE, "linewidth": 0.4, "boxstyle": "round,pad=0.12"},
            )  # fmt: skip
        return
    found = counts.count > 0
    axes.scatter(
        counts.x_m[~found], counts.y_m[~found], s=7, facecolor=PAPER, edgecolor=INK, linewidth=0.5, zorder=5,
    )  # fmt: skip
    size = 8 + 10 * np.log1p(counts.count[found])
    axes.scatter(counts.x_m[found], counts.y_m[found], s=size, facecolor=INK, edgecolor=PAPER, linewidth=0.5, zorder=6)


def _legend(fig: Any, edges: Any, words: Words) -> None:
    from matplotlib.patches import Patch

    told = [words.density(float(edge)) for edge in edges]
    labels = [words.t("under {density}", density=told[0]), *(words.t("{density} and more", density=t) for t in told)]
    marks = [Patch(facecolor=shade, edgecolor=INK, linewidth=0.4) for shade in _STEPS]
    marks.append(Patch(facecolor="none", edgecolor=INK, linewidth=1.4, linestyle=(0, (3, 1.5))))
    marks.append(Patch(facecolor="none", edgecolor=INK, linewidth=0.4, hatch="////"))
    labels.append(words.t("likelier than not, twice the average"))
    labels.append(words.t("likelier than not, more than {n} times off", n=words.number(_TIMES)))
    fig.legend(
        marks, labels, loc="outside lower left", ncols=2,
        fontsize=8.5, frameon=False, labelcolor=INK, handlelength=1.6,
    )  # fmt: skip
