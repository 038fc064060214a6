"""The photo with what was measured drawn on it."""

from __future__ import annotations

import io
from typing import Any

from tepal.leaf._result import LeafMeasure, Point
from tepal.words import Words

_INK, _PAPER, _MADDER = (29, 26, 22), (250, 247, 240), (140, 28, 60)
_LONG_SIDE = 1400
_QUALITY = 85


def drawn_jpeg(source: Any, words: Words | None = None, *, long_side: int = 1000) -> tuple[bytes, LeafMeasure]:
    """A photo measured, and drawn on as a small JPEG to be shown or sent on: of its pixels alone, so that no place,
    time, camera or thumbnail of the original travels with it.

    Raises
    ------
    tepal.tables.Refused
        If it is no readable photo. One that cannot be measured says why in its caption.
    """
    from PIL import Image

    from tepal.leaf._measure import measure

    found = measure(source)
    picture = draw(source, found, words, long_side=long_side).convert("RGB")
    bare = Image.frombytes("RGB", picture.size, picture.tobytes())
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=_QUALITY, optimize=True)
    return out.getvalue(), found


def draw(
    source: Any,
    leaves: tuple[LeafMeasure, ...] | LeafMeasure,
    words: Words | None = None,
    *,
    long_side: int = _LONG_SIDE,
) -> Any:
    """A Pillow image of at most `long_side` pixels: axis, foot, junction, tip and width of each leaf, its numbers
    below; or the reason of a refusal."""
    from PIL import Image, ImageDraw

    from tepal.leaf._photo import open_picture

    words = words or Words()
    every = (leaves,) if isinstance(leaves, LeafMeasure) else leaves
    image, full = open_picture(source, long_side)
    scale = image.width / full[0]
    unit = max(image.size) / 700
    pen = ImageDraw.Draw(image)
    font = _font(round(15 * unit))

    def at(p: Point) -> tuple[float, float]:
        return ((p[0] + 0.5) * scale - 0.5, (p[1] + 0.5) * scale - 0.5)

    def line(points: list[tuple[float, float]], width: float) -> None:
        # Ink within paper, so that it can be seen on white and on soil.
        pen.line(points, fill=_PAPER, width=round((width + 2) * unit), joint="curve")
        pen.line(points, fill=_INK, width=max(1, round(width * unit)), joint="curve")

    lines: list[str] = []
    for number, leaf in enumerate(every, start=1):
        if leaf.refused is not None:
            lines.append(leaf.refused)
            continue
        assert leaf.petiole_base and leaf.junction and leaf.tip and leaf.widest
        line([at(p) for p in leaf.axis], 1.6)
        line([at(p) for p in leaf.widest], 1.0)
        for p, name in (
            (leaf.petiole_base, words.t("foot")), (leaf.junction, words.t("junction")), (leaf.tip, words.t("tip")),
        ):  # fmt: skip
            x, y = at(p)
            r = 5 * unit
            pen.ellipse((x - r - unit, y - r - unit, x + r + unit, y + r + unit), fill=_PAPER)
            pen.ellipse((x - r, y - r, x + r, y + r), fill=_MADDER if p is leaf.junction else _INK)
            _label(pen, (x + 9 * unit, y - 9 * unit), name, font, image.size)
        text = in_numbers(leaf, words)
        lines.append(f"{number}. {text}" if len(every) > 1 else text)
    return _with_caption(image, lines, font, Image, unit)


def in_numbers(leaf: LeafMeasure, words: Words | None = None) -> str:
    """The measure of a leaf in one sentence."""
    words = words or Words()
    if leaf.refused is not None:
        return leaf.refused
    ratio = words.t(
        "Petiole over blade {ratio} ± {sd}.",
        ratio=words.number(leaf.petiole_blade_ratio, 2),
        sd=words.number(leaf.ratio_sd, 2),
    )
    petiole, blade, width = leaf.petiole_px, leaf.blade_px, leaf.width_px
    if leaf.mm_per_px is not None:
        return (
            ratio
            + " "
            + words.t(
                "Petiole {petiole} mm, blade {blade} mm long and {width} mm wide.",
                petiole=words.number(petiole * leaf.mm_per_px, 1),
                blade=words.number(blade * leaf.mm_per_px, 1),
                width=words.number(width * leaf.mm_per_px, 1),
            )
        )
    return ratio + " " + words.t(
        "Petiole {petiole}, blade {blade} long and {width} wide, in pixels.",
        petiole=words.number(petiole, 0), blade=words.number(blade, 0), width=words.number(width, 0),
    )  # fmt: skip


def _label(pen: Any, place: tuple[float, float], text: str, font: Any, size: tuple[int, int]) -> None:
    x0, y0, x1, y1 = pen.textbbox(place, text, font=font)
    dx = min(0, size[0] - 4 - x1)
    dy = max(0, 4 - y0)
    pen.rectangle((x0 + dx - 3, y0 + dy - 2, x1 + dx + 3, y1 + dy + 2), fill=_PAPER)
    pen.text((place[0] + dx, place[1] + dy), text, font=font, fill=_INK)


def _with_caption(image: Any, lines: list[str], font: Any, module: Any, unit: float) -> Any:
    from PIL import ImageDraw

    pen = ImageDraw.Draw(image)
    room = image.width - 24 * unit
    wrapped: list[str] = []
    for text in lines:
        row = ""
        for word in text.split():
            longer = f"{row} {word}".strip()
            if pen.textlength(longer, font=font) > room and row:
                wrapped.append(row)
                row = word
            else:
                row = longer
        wrapped.append(row)
    high = round(21 * unit)
    whole = module.new("RGB", (image.width, image.height + high * len(wrapped) + round(14 * unit)), _PAPER)
    whole.paste(image, (0, 0))
    pen = ImageDraw.Draw(whole)
    for k, row in enumerate(wrapped):
        pen.text((12 * unit, image.height + 7 * unit + k * high), row, font=font, fill=_INK)
    return whole


def _font(size: int) -> Any:
    from pathlib import Path

    import fontpkg_atkinson_hyperlegible as fonts
    from PIL import ImageFont

    for path in sorted(Path(fonts.__file__).parent.rglob("*Regular*.[ot]tf")):
        return ImageFont.truetype(str(path), size)
    return ImageFont.load_default(size)
