"""The two figures of the plant room's page: one plant, look by look; and how often a call of each sureness is right.

python bench/plant_figures.py
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
from matplotlib import font_manager
from matplotlib.figure import Figure

from plant_peers import NaiveBayes
from plant_specimens import some_looks, specimens
from tepal.flora import Flora, load
from tepal.plant import Specimen, identify, identify_many

DOCS = Path(__file__).parent.parent / "docs" / "rooms"
INK, PAPER, RULE, MADDER = "#1d1a16", "#faf7f0", "#cfc7b8", "#8c1c3a"
STAGES = ("reproductive", "vegetative", "seedling_2-4_leaf")
SEEDS = (404, 505)
# A waterhemp of the Southern Plains, before it flowers, with longer leaf stalks than most: there Palmer is commoner.
PLANT: dict[str, Any] = {
    "nodal_spines": "absent",
    "stem_hair_upper": "none",
    "stem_hair_main": "none",
    "growth_habit": "erect",
    "leaf_outline": "lanceolate",
    "widest_point": "middle",
    "petiole_blade_ratio_lower": 0.78,
    "petiole_blade_ratio_mid": 0.55,
    "petiole_blade_ratio_upper": 0.3,
    "fold_test_lower_leaf": "shorter",
    "blade_lw_ratio": 2.9,
    "blade_width": 2.2,
    "petiole_length": 4.1,
    "leaf_gloss": "glossy",
    "watermark": "absent",
    "canopy_top_view": "open",
    "taproot_colour": "white_tan",
}


def axes(width: float, height: float) -> tuple[Figure, Any]:
    import fontpkg_atkinson_hyperlegible as font

    for path in (Path(font.__file__).parent / "files").glob("*.ttf"):
        font_manager.fontManager.addfont(str(path))
    matplotlib.rcParams.update(
        {"svg.fonttype": "none", "svg.hashsalt": "tepal", "font.family": ["Atkinson Hyperlegible", "sans-serif"]}
        | {"font.size": 11, "axes.edgecolor": RULE}
        | dict.fromkeys(("text.color", "axes.labelcolor", "xtick.color", "ytick.color"), INK)
    )
    figure = Figure(figsize=(width, height), facecolor=PAPER, layout="constrained")
    plot = figure.add_subplot(facecolor=PAPER)
    for side in ("top", "right"):
        plot.spines[side].set_visible(False)
    plot.tick_params(length=0)
    return figure, plot


def save(figure: Figure, name: str, title: str) -> None:
    path = DOCS / name
    figure.savefig(path, format="svg", metadata={"Date": None, "Title": title})
    path.write_text("\n".join(line.rstrip() for line in path.read_text().splitlines()) + "\n")
    print(path.name)


def one_plant(flora: Flora) -> None:
    """The probabilities of the leading names as the looks come that the room asks for."""
    calls, asked = [], []
    looks: dict[str, Any] = {}
    while True:
        call = identify(looks, stage="vegetative", region="SP", flora=flora)
        calls.append(call)
        if call.enough or not call.next:
            break
        wanted = call.next[0].character
        looks[wanted] = PLANT.get(wanted, "cannot_tell")
        asked.append((wanted, looks[wanted]))
    group = next(group.codes for group in flora.inseparable)
    lines = {
        "waterhemp": [call.probability("AMATU") for call in calls],
        "Palmer amaranth": [call.probability("AMAPA") for call in calls],
        "redroot, smooth or Powell": [call.probability(*group) for call in calls],
    }
    figure, plot = axes(7.6, 4.2)
    styles = ("-", "--", ":")
    at = np.arange(len(calls))
    ends = spread([values[-1] for values in lines.values()], 0.06)
    for (label, values), style, end in zip(lines.items(), styles, ends, strict=True):
        plot.plot(at, values, style, color=INK, linewidth=1.8, solid_capstyle="round", marker="o", markersize=4)
        plot.text(at[-1] + 0.12, end, f"{label} {values[-1]:.2f}", va="center")
    words = ["before any look"]
    for name, value in asked:
        character = flora.characters[name]
        words.append(
            character.state_words.get(value, f"{character.label}: {value}") if value != "cannot_tell" else name
        )
    plot.set_xticks(at, [wrap(text, 16) for text in words], fontsize=9)
    plot.set_xlim(-0.3, len(calls) + 1.6)
    plot.set_ylim(-0.02, 1.02)
    plot.set_ylabel("probability")
    save(figure, "plant-example.svg", "One plant, look by look: the probabilities of the leading names")
    for (name, value), call in zip(asked, calls[1:], strict=True):
        print(f"  {name} = {value}: {call.best} {call.posterior.max():.3f}")


def calibration(flora: Flora) -> None:
    """Of the calls given each probability, how many were right; naive Bayes beside it."""
    names = identify({}, stage="vegetative", flora=flora).taxa
    ours, peers = [], []
    for stage in STAGES:
        peer = NaiveBayes(flora, stage)
        for seed in SEEDS:
            plants = list(specimens(flora, stage, worlds=20, plants=60, seed=seed))
            rng = np.random.default_rng([seed, 2])
            looks = [some_looks(plant, rng) for plant in plants]
            batch = [Specimen(seen, stage, plant.region) for seen, plant in zip(looks, plants, strict=True)]
            posterior = identify_many(batch, flora=flora).posterior
            for row, seen, plant in zip(posterior, looks, plants, strict=True):
                ours.append((row.max(), names[int(row.argmax())] == plant.truth))
                told = peer.posterior(seen, plant.region)
                best = max(told, key=lambda code: told[code])
                peers.append((told[best], best == plant.truth))
    figure, plot = axes(4.8, 4.4)
    plot.plot([0, 1], [0, 1], color=RULE, linewidth=1)
    for label, pairs, style, marker in (("Tepal", ours, "-", "o"), ("naive Bayes", peers, "--", "s")):
        p, right = np.array([a for a, _ in pairs]), np.array([b for _, b in pairs])
        bins = np.minimum((p * 10).astype(int), 9)
        # A bin of few plants says nothing.
        kept = [b for b in range(10) if (bins == b).sum() >= 30]
        x, y = [p[bins == b].mean() for b in kept], [right[bins == b].mean() for b in kept]
        plot.plot(x, y, style, color=INK, linewidth=1.6, marker=marker, markersize=5,
                  markerfacecolor=INK if marker == "o" else PAPER)  # fmt: skip
        where = -3 if label == "Tepal" else -2
        shift = (-8, 6) if label == "Tepal" else (-2, -22)
        plot.annotate(label, (x[where], y[where]), xytext=shift, textcoords="offset points",
                      ha="right" if label == "Tepal" else "left")  # fmt: skip
    plot.set_xlabel("probability given to the leading name")
    plot.set_ylabel("share of these that were right")
    plot.set_xlim(0, 1)
    plot.set_ylim(0, 1)
    plot.set_aspect("equal")
    save(figure, "plant-calibration.svg", "How often a call is right, by the probability it was given")


def spread(values: list[float], least: float) -> list[float]:
    """Heights of labels, moved apart so that no two are closer than `least`."""
    order = np.argsort(values)
    placed = list(values)
    for before, after in pairwise(order):
        placed[after] = max(placed[after], placed[before] + least)
    return placed


def wrap(text: str, width: int) -> str:
    lines = [""]
    for word in text.split():
        if lines[-1] and len(lines[-1]) + len(word) >= width:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return "\n".join(lines)


if __name__ == "__main__":
    loaded = load()
    one_plant(loaded)
    calibration(loaded)
