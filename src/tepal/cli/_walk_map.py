"""The planned walk as a map to print: the field's edge, where the risk is, the route with its beginning and its way."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from tepal.cli._clock_picture import FORMATS, INK, PAPER, figure, save
from tepal.cli._map_parts import outline_path, scale_bar
from tepal.tables import Refused

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from tepal.walk import Plan, RiskZone, Walked
    from tepal.words import Words

# Lightness from paper to ink, so that a copier loses nothing; the heaviest zone still leaves the route readable.
_SHADES = ("#efe9dd", "#e0d8c8", "#cfc7b8", "#b9b09f")
# What was seen, in four steps of lightness.
_SEEN_FROM = (0.05, 0.25, 0.75)
_SEEN = ("#e0d8c8", "#b9b09f", "#857c6f")
# An arrow about every so many inches of route on the paper.
_ARROW_IN = 1.3


def check_name(path: Path) -> None:
    """Refuse a file name whose format cannot be drawn, before any work is done."""
    if path.suffix.lower() not in FORMATS or not path.parent.is_dir():
        raise Refused(
            f"map {path.name}",
            where="--map",
            rule=f"A map ends in {', '.join(FORMATS)}, in a folder that is there.",
            step="Name it so.",
        )


def draw(plan: Plan, site: BaseGeometry, zones: Sequence[RiskZone], path: Path, words: Words, *, name: str) -> None:
    """Draw a plan over its site, both in metres."""
    from matplotlib.patches import PathPatch

    west, south, east, north = site.union(shapely.LineString(plan.route)).bounds
    margin = 0.04 * max(east - west, north - south)
    wide, high = east - west + 2 * margin, north - south + 2 * margin
    paper = (6.7, min(max(6.7 * high / wide, 3.2), 8.4))
    fig, (axes,) = figure(paper[0], paper[1] + 0.5, (1.0,))
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.set_xlim(west - margin, east + margin)
    axes.set_ylim(south - 2.2 * margin, north + margin)
    weights = sorted({zone.weight for zone in zones if zone.weight > 1})
    for zone in sorted(zones, key=lambda zone: zone.weight):
        area = zone.area.intersection(site)
        if area.is_empty or not area.area > 0:
            continue
        rank = weights.index(zone.weight) / max(len(weights) - 1, 1) if zone.weight in weights else -1
        shade = PAPER if rank < 0 else _SHADES[round(rank * (len(_SHADES) - 1))]
        axes.add_patch(PathPatch(outline_path(area), facecolor=shade, linewidth=0, zorder=1))
    axes.add_patch(PathPatch(outline_path(site), facecolor="none", edgecolor=INK, linewidth=1.6, zorder=3))
    per_inch = wide / paper[0]
    axes.plot(*plan.route.T, color=INK, linewidth=1.0, zorder=4, solid_joinstyle="round")
    _arrows(axes, plan.route, per_inch)
    begin, end = plan.route[0], plan.route[-1]
    axes.plot(*begin, marker="o", color=INK, markersize=7, zorder=6)
    same = bool(np.hypot(*(begin - end)) < 1)
    _label(axes, begin, words.t("begin and end") if same else words.t("begin"))
    if not same:
        axes.plot(*end, marker="s", color=INK, markersize=6, zorder=6)
        _label(axes, end, words.t("end"))
    scale_bar(axes, west, south - 1.5 * margin, wide, words)
    axes.annotate(
        words.t("N"), (east, south - 0.4 * margin), (east, south - 2.2 * margin), ha="center", va="bottom", fontsize=10,
        color=INK, arrowprops={"arrowstyle": "-|>", "color": INK, "linewidth": 1.0}, zorder=6, annotation_clip=False,
    )  # fmt: skip
    title = words.t(
        "{name}: {length} in {minutes} minutes",
        name=name,
        length=words.length(plan.metres),
        minutes=words.number(plan.minutes, 0),
    )
    axes.set_title(title, loc="left", fontsize=12, color=INK)
    if weights:
        note = words.t("The darker, the more risk: from {low} to {high} times that of white ground.",
                       low=words.number(weights[0]), high=words.number(weights[-1]))  # fmt: skip
        axes.text(0.0, -0.01, note, transform=axes.transAxes, fontsize=9, color=INK, va="top")
    save(fig, path, words.t("Map of {name} with the route to walk", name=name))


def draw_seen(
    site: BaseGeometry, walks: Sequence[Walked], path: Path, words: Words, *, name: str, seen_share: float
) -> None:
    """Draw what walks saw of a site, in metres: the darker, the likelier a plant there was seen."""
    from matplotlib.colors import ListedColormap
    from matplotlib.patches import Patch, PathPatch

    from tepal.walk import seen_map

    west, south, east, north = site.bounds
    margin = 0.04 * max(east - west, north - south)
    wide, high = east - west + 2 * margin, north - south + 2 * margin
    fig, (axes,) = figure(6.7, min(max(6.7 * high / wide, 3.2), 8.4) + 0.9, (1.0,))
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.set_xlim(west - margin, east + margin)
    axes.set_ylim(south - 2.2 * margin, north + margin)
    shades = ListedColormap([PAPER, *_SEEN])
    clip = PathPatch(outline_path(site), facecolor="none", edgecolor=INK, linewidth=1.6, zorder=3)
    axes.add_patch(clip)
    for grid in seen_map(site, walks):
        half = grid.step_m / 2
        extent = (grid.x_m[0] - half, grid.x_m[-1] + half, grid.y_m[0] - half, grid.y_m[-1] + half)
        steps = np.digitize(grid.seen, _SEEN_FROM)
        shown = axes.imshow(
            steps, extent=extent, origin="lower", cmap=shades, vmin=-0.5, vmax=len(_SEEN) + 0.5, zorder=1,
            interpolation="nearest",
        )  # fmt: skip
        shown.set_clip_path(clip)
    for walk in walks:
        for track in walk.tracks:
            axes.plot(*np.asarray(track).T, color=INK, linewidth=0.8, zorder=4)
    scale_bar(axes, west, south - 1.5 * margin, wide, words)
    axes.set_xlim(west - margin, east + margin)
    axes.set_ylim(south - 2.2 * margin, north + margin)
    percent = words.number(100 * seen_share, 0 if seen_share > 0.1 else 1)
    axes.set_title(
        words.t("{name}: what was seen, {percent} % in all", name=name, percent=percent), loc="left", fontsize=12,
        color=INK,
    )  # fmt: skip
    bounds = [words.number(100 * edge, 0) for edge in (*_SEEN_FROM, 1.0)]
    labels = [words.t("under {low} % of plants seen", low=bounds[0])]
    labels += [words.t("{low} to {high} %", low=a, high=b) for a, b in pairwise(bounds)]
    marks = [Patch(facecolor=shade, edgecolor=INK, linewidth=0.4) for shade in (PAPER, *_SEEN)]
    fig.legend(marks, labels, loc="outside lower left", ncols=4, fontsize=9, frameon=False, labelcolor=INK)
    save(fig, path, words.t("Map of {name} with what was seen on a walk", name=name))


def _arrows(axes: Any, route: Any, per_inch: float) -> None:
    legs = np.hypot(*np.diff(route, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(legs)])
    for at in np.arange(0.4 * _ARROW_IN * per_inch, along[-1], _ARROW_IN * per_inch):
        k = min(int(np.searchsorted(along, at, side="right")) - 1, len(legs) - 1)
        step = (route[k + 1] - route[k]) / max(legs[k], 1e-9)
        place = route[k] + step * (at - along[k])
        axes.annotate(
            "", place + step * 0.06 * per_inch, place - step * 0.06 * per_inch,
            arrowprops={"arrowstyle": "-|>", "color": INK, "linewidth": 0.8, "mutation_scale": 9}, zorder=5,
        )  # fmt: skip


def _label(axes: Any, place: Any, text: str) -> None:
    axes.annotate(
        text, place, (7, 6), textcoords="offset points", fontsize=10, color=INK, zorder=7,
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 1.2, "alpha": 0.9},
    )  # fmt: skip
