"""The map of one site as SVG: ground, water, walk, stops, finds, with a scale bar and north up."""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely

from tepal.letter._data import MapData
from tepal.letter._frame import Fit, aspect, fit, scale_length
from tepal.letter._ink import INK, RULE, SOFT, WASH, WHITE
from tepal.letter._key import items, write_key
from tepal.letter._marks import SIGNS, UNNAMED, arrow, gate, radius, sign, spot, stop
from tepal.letter._runs import clip
from tepal.letter._svg import Canvas, Room, num, path_of
from tepal.words import Words

SIZE = 8.5
_STRIP = 26.0
# Width over height from which a map beside the text would be a strip.
_WIDE = 2.6
# A walk drawn longer than this many points goes to and fro; its line gets thin, so that the ground stays paper.
_DENSE = 1800.0
_MARGIN = 14.0
# Least and greatest height of the ground shown, in points; a place as told over the telephone needs little.
_LOW, HIGH, _POINT_ONLY = 120.0, 214.0, 130.0
# How many stops carry their number; more would be a cloud.
_NUMBERED = 6
# Half the width of a find's sign with its edge; a disc smaller than this leaves the sign where it is.
_SIGN, _SMALL = 5.0, 3.0
_WATER = ("waterway", "ditch", "drainage")
_WAYS_IN = ("gate", "entry")
# x, y, reach of the mark, text, bold.
Labelled = tuple[float, float, float, str, bool]


@dataclass(frozen=True, slots=True)
class Drawn:
    """A map ready to be placed: SVG text, what it shows in words, its size in points."""

    svg: str
    alt: str
    width: float
    height: float


def is_wide(data: MapData) -> bool:
    """Whether the site lies so wide that its map wants the whole width of the page."""
    return aspect(data) > _WIDE


def draw(
    data: MapData, words: Words, *, site: str, width: float, high: float = HIGH, clip_id: str = "ground"
) -> Drawn | None:
    """The map with scale and key, `width` points wide, as high as the site wants; None where there is nothing to show.

    The ground takes at most `high` points; `clip_id` must differ between two maps of one page.
    """
    if data.empty:
        return None
    signs = signs_of(data)
    key = items(data, words, signs, largest=max((s.count for s in data.stops), default=0))
    key_height = write_key(Canvas(), key, width, 0.0, SIZE)
    ground = min(max(width / aspect(data), _LOW), min(high, _POINT_ONLY) if _is_point(data) else high)
    place = fit(data, width, ground, _MARGIN)
    canvas, room = Canvas(), Room(width, ground, lying=is_wide(data))
    _ground(canvas, data, place)
    marks = _features(canvas, room, data, place, words)
    off, numbers = _places(canvas, room, data, place, signs)
    # Labels last: none may lie under a mark. What shows the way comes before the numbers.
    for x, y, reach, text, bold in marks + numbers:
        at = room.label(x, y, reach, text, SIZE)
        if at:
            _label(canvas, at, text, bold=bold)
    body = "".join(canvas.parts)
    below = Canvas()
    _strip(below, place, words, width, ground + _STRIP / 2)
    write_key(below, key, width, ground + _STRIP, SIZE)
    total = ground + _STRIP + key_height
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {num(width)} {num(total)}" width="{num(width)}"'
        f' height="{num(total)}"><clipPath id="{clip_id}">'
        f'<rect width="{num(width)}" height="{num(ground)}"/></clipPath>'
        f'<g clip-path="url(#{clip_id})">{body}</g>'
        f'<rect x="0.4" y="0.4" width="{num(width - 0.8)}" height="{num(ground - 0.8)}" fill="none" stroke="{RULE}"'
        f' stroke-width="0.8" class="rule-line"/>{"".join(below.parts)}</svg>'
    )
    return Drawn(svg, _alt(data, words, site, off), width, total)


