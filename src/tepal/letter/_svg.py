"""A small writer of SVG: elements with escaped text, numbers of one decimal."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from html import escape

from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from tepal.letter._frame import Fit

FONT = "Atkinson Hyperlegible"
# Mean width of a sign of the typeface, in ems; labels are placed by it.
SIGN_WIDTH = 0.53

Box = tuple[float, float, float, float]


def num(value: float) -> str:
    """A coordinate: one decimal, no trailing zero, never -0."""
    text = f"{value:.1f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


@dataclass(slots=True)
class Canvas:
    """Elements in drawing order. Colours are classes with the print colour beside them: a page may set its own."""

    parts: list[str] = field(default_factory=list)

    def add(self, tag: str, text: str | None = None, /, **attributes: object) -> None:
        """One element; an attribute `stroke_width` is written `stroke-width`, floats with one decimal."""
        named = "".join(
            f' {name.rstrip("_").replace("_", "-")}="{num(v) if isinstance(v, float) else escape(str(v))}"'
            for name, v in attributes.items()
        )
        self.parts.append(f"<{tag}{named}/>" if text is None else f"<{tag}{named}>{escape(text)}</{tag}>")

    def text(
        self, x: float, y: float, text: str, *, size: float, fill: str, anchor: str = "start", **more: object
    ) -> None:
        """A line of text in the letter's typeface, its baseline at (x, y)."""
        self.add("text", text, x=x, y=y, font_family=FONT, font_size=size, fill=fill, text_anchor=anchor, **more)


def path_of(shape: BaseGeometry, fit: Fit) -> str:
    """The path of lines or polygons; holes and parts follow one another, to be filled even-odd."""
    lines: list[tuple[Iterable[tuple[float, ...]], bool]] = []
    stack = [shape]
    while stack:
        part = stack.pop(0)
        if part.is_empty:
            continue
        if isinstance(part, Polygon):
            lines += [(ring.coords, True) for ring in (part.exterior, *part.interiors)]
        elif part.geom_type in ("LineString", "LinearRing"):
            lines.append((part.coords, False))
        else:
            stack = list(getattr(part, "geoms", ())) + stack
    out = []
    for coords, closed in lines:
        points = [" ".join(num(v) for v in fit.at(c[0], c[1])) for c in coords]
        # Points closer than a tenth of a point print as one.
        kept = [p for i, p in enumerate(points) if i == 0 or p != points[i - 1]]
        out.append("M" + "L".join(kept) + ("Z" if closed else ""))
    return "".join(out)


def text_width(text: str, size: float) -> float:
    """About how wide a text is, in points."""
    return len(text) * size * SIGN_WIDTH


@dataclass(slots=True)
class Room:
    """Keeps track of what is taken, so that no label covers a mark or another label.

    `lying`: the site is a strip across the map, whose banks would run through a label beside its mark.
    """

    width: float
    height: float
    lying: bool = False
    taken: list[Box] = field(default_factory=list)

    def take(self, x: float, y: float, reach: float) -> None:
        """A mark of radius `reach` stands here."""
        self.taken.append((x - reach, y - reach, x + reach, y + reach))

    def label(self, x: float, y: float, reach: float, text: str, size: float) -> tuple[float, float] | None:
        """Where the label's left end and baseline go: right, left, above or below its mark, above and below first where
        the site lies across; None = no room."""
        wide, high = text_width(text, size), size * 0.75
        gap = reach + 2.5
        beside = [(x + gap, y + high / 2), (x - gap - wide, y + high / 2)]
        over = [(x - wide / 2, y - gap), (x - wide / 2, y + gap + high)]
        for left, base in over + beside if self.lying else beside + over:
            box = (left - 1, base - high - 1, left + wide + 1, base + 2)
            inside = box[0] >= 1 and box[1] >= 1 and box[2] <= self.width - 1 and box[3] <= self.height - 1
            if inside and not any(_overlap(box, other) for other in self.taken):
                self.taken.append(box)
                return left, base
        return None


def _overlap(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
