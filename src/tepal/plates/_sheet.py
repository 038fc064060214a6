"""The sheet that a plate is drawn on: strokes by weight, one wash, measure lines, a scale bar; written as SVG."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from html import escape
from typing import Literal

from tepal.plates._curve import Points, at, number, scalloped, smooth, straight
from tepal.words import Words

INK = "#1d1a16"
WASH = "#e6e0cf"
PAPER = "#faf7f0"
# The drawing takes the upper 96; below it stand a line of words and the scale bar.
WIDE, HIGH = 100, 114
# Of 100 units of width: what is asked about, an outline, the rest, a vein, a hair.
HEAVY, OUTLINE, LIGHT, VEIN, HAIR = 2.4, 1.6, 1.0, 0.8, 0.5
FONT = "Atkinson Hyperlegible, Arial, sans-serif"
Fill = Literal["wash", "paper", "ink"]
_FILLS = {"wash": WASH, "paper": PAPER, "ink": INK}
_INCH = 25.4
# Lengths that a person can picture, in millimetres, each with the message that names it.
_BARS_MM = ((0.1, "0.1"), (0.2, "0.2"), (0.5, "0.5"), (1, "1"), (2, "2"), (5, "5"))
_BARS_CM = ((10, "1"), (20, "2"), (50, "5"), (100, "10"), (200, "20"), (500, "50"), (1000, "100"))
_BARS_IN = ((0.25, "¼"), (0.5, "½"), (1, "1"), (2, "2"), (6, "6"))
_BARS_FT = ((1, "1"), (2, "2"), (3, "3"))


@dataclass(slots=True)
class Sheet:
    """Elements in drawing order. `per_mm` is the scale, units of the plate per millimetre; None: not to scale."""

    words: Words
    per_mm: float | None = None
    footer: str = ""
    _parts: list[str] = field(default_factory=list)
    _style: str = ""
    _data: list[str] = field(default_factory=list)
    _covers: bool = False

    def line(
        self,
        points: Points,
        weight: float = OUTLINE,
        *,
        part: str = "",
        closed: bool = False,
        fill: Fill | None = None,
        corners: Iterable[int] = (),
        angular: bool = False,
        dashed: bool = False,
    ) -> None:
        """One stroke through the points: curved unless `angular`. `part` names it, for tests and for pages."""
        data = straight(points, closed=closed) if angular else smooth(points, closed=closed, corners=corners)
        self._add(data, weight, part, fill, dashed)

    def lines(self, strokes: Iterable[Points], weight: float = VEIN, *, part: str = "", curved: bool = False) -> None:
        """Many strokes of one kind as one element."""
        data = "".join((smooth(points) if curved else straight(points)) for points in strokes)
        if data:
            self._add(data, weight, part, None, False)

    def area(self, points: Points, fill: Fill, *, corners: Iterable[int] = (), angular: bool = False) -> None:
        """A patch without an outline."""
        data = straight(points, closed=True) if angular else smooth(points, closed=True, corners=corners)
        self._add(data, 0.0, "", fill, False)

    def lumps(self, points: Points, bulge: float, weight: float = OUTLINE, *, part: str = "") -> None:
        """A washed outline of lumps, one from each point to the next."""
        self._add(scalloped(points, bulge), weight, part, "wash", False)

    def dots(self, centres: Iterable[complex], across: float, *, part: str = "") -> None:
        """Round dots of ink: strokes without length, which round ends make round."""
        data = "".join(f"M{at(z)}h0" for z in centres)
        if data:
            self._add(data, across, part, None, False)

    def _add(self, data: str, weight: float, part: str, fill: Fill | None, dashed: bool) -> None:
        style = "" if weight == OUTLINE else f' stroke-width="{number(weight)}"' if weight else ' stroke="none"'
        if fill:
            style += f' class="{fill}" fill="{_FILLS[fill]}"'
        if dashed:
            style += ' stroke-dasharray="2 2.5"'
        if part:
            style += f' data-part="{part}"'
        # What has one style and no name of its own shares an element.
        if style != self._style or part:
            self._close()
        self._style, self._covers = style, bool(fill)
        self._data.append(data)

    def _close(self) -> None:
        if self._covers and len(self._data) > 1:
            # A fill covers what lies below it: each keeps a path of its own.
            paths = "".join(f'<path d="{data}"/>' for data in self._data)
            self._parts.append(f"<g{self._style}>{paths}</g>")
        elif self._data:
            self._parts.append(f'<path{self._style} d="{"".join(self._data)}"/>')
        self._style, self._data, self._covers = "", [], False

    def text(self, where: complex, text: str, *, size: float = 7.5, anchor: str = "middle") -> None:
        """A few words; their baseline at the point."""
        self._close()
        self._parts.append(
            f'<text x="{number(where.real)}" y="{number(where.imag)}" font-size="{number(size)}" '
            f'text-anchor="{anchor}">{escape(text)}</text>'
        )

    def measure(
        self,
        start: complex,
        end: complex,
        *,
        name: str = "",
        part: str = "measure",
        side: float = 6.0,
        beyond: bool = False,
    ) -> None:
        """A measure line from start to end with a tick at each; `name` beside it at `side` units, or `beyond` start."""
        across = 1j * (end - start) / abs(end - start)
        self.line([start, end], HEAVY, part=part, angular=True)
        self.lines([(z - 3 * across, z + 3 * across) for z in (start, end)], OUTLINE)
        if name:
            where = start + 6 * 1j * across if beyond else (start + end) / 2 + side * across
            self.text(where + 2.7j, name, size=8.5)

    def leader(self, start: complex, end: complex) -> None:
        """A fine dashed line from what is measured to its measure line."""
        self.line([start, end], VEIN, angular=True, dashed=True)

    def svg(self, title: str, alt: str) -> str:
        """The plate as a document of its own. Pages may restyle by class: `plate`, `wash`, `paper`, `ink`."""
        self._foot()
        self._close()
        text = escape(alt, quote=True)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="plate" viewBox="0 0 {WIDE} {HIGH}" role="img" '
            f'aria-label="{text}" fill="none" stroke="{INK}" stroke-width="{OUTLINE}" stroke-linecap="round" '
            f'stroke-linejoin="round"><title>{escape(title)}</title><desc>{escape(alt)}</desc>'
            + "".join(self._parts).replace("<text ", f'<text font-family="{FONT}" fill="{INK}" stroke="none" ')
            + "</svg>\n"
        )

    def bar(self) -> tuple[float, str] | None:
        """The scale bar: its length in units of the plate, and in words."""
        if self.per_mm is None:
            return None
        known = [(mm, n, "mm") for mm, n in _BARS_MM]
        if self.words.units == "us":
            known += [(_INCH * inch, n, "in") for inch, n in _BARS_IN]
            known += [(12 * _INCH * feet, n, "ft") for feet, n in _BARS_FT]
        else:
            known += [(mm, n, "cm") for mm, n in _BARS_CM]
        best = min(known, key=lambda bar: abs(math.log(bar[0] * (self.per_mm or 1) / 24)))
        return best[0] * self.per_mm, self._about(best[2], best[1])

    def _about(self, unit: str, n: str) -> str:
        if unit == "mm":
            return self.words.t("about {n} mm", n=n)
        if unit == "cm":
            return self.words.t("about {n} cm", n=n)
        if unit == "in":
            return self.words.t("about {n} in", n=n)
        return self.words.t("about {n} ft", n=n)

    def _foot(self) -> None:
        if self.footer:
            self.text(complex(WIDE / 2, 103), self.footer)
        if found := self.bar():
            length, text = found
            y = 110.0
            bar = [(complex(3, y), complex(3 + length, y))]
            bar += [(complex(x, y - 1.5), complex(x, y + 1.5)) for x in (3, 3 + length)]
            self.lines(bar, LIGHT, part="scale")
            self.text(complex(6 + length, y + 2.2), text, size=6.8, anchor="start")


def ring(points: Sequence[complex]) -> list[complex]:
    """A closed copy, its first point again at the end."""
    return [*points, points[0]]
