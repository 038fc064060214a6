"""Three plates for programmes side by side: seed in the ground, sites of action, money against seed."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tepal.letter._ink import INK, RULE, SOFT, WASH
from tepal.letter._svg import Canvas, num, text_width
from tepal.words import Words
from tepal.years import Projection, land_unit, money, money_here

FloatArray = npt.NDArray[np.float64]
WIDE, NARROW = 504.0, 250.0
"""A page's width, and a phone's, on which each programme has a row and letters are as large as the text's."""
_GAP, _LEFT, _SIZE, _MOST_IN_ROW = 16.0, 44.0, 8.6, 3
_FT2 = 0.09290304
# Seed below one in ten square metres is shown as none: the logarithm needs an end.
_LEAST = 0.1
# A group whose share moves less is named and not drawn.
_CHANGED = 0.03
# Lines told apart without colour: solid, long, short, dotted, dash-dot.
_DASHES = ("", "7 3", "3 2.4", "1 2.6", "8 3 2 3", "12 3", "4 2 1 2 1 2")


@dataclass(frozen=True, slots=True)
class Plate:
    svg: str
    alt: str


@dataclass(frozen=True, slots=True)
class _Panel:
    """A frame within a plate: x goes over years, y by `at`."""

    left: float
    top: float
    width: float
    height: float
    years: int
    low: float
    high: float

    def x(self, year: float) -> float:
        return self.left + self.width * year / self.years

    def y(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return self.top + self.height * (1 - min(max(share, 0.0), 1.0))


def seed_plate(done: Sequence[Projection], words: Words, wide: float = WIDE) -> Plate:
    """Seed in the ground over the years: band of 90 of 100 futures, its middle, and the start as a dashed line."""
    per = _FT2 if words.units == "us" else 1.0

    def logs(values: FloatArray) -> FloatArray:
        return np.asarray(np.log10(np.maximum(values, _LEAST) * per))

    bands = [
        logs(np.quantile(np.column_stack([p.tracks.start_m2, p.tracks.seedbank_m2]), (0.05, 0.5, 0.95), axis=0))
        for p in done
    ]
    low, high = round(math.log10(_LEAST * per)), math.ceil(max(b.max() for b in bands))
    low = max(low, math.floor(min(b.min() for b in bands)))
    high = max(high, low + 1)
    canvas, panels, total = _frames(done, 150.0, (low, high), [(v, _power(v, words)) for v in range(low, high + 1)],
                                    words, wide=wide)  # fmt: skip
    for band, panel in zip(bands, panels, strict=True):
        years = range(band.shape[1])
        edge = [(panel.x(y), panel.y(band[2][y])) for y in years]
        edge += [(panel.x(y), panel.y(band[0][y])) for y in reversed(years)]
        canvas.add(
            "path", d=_path(edge) + "Z", fill=WASH, stroke=SOFT, stroke_width="0.6", class_="wash-fill soft-line"
        )
        start = panel.y(band[1][0])
        canvas.add("path", d=f"M{num(panel.x(0))} {num(start)}H{num(panel.x(panel.years))}", stroke=SOFT,
                   stroke_width="0.9", stroke_dasharray="3 3", fill="none", class_="soft-line")  # fmt: skip
        canvas.add("path", d=_path([(panel.x(y), panel.y(band[1][y])) for y in years]), stroke=INK,
                   stroke_width="1.8", fill="none", class_="ink-line")  # fmt: skip
    unit = words.t("seeds per square foot") if words.units == "us" else words.t("seeds per square metre")
    told = [
        words.t("{name}: from about {start} to about {end} {unit} in year {n}.", name=p.name,
                start=words.about(10 ** band[1][0]), end=words.about(10 ** band[1][-1]), unit=unit, n=p.years)
        for p, band in zip(done, bands, strict=True)
    ]  # fmt: skip
    return Plate(_svg(canvas, wide, total), " ".join((words.t("Seed in the ground over the years."), *told)))


def sites_plate(done: Sequence[Projection], words: Words, wide: float = WIDE) -> Plate:
    """Share of the plants coming up that each group would miss: the middle of all futures, one kind of line a group.

    Groups that hardly change are named and not drawn: flat lines upon each other tell nothing.
    """
    groups = sorted({group for p in done for group in p.tracks.escapes}, key=int)
    ticks = [(share, words.t("{n} %", n=round(100 * share))) for share in (0.0, 0.5, 1.0)]
    canvas, panels, total = _frames(done, 120.0, (0.0, 1.0), ticks, words, wide=wide, room=46.0)
    told = []
    for p, panel in zip(done, panels, strict=True):
        half = num(panel.y(0.5))
        canvas.add("path", d=f"M{num(panel.x(0))} {half}H{num(panel.x(panel.years))}", stroke=SOFT, stroke_width="0.9",
                   stroke_dasharray="3 3", fill="none", class_="soft-line")  # fmt: skip
        middles = {group: np.quantile(shares, 0.5, axis=0) for group, shares in p.tracks.escapes.items()}
        drawn = {group: m for group, m in middles.items() if np.ptp(m) >= _CHANGED or m[-1] >= 0.5}
        ends = []
        for group, middle in drawn.items():
            points = [(panel.x(year + 1), panel.y(value)) for year, value in enumerate(middle)]
            points = [(panel.x(0.5), points[0][1]), *points]
            canvas.add("path", d=_path(points), stroke=INK, stroke_width="1.6", fill="none", class_="ink-line",
                       stroke_dasharray=_DASHES[groups.index(group) % len(_DASHES)] or "none")  # fmt: skip
            ends.append((points[-1][1], words.t("group {n}", n=group)))
        for y, text in _apart(ends, panel.top + 4, panel.top + panel.height):
            canvas.text(panel.left + panel.width + 4, y + 3, text, size=_SIZE, fill=INK, class_="ink-fill")
        rest = [group for group in middles if group not in drawn]
        if rest:
            named = words.t("hardly changed: {groups}", groups=words.listing(rest))
            for line, text in enumerate(_folded(named, panel.width)):
                canvas.text(panel.left, panel.top + 12 + 10 * line, text, size=_SIZE, fill=SOFT, class_="soft-fill")
        told += [
            words.t("{name}, group {group}: {n} of 100 plants missed in the last year.", name=p.name, group=group,
                    n=round(100 * float(middle[-1])))
            for group, middle in middles.items()
        ]  # fmt: skip
    return Plate(_svg(canvas, wide, total), " ".join((words.t("Plants coming up that each group would miss."), *told)))


def money_plate(done: Sequence[Projection], words: Words, discount: float, wide: float = WIDE) -> Plate | None:
    """Money over all years against seed left: one mark a programme, its lines the spread of 90 of 100 futures."""
    spent = [np.quantile(p.spent(discount), (0.05, 0.5, 0.95)) for p in done]
    if max(s[2] for s in spent) <= 0:
        return None
    left = [
        np.log10(np.maximum(np.quantile(p.tracks.seedbank_m2[:, -1] / np.maximum(p.tracks.start_m2, _LEAST),
                                        (0.05, 0.5, 0.95)), 1e-4))
        for p in done
    ]  # fmt: skip
    canvas = Canvas()
    dear = _nice(max(money_here(float(s[2]), words) for s in spent))
    low, high = math.floor(min(b[0] for b in left)), math.ceil(max(b[2] for b in left))
    high = max(high, low + 1)
    ticks = [(v, _times(v, words)) for v in range(low, high + 1)]
    start, beside = _room_for(ticks), wide > NARROW  # the names stand beside it where there is room, else below
    frame = _Panel(start, 8.0, wide - start - (106.0 if beside else 14.0), 130.0, 1, low, high)
    _rules(canvas, frame, ticks)
    currency = done[0].programme.money.currency
    steps = 4 if beside else 2
    for at in range(steps + 1):
        _tick(canvas, frame, at / steps, _priced(dear * at / steps, currency, words))
    told = []
    for at, (p, s, b) in enumerate(zip(done, spent, left, strict=True)):
        across = [frame.x(money_here(float(value), words) / dear) for value in s]
        up = [frame.y(float(value)) for value in b]
        cross = f"M{num(across[0])} {num(up[1])}H{num(across[2])}M{num(across[1])} {num(up[0])}V{num(up[2])}"
        canvas.add("path", d=cross, stroke=SOFT, stroke_width="1", fill="none", class_="soft-line")
        _mark(canvas, at, across[1], up[1])
        told.append(words.t("{name}: about {money} {land}, and {times} the seed of the start.", name=p.name,
                            money=money(float(s[1]), currency, words), land=land_unit(words),
                            times=_times(float(b[1]), words)))  # fmt: skip
    bottom = frame.top + frame.height + 22
    right, down = (frame.left + frame.width + 12, frame.top + 8) if beside else (8.0, bottom + 8)
    for at, p in enumerate(done):
        _mark(canvas, at, right, down)
        lines = _folded(p.name, 92.0 if beside else wide - 20)
        for line, text in enumerate(lines):
            canvas.text(right + 8, down + 3 + 10 * line, text, size=_SIZE, fill=INK, class_="ink-fill")
        down += 10 * len(lines) + 8
    total = max(bottom, down)
    return Plate(_svg(canvas, wide, total), " ".join((words.t("Money against seed left."), *told)))


def _tick(canvas: Canvas, frame: _Panel, share: float, text: str) -> None:
    x, y = frame.x(share), frame.top + frame.height
    canvas.add("path", d=f"M{num(x)} {num(y)}v4", stroke=SOFT, stroke_width="0.8", class_="soft-line")
    canvas.text(x, y + 14, text, size=_SIZE, fill=SOFT, anchor="middle", class_="soft-fill")


def _priced(value: float, currency: str, words: Words) -> str:
    return f"{currency}{words.about(value)}" if not currency[-1].isalnum() else f"{words.about(value)} {currency}"


def _frames(done: Sequence[Projection], height: float, ends: tuple[float, float], ticks: Sequence[tuple[float, str]],
            words: Words, *, wide: float, room: float = 6.0) -> tuple[Canvas, list[_Panel], float]:  # fmt: skip
    """Empty panels, all with the same axes, their programmes' names above: canvas, panels, height."""
    canvas, panels = Canvas(), []
    across = min(len(done), _MOST_IN_ROW) if wide > NARROW else 1
    start = _room_for(ticks)
    each = (wide - start - _GAP * (across - 1)) / across - room
    rows = math.ceil(len(done) / across)
    step = height + (42 if rows == 1 else 54)
    for at, p in enumerate(done):
        row, column = divmod(at, across)
        panel = _Panel(start + column * (each + room + _GAP), 26 + row * step, each, height, p.years, *ends)
        _rules(canvas, panel, ticks if column == 0 else [(value, "") for value, _ in ticks])
        for line, text in enumerate(_folded(p.name, each + room - 4)[:2]):
            canvas.text(panel.left, panel.top - 16 + 10 * line, text, size=_SIZE + 0.6, fill=INK, font_weight="700",
                        class_="ink-fill")  # fmt: skip
        every = max(1, math.ceil(p.years / 5))
        for year in range(0, p.years + 1, every):
            shown = words.t("now") if year == 0 else str(year)
            canvas.text(panel.x(year), panel.top + height + 12, shown, size=_SIZE, fill=SOFT, anchor="middle",
                        class_="soft-fill")  # fmt: skip
        panels.append(panel)
    return canvas, panels, 26 + step * rows - (22 if rows == 1 else 34)


def _room_for(ticks: Sequence[tuple[float, str]]) -> float:
    """What the longest word beside an axis needs."""
    return max(_LEFT, *(text_width(text, _SIZE) + 8 for _, text in ticks))


def _rules(canvas: Canvas, panel: _Panel, ticks: Sequence[tuple[float, str]]) -> None:
    # Every power of ten has its line; so many words would not fit.
    every = max(1, math.ceil(len(ticks) / 6))
    for at, (value, text) in enumerate(ticks):
        y = num(panel.y(value))
        canvas.add("path", d=f"M{num(panel.left)} {y}h{num(panel.width)}", stroke=RULE, stroke_width="0.7",
                   fill="none", class_="rule-line")  # fmt: skip
        if text and at % every == 0:
            canvas.text(panel.left - 5, panel.y(value) + 3, text, size=_SIZE, fill=SOFT, anchor="end",
                        class_="soft-fill")  # fmt: skip
    canvas.add("path", d=f"M{num(panel.left)} {num(panel.top + panel.height)}h{num(panel.width)}", stroke=INK,
               stroke_width="1", fill="none", class_="ink-line")  # fmt: skip


def _mark(canvas: Canvas, at: int, x: float, y: float) -> None:
    """A disc, a square, a triangle, a ring…: told apart by shape."""
    r = 4.2
    shapes: tuple[Callable[[], dict[str, object]], ...] = (
        lambda: {"d": f"M{num(x - r)} {num(y)}a{r} {r} 0 1 0 {2 * r} 0a{r} {r} 0 1 0 {-2 * r} 0Z", "fill": INK},
        lambda: {"d": f"M{num(x - 4)} {num(y - 4)}h8v8h-8Z", "fill": INK},
        lambda: {"d": f"M{num(x)} {num(y - 5)}l5 9h-10Z", "fill": INK},
        lambda: {"d": f"M{num(x - r)} {num(y)}a{r} {r} 0 1 0 {2 * r} 0a{r} {r} 0 1 0 {-2 * r} 0Z", "fill": "#ffffff"},
        lambda: {"d": f"M{num(x - 4)} {num(y - 4)}h8v8h-8Z", "fill": "#ffffff"},
        lambda: {"d": f"M{num(x)} {num(y - 5)}l5 9h-10Z", "fill": "#ffffff"},
    )  # fmt: skip
    shape = shapes[at % len(shapes)]()
    filled = "ink-fill" if shape["fill"] == INK else "sheet-fill"
    canvas.add("path", **shape, stroke=INK, stroke_width="1.2", class_=f"{filled} ink-line")


def _apart(ends: Sequence[tuple[float, str]], top: float, bottom: float) -> list[tuple[float, str]]:
    """Labels moved off each other, within the frame."""
    placed: list[tuple[float, str]] = []
    for y, text in sorted(ends):
        placed.append((max(y, placed[-1][0] + 10 if placed else top), text))
    over = (placed[-1][0] - bottom) if placed else 0
    for at in range(len(placed) - 1, -1, -1):
        if over <= 0:
            break
        y, text = placed[at]
        limit = placed[at + 1][0] - 10 if at + 1 < len(placed) else bottom
        placed[at] = (min(y, limit), text)
    return placed


def _folded(text: str, wide: float) -> list[str]:
    """Lines of a name, at most three, each as wide as there is room."""
    lines: list[str] = []
    for word in text.split():
        if lines and text_width(f"{lines[-1]} {word}", _SIZE) <= wide:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines[:3]


def _power(log10: int, words: Words) -> str:
    return words.number(10**log10) if log10 >= 0 else words.number(10.0**log10, -log10)


def _times(log10: float, words: Words) -> str:
    value = 10**log10
    if log10 == 0:
        return words.t("as now")
    return words.t("{n} times", n=words.about(value)) if value >= 1 else words.t("1/{n}", n=words.about(1 / value))


def _nice(most: float) -> float:
    power = 10 ** math.floor(math.log10(most))
    return float(next(step * power for step in (1, 2, 4, 6, 8, 10) if step * power >= most))


def _path(points: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{num(x)} {num(y)}" for x, y in points)


def _svg(canvas: Canvas, wide: float, height: float) -> str:
    size = f'viewBox="0 0 {num(wide)} {num(height)}" width="{num(wide)}" height="{num(height)}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{"".join(canvas.parts)}</svg>'