def signs_of(data: MapData) -> dict[str, str]:
    """The sign of each name among the finds: hunted plants first, then by name; the empty name is the diamond."""
    names = sorted({(not f.hunted, f.english) for f in data.finds if f.english})
    given = {name: SIGNS[min(i, len(SIGNS) - 1)] for i, (_, name) in enumerate(names)}
    return given | ({"": UNNAMED} if any(not f.english for f in data.finds) else {})


def _ground(canvas: Canvas, data: MapData, place: Fit) -> None:
    canvas.add("rect", x=0.0, y=0.0, width=place.width, height=place.height, fill=WHITE, class_="sheet-fill")
    if data.boundary is not None:
        outline = path_of(data.boundary, place)
        canvas.add(
            "path", d=outline, fill=WASH, fill_rule="evenodd", stroke=INK, stroke_width="1.6", stroke_linejoin="round",
            class_="wash-fill ink-line",
        )  # fmt: skip
    for feature in data.features:
        line = path_of(feature.shape, place)
        if not line or feature.shape.geom_type in ("Point", "MultiPoint"):
            continue
        if feature.kind in _WATER and feature.shape.geom_type.endswith("LineString"):
            # Two banks: a dark line with a light one upon it.
            for stroke, colour, name in (("3.6", INK, "ink-line"), ("2.2", WHITE, "sheet-line")):
                canvas.add(
                    "path", d=line, fill="none", stroke=colour, stroke_width=stroke, stroke_linecap="round",
                    stroke_linejoin="round", class_=name,
                )  # fmt: skip
        else:
            canvas.add("path", d=line, fill="none", stroke=INK, stroke_width="0.8", class_="ink-line")
    drawn = sum(float(track.length) for track in data.tracks) * place.per_metre
    for track in data.tracks:
        line = path_of(track, place)
        if line:
            canvas.add(
                "path", d=line, fill="none", stroke=SOFT, stroke_dasharray="3.5 2.5",
                stroke_width="0.6" if drawn > _DENSE else "1",
                stroke_linejoin="round", class_="soft-line",
            )  # fmt: skip


def _features(canvas: Canvas, room: Room, data: MapData, place: Fit, words: Words) -> list[Labelled]:
    labels: list[Labelled] = []
    for feature in data.features:
        # The point of a line or area nearest to the middle of the map lies within the ground shown.
        shape = shapely.intersection(feature.shape, place.box())
        if shape.is_empty:
            continue
        spot_on = shape if isinstance(shape, shapely.Point) else shape.representative_point()
        x, y = place.at(spot_on.x, spot_on.y)
        reach = 2.0
        if feature.shape.geom_type == "Point":
            reach = 5.0
            if feature.kind in _WAYS_IN:
                gate(canvas, x, y)
            else:
                canvas.add("rect", x=x - 3, y=y - 3, width=6.0, height=6.0, fill=INK, class_="ink-fill")
        room.take(x, y, reach)
        labels.append((x, y, reach, clip(feature.name or _kind(feature.kind, words), 24), False))
    return labels


def _places(canvas: Canvas, room: Room, data: MapData, place: Fit, signs: dict[str, str]) -> tuple[int, list[Labelled]]:
    """Draw stops, finds and the place as told; gives how many lie off the map, and the numbers to write."""
    most = max((s.count for s in data.stops), default=0)
    stops = [s for s in data.stops if place.shows(s.x, s.y)]
    finds = [f for f in data.finds if place.shows(f.x, f.y)]
    # Large ones first, so that small ones stay to be seen.
    ordered = sorted(stops, key=lambda s: (-s.count, s.x, s.y))
    discs: list[tuple[float, float, float]] = []
    reaches = [radius(s.count, most, len(stops)) for s in ordered]
    for s, reach in zip(ordered, reaches, strict=True):
        x, y = place.at(s.x, s.y)
        stop(canvas, x, y, s.count, reach)
        room.take(x, y, reach)
        discs.append((x, y, reach))
    for f in finds:
        x, y = _beside(*place.at(f.x, f.y), discs)
        sign(canvas, signs[f.english], x, y)
        room.take(x, y, 5.0)
    if data.point is not None:
        x, y = place.at(*data.point)
        spot(canvas, x, y, data.point_error_m * place.per_metre)
    numbers = [(x, y, reach, f"{s.count:,}", True) for s, (x, y, reach) in zip(ordered, discs, strict=True) if s.count]
    return len(data.stops) - len(stops) + len(data.finds) - len(finds), numbers[:_NUMBERED]


