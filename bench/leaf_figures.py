"""The pictures of docs/rooms/leaf.md: one leaf as it is measured, and the worst of thirty photos by two hands.

Run: python bench/leaf_figures.py
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "bench")]

from PIL import Image, ImageDraw  # noqa: E402

from leaf.another_hand import draw as otherwise  # noqa: E402
from leaf.drawn import draw as photo  # noqa: E402
from leaf_scores import HANDS, good  # noqa: E402
from tepal.leaf import draw, measure  # noqa: E402

ROOMS = ROOT / "docs" / "rooms"


def example() -> None:
    image, _ = photo(
        np.random.default_rng(12),
        style="shaded",
        background="brown_clipboard",
        shape="ovate",
        ratio=1.2,
        size=(900, 680),
    )
    _save(draw(image, measure(image)), "leaf-example.png")


def misses() -> None:
    """The worst two of fifteen photos by each hand."""
    worst = []
    for task in good(3):
        hand, key, style, ground, _ = task
        if hand == "drawn" and key[1] > 0:
            continue
        rng = np.random.default_rng(list(key))
        image: Any
        image, truth = (
            photo(rng, style=style, background=ground) if hand == "drawn" else otherwise(rng, background=ground)
        )
        found = measure(image)
        error = 9.0 if found.refused else abs(found.petiole_blade_ratio - truth.ratio)
        worst.append((error, len(worst), hand, image, found, truth))
    worst.sort(key=lambda item: item[:2], reverse=True)
    chosen = [item for hand in HANDS for item in [one for one in worst if one[2] == hand][:2]]
    sheet = Image.new("RGB", (1200, 1000), (250, 247, 240))
    for n, (_, _, _, image, found, truth) in enumerate(chosen):
        tile = draw(image, found)
        tile.thumbnail((590, 460))
        x, y = 5 + 600 * (n % 2), 5 + 500 * (n // 2)
        sheet.paste(tile, (x, y))
        ImageDraw.Draw(sheet).text(
            (x + 4, y + tile.height + 4), f"true ratio {truth.ratio:.2f}", fill=(29, 26, 22), font_size=18
        )
    _save(sheet, "leaf-misses.png")


def _save(image: Image.Image, name: str) -> None:
    image.convert("RGB").quantize(96, dither=Image.Dither.NONE).save(ROOMS / name, optimize=True)


if __name__ == "__main__":
    example()
    misses()
