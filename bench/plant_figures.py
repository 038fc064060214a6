"""The two figures of the plant room's page: one plant, look by look; and how often a call of each sureness is right.

python bench/plant_figures.py
"""

from __future__ import annotations

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
    "blade_length": 6.4,
    "leaf_gloss": "glossy",
    "watermark": "absent",
    "canopy_top_view": "open",
    "taproot_colour": "white_tan",
}


def axes(width: float, height: float) -> tuple[Figure, Any]:
    import fontpkg_atkinson_hyperlegible as font

    for path in (Path(font.__file__).parent / "files").glob("*.ttf"):
        font_manager.fontManager.addfont(str(path))
    # Letters as outlines: a page shows the file as an image, which may not load a font, and labels would run over.
    matplotlib.rcParams.update(
        {"svg.fonttype": "path", "svg.hashsalt": "tepal", "font.family": ["Atkinson Hyperlegible", "sans-serif"]}
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
    figure, plot = axes(7.4, 4.8)
    at = np.arange(len(calls))
    for (label, values), style in zip(lines.items(), ("-", "--", ":"), strict=True):
        plot.plot(values, at, style, color=INK, linewidth=1.8, solid_capstyle="round", marker="o", markersize=4)
        # Each line is named where the nearest line to the right is farthest, the leading one on its left at the end.
        right = [min([v[i] for v in lines.values() if v[i] > values[i]], default=1.0) - values[i] for i in at]
        left = values[-1] > 0.7
        top = len(values) - 1 if left else int(np.argmax(right))
        plot.annotate(label, (values[top], top), xytext=(-10 if left else 10, 0), textcoords="offset points",
                      ha="right" if left else "left", va="center")  # fmt: skip
    plot.set_yticks(at, ["before any look", *(wrap(in_words(flora, name, value), 26) for name, value in asked)])
    plot.invert_yaxis()
    plot.set_xlim(-0.02, 1.02)
    plot.set_xlabel("probability")
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


def wrap(text: str, width: int) -> str:
    lines = [""]
    for word in text.split():
        if lines[-1] and len(lines[-1]) + len(word) >= width:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return "\n".join(lines)


def in_words(flora: Flora, name: str, value: Any) -> str:
    character = flora.characters[name]
    if value == "cannot_tell":
        return f"{character.label}: cannot tell"
    return character.state_words.get(value, f"{character.label}: {value:g}" if isinstance(value, float) else str(value))


if __name__ == "__main__":
    loaded = load()
    one_plant(loaded)
    calibration(loaded)
