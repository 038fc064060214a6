"""The pictures of docs/rooms/leaf.md: one leaf as it is measured, and the worst of thirty drawn photos of the bench.

Run: python bench/leaf_figures.py
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "bench")]

from PIL import Image, ImageDraw  # noqa: E402

from leaf.drawn import BACKGROUNDS, STYLES  # noqa: E402
from leaf.drawn import draw as photo  # noqa: E402
from leaf_scores import SEED  # noqa: E402
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
    worst = []
    for k in range(2):
        for i, style in enumerate(STYLES):
            for j, ground in enumerate(BACKGROUNDS):
                image, truth = photo(np.random.default_rng([SEED, k, i, j]), style=style, background=ground)
                found = measure(image)
                error = 9.0 if found.refused else abs(found.petiole_blade_ratio - truth.ratio)
                worst.append((error, len(worst), image, found, truth))
    worst.sort(key=lambda item: item[:2], reverse=True)
    sheet = Image.new("RGB", (1200, 1000), (250, 247, 240))
    for n, (_, _, image, found, truth) in enumerate(worst[:4]):
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