def _beside(x: float, y: float, discs: list[tuple[float, float, float]]) -> tuple[float, float]:
    """The place of a find's mark: its own, or just outside the disc of the stop at which it stands."""
    for right, down, reach in discs:
        away = math.hypot(x - right, y - down)
        if reach > _SMALL and away < reach + _SIGN:
            turn = math.atan2(y - down, x - right) if away > 1 else -math.pi / 4
            return right + (reach + _SIGN) * math.cos(turn), down + (reach + _SIGN) * math.sin(turn)
    return x, y


def _is_point(data: MapData) -> bool:
    return data.boundary is None and not (data.stops or data.finds or data.tracks or data.features)


def _kind(kind: str, words: Words) -> str:
    return {
        "waterway": words.t("waterway"),
        "entry": words.t("way in"),
        "gate": words.t("gate"),
        "edge": words.t("edge"),
        "yard": words.t("yard"),
    }.get(kind, kind)


def _label(canvas: Canvas, at: tuple[float, float], text: str, *, bold: bool = False) -> None:
    weight = "700" if bold else "400"
    # A paper edge below the letters: they stay legible across a line.
    canvas.text(
        *at, text, size=SIZE, fill=WHITE, font_weight=weight, stroke=WHITE, stroke_width="2.4",
        stroke_linejoin="round", class_="sheet-fill sheet-line",
    )  # fmt: skip
    canvas.text(*at, text, size=SIZE, fill=INK, font_weight=weight, class_="ink-fill")


def _strip(canvas: Canvas, place: Fit, words: Words, width: float, middle: float) -> None:
    feet = words.units == "us"
    number, long = scale_length(place.per_metre, width * 0.34, feet=feet)
    ends = f"M2 {middle - 3:.1f}V{middle + 3:.1f}M{2 + long:.1f} {middle - 3:.1f}V{middle + 3:.1f}"
    canvas.add(
        "path",
        d=f"{ends}M2 {middle:.1f}H{2 + long:.1f}",
        stroke=INK,
        stroke_width="1.3",
        fill="none",
        class_="ink-line",
    )
    text = words.t("{n} feet", n=words.number(number)) if feet else words.t("{n} metres", n=words.number(number))
    canvas.text(long + 8, middle + 3, text, size=SIZE, fill=INK, class_="ink-fill")
    arrow(canvas, width - 6, middle)


def _alt(data: MapData, words: Words, site: str, off: int) -> str:
    """The map in words, for those who cannot see it."""
    parts = [words.t("Map of {site}, north up.", site=site)]
    if data.stops:
        some = sum(1 for s in data.stops if s.count)
        parts.append(words.plural("{count} counting stop,", "{count} counting stops,", len(data.stops)))
        parts.append(words.t("{some} of them with plants.", some=words.number(some)))
    if data.finds:
        names = sorted({f.english for f in data.finds if f.english})
        parts.append(
            words.plural(
                "{count} plant was looked at closely", "{count} plants were looked at closely", len(data.finds)
            )
            + (f": {words.listing([words.t(n) for n in names])}." if names else ".")
        )
    if data.tracks:
        parts.append(words.t("A dashed line shows where we walked."))
    if data.point is not None:
        parts.append(words.t("A dot shows the place as it was told to us."))
    if off:
        parts.append(words.plural("{count} place lies off the map.", "{count} places lie off the map.", off))
    return " ".join(parts)
