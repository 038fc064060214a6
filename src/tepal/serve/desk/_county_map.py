"""The small map of a county: where the places lie and what stands there, each mark its own shape, ink on paper."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

import numpy as np

from tepal.ground import Frame
from tepal.serve.desk._render import drawing
from tepal.words import Words

WIDE, _LEAST_HIGH, _MOST_HIGH = 680.0, 260.0, 440.0
_MARGIN = 28.0
_SIZE = 13.0
_SIGN_WIDTH = 0.55 * _SIZE
# So many marks carry a name; more would be a cloud.
_NAMED = 24
_MILE, _KM = 1609.344, 1000.0
SEEN = ("hunted", "maybe", "other", "none", "nobody")


@dataclass(frozen=True, slots=True)
class Mark:
    """A place on the map. `seen`: one of `SEEN`; `number`: its number in the list above."""

    lon: float
    lat: float
    seen: str
    name: str
    number: int | None = None


def county_map(marks: Sequence[Mark], words: Words) -> Any:
    """The map as markup with its key and its scale; None where no place is known."""
    if not marks:
        return None
    lonlat = np.array([(mark.lon, mark.lat) for mark in marks])
    frame = Frame(round(float(lonlat[:, 0].mean()), 3), round(float(lonlat[:, 1].mean()), 3))
    metres = frame.to_metres(lonlat)
    (west, south), (east, north) = metres.min(axis=0), metres.max(axis=0)
    wide, high = max(east - west, 2000.0), max(north - south, 1000.0)
    room = WIDE - 2 * _MARGIN
    tall = min(max(room * high / wide, _LEAST_HIGH - 2 * _MARGIN), _MOST_HIGH - 2 * _MARGIN)
    scale = min(room / wide, tall / high)
    left = (WIDE - (east + west) * scale) / 2
    top = _MARGIN + (tall + (north + south) * scale) / 2
    points = [(left + x * scale, top - y * scale) for x, y in metres.tolist()]
    reach = 7.0 if len(marks) <= 60 else 4.5 if len(marks) <= 200 else 3.2
    ground = tall + 2 * _MARGIN
    parts = [f'<rect class="sheet-fill rule-line" x=".5" y=".5" width="{WIDE - 1:.0f}" height="{ground - 1:.1f}"/>']
    labels = _Room(ground, [(x - reach, y - reach, x + reach, y + reach) for x, y in points])
    # What matters most is drawn last, so that it lies on top.
    for i in sorted(range(len(marks)), key=lambda i: -SEEN.index(marks[i].seen)):
        parts.append(_sign(marks[i].seen, *points[i], reach))
    labelled = sorted((i for i in range(len(marks))), key=lambda i: (marks[i].number or 10**9, marks[i].name))[:_NAMED]
    for i in labelled:
        mark = marks[i]
        parts.append(labels.label(mark.name, mark.number, points[i], reach))
    box = f'viewBox="0 0 {WIDE:.0f} {ground + 34:.0f}"'
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" {box}>{"".join(parts)}{_foot(scale, ground, words)}</svg>'
    return drawing(svg, _alt(marks, words)) + drawing(_key(sorted({m.seen for m in marks}, key=SEEN.index), words))


def _sign(seen: str, x: float, y: float, r: float) -> str:
    """Ink for where the hunted stand, hatching for doubt, a ring for other pigweeds, an open square for none seen, a
    short stroke for a place that nobody has looked at: a black-and-white copy loses nothing."""
    ring = f'<circle class="sheet-fill ink-line" r="{r:.1f}"/>'
    d, s = r / math.sqrt(2), 0.85 * r
    strokes = f"M{-d:.1f} {d:.1f}L{d:.1f} {-d:.1f}M{-r:.1f} 0L0 {-r:.1f}M0 {r:.1f}L{r:.1f} 0"
    drawn = {
        "hunted": f'<circle class="ink-fill sheet-line" r="{r:.1f}"/>',
        "maybe": f'{ring}<path class="ink-line fine" d="{strokes}"/>',
        "other": f'{ring}<circle class="ink-fill" r="{r / 4:.1f}"/>',
        "none": f'<path class="sheet-fill ink-line" d="M{-s:.1f} {-s:.1f}H{s:.1f}V{s:.1f}H{-s:.1f}Z"/>',
        "nobody": f'<path class="ink-line" d="M{-0.8 * r:.1f} 0H{0.8 * r:.1f}"/>',
    }[seen]
    return f'<g transform="translate({x:.1f} {y:.1f})">{drawn}</g>'


@dataclass(slots=True)
class _Room:
    """What is taken on the map, so that no label lies on a mark or on another label."""

    high: float
    taken: list[tuple[float, float, float, float]]

    def label(self, name: str, number: int | None, at: tuple[float, float], reach: float) -> str:
        """The label beside its mark, right, left, above or below; empty where there is no room. A narrow page shows the
        number alone."""
        told = "" if number is None else f"{number} "
        (x, y), wide, gap = at, len(told + name) * _SIGN_WIDTH, reach + 4
        places = (
            ("start", x + gap, x + gap, y + 4.5),
            ("end", x - gap, x - gap - wide, y + 4.5),
            ("middle", x, x - wide / 2, y - gap),
            ("middle", x, x - wide / 2, y + gap + 10),
        )
        for anchor, start, left, base in places:
            box = (left - 2, base - 11, left + wide + 2, base + 4)
            inside = box[0] > 3 and box[1] > 3 and box[2] < WIDE - 3 and box[3] < self.high - 3
            if inside and not any(_overlap(box, other) for other in self.taken):
                self.taken.append(box)
                kind = "plain" if number is None else "strong"
                text = f'{told}<tspan class="name">{escape(name)}</tspan>'
                words = f'x="{start:.1f}" y="{base:.1f}" text-anchor="{anchor}">{text}</text>'
                return f'<text class="edge {kind}" {words}<text class="{kind}" {words}'
        return ""


def _overlap(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _foot(scale: float, ground: float, words: Words) -> str:
    """Scale bar and north."""
    unit, most = (_MILE if words.units == "us" else _KM), WIDE * 0.25
    power = 10.0 ** math.floor(math.log10(most / scale / unit))
    number = max(n * power for n in (1, 2, 5) if n * power * unit * scale <= most)
    long = number * unit * scale
    y = ground + 18
    return (
        f'<path class="ink-line" d="M2 {y - 4}v8M{2 + long:.1f} {y - 4}v8M2 {y}H{2 + long:.1f}"/>'
        f'<text class="plain" x="{long + 10:.1f}" y="{y + 4.5}">{escape(words.length(number * unit))}</text>'
        f'<path class="ink-line" d="M{WIDE - 8} {y + 9}V{y - 9}l4 7"/>'
        f'<text class="plain" x="{WIDE - 14}" y="{y + 5}" text-anchor="end">N</text>'
    )


def _key(seen: Sequence[str], words: Words) -> str:
    """Each mark that the map has, and its words beside it, for the page to lay out."""
    rows = (
        f'<li><svg viewBox="0 0 16 16" aria-hidden="true">{_sign(kind, 8, 8, 6.5)}</svg>'
        f"{escape(key_words(kind, words))}</li>"
        for kind in seen
    )
    return f'<ul class="key">{"".join(rows)}</ul>'


def key_words(seen: str, words: Words) -> str:
    """What a mark means."""
    return {
        "hunted": words.t("a kind we hunt stands here"),
        "maybe": words.t("it may stand here"),
        "other": words.t("other pigweeds"),
        "none": words.t("looked, none seen"),
        "nobody": words.t("nobody has looked this year"),
    }[seen]


def _alt(marks: Sequence[Mark], words: Words) -> str:
    counts = [(kind, sum(1 for mark in marks if mark.seen == kind)) for kind in SEEN]
    told = "; ".join(f"{key_words(kind, words)}: {words.number(n)}" for kind, n in counts if n)
    return words.t("Map of the places, north up. {told}.", told=told)
