"""The key under the map: only the marks that the map has, each with its word beside it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from tepal.letter._data import MapData
from tepal.letter._ink import INK, SOFT
from tepal.letter._marks import radius, sign, stop
from tepal.letter._svg import Canvas, text_width
from tepal.words import Words

_ROW = 15.0
_GAP = 14.0


@dataclass(frozen=True, slots=True)
class Item:
    """One mark and its word. `mark` draws it about (x, y); `wide` is its width in points."""

    text: str
    wide: float
    mark: Callable[[Canvas, float, float], None]


def items(data: MapData, words: Words, signs: dict[str, str], *, largest: int) -> list[Item]:
    """What the key must explain, in the order in which it is looked for."""
    found: list[Item] = []
    for name, kind in signs.items():
        text = words.t(name) if name else words.t("plant not yet named")
        found.append(Item(text, 11.0, lambda c, x, y, kind=kind: sign(c, kind, x, y)))  # type: ignore[misc]
    if largest:
        reach = radius(largest, largest, len(data.stops))
        text = words.plural("{count} plant counted", "{count} plants counted", largest)
        found.append(Item(text, 2 * reach, lambda c, x, y: stop(c, x, y, largest, min(reach, 7.0))))
    if any(s.count == 0 for s in data.stops):
        found.append(Item(words.t("looked, none there"), 6.0, lambda c, x, y: stop(c, x, y, 0, 2.5)))
    if data.tracks:
        found.append(Item(words.t("where we walked"), 16.0, _dashes))
    if data.point is not None:
        text = words.t("the place as told to us")
        if data.point_error_m > 0:
            text = words.t("the place as told to us, give or take {length}", length=words.length(data.point_error_m))
        found.append(Item(text, 6.0, _dot))
    return found


def write_key(canvas: Canvas, key: list[Item], width: float, top: float, size: float) -> float:
    """Write the items in rows from `top`; gives the height taken."""
    x, row = 2.0, 0
    for item in key:
        wide = item.wide + 4 + text_width(item.text, size)
        if x > 2.0 and x + wide > width:
            x, row = 2.0, row + 1
        y = top + row * _ROW + _ROW / 2
        item.mark(canvas, x + item.wide / 2, y)
        canvas.text(x + item.wide + 4, y + 3, item.text, size=size, fill=INK, class_="ink-fill")
        x += wide + _GAP
    return (row + 1) * _ROW if key else 0.0


def _dashes(canvas: Canvas, x: float, y: float) -> None:
    canvas.add(
        "path", d=f"M{x - 8:.1f} {y:.1f}H{x + 8:.1f}", fill="none", stroke=SOFT, stroke_width="1",
        stroke_dasharray="3.5 2.5", class_="soft-line",
    )  # fmt: skip


def _dot(canvas: Canvas, x: float, y: float) -> None:
    canvas.add("circle", cx=x, cy=y, r=2.6, fill=INK, class_="ink-fill")
