"""What `tepal walk --minutes` says: the route, what it finds, what more time would find."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tepal.cli import _out
from tepal.tables import Refused

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from tepal.ground import Frame
    from tepal.walk import Plan, Reach, RiskZone


def place_of(text: str) -> tuple[float, float]:
    """Longitude and latitude as typed."""
    try:
        lon, lat = (float(part) for part in text.split(","))
    except ValueError:
        lon, lat = float("nan"), float("nan")
    if not (abs(lon) <= 180 and abs(lat) <= 90):
        raise Refused(
            f"--from {text!r}",
            where="command line",
            rule="A place is longitude,latitude in degrees.",
            step="Write --from -96.52,41.03.",
        )
    return lon, lat


def route_of(plan: Plan, frame: Frame) -> dict[str, Any]:
    """The route as GeoJSON; seven decimals are a centimeter."""
    points = frame.to_lonlat(plan.route)
    return {"type": "LineString", "coordinates": [[round(float(x), 7), round(float(y), 7)] for x, y in points]}


def plain(plan: Plan, frame: Frame, more: Sequence[Reach]) -> dict[str, Any]:
    """As JSON values."""
    said: dict[str, Any] = {
        "route": route_of(plan, frame),
        "metres": plan.metres,
        "minutes": plan.minutes,
        "p_detect": plan.p_detect,
        "p_patch": plan.p_patch,
        "most_possible": plan.most,
        "most_possible_patch": plan.most_patch,
        "zones": [{"weight": z.weight, "hectares": z.hectares, "seen_share": z.seen_share} for z in plan.zones],
    }
    if more:
        said["more_time"] = [{"minutes": m.minutes, "p_detect": m.p_detect, "p_patch": m.p_patch} for m in more]
    return said


def tell(plan: Plan, more: Sequence[Reach]) -> None:
    from tepal.words import Words

    words = Words()
    _out.say(
        words.t(
            "Walk {length} in {minutes} minutes. If one plant stands there, you pass close enough to see it in {plant} "
            "of 100 such walks; if a patch of twenty does, you see some of it in {patch}.",
            length=words.length(plan.metres),
            minutes=words.number(plan.minutes, 0),
            plant=words.number(100 * plan.p_detect, 0 if plan.p_detect > 0.1 else 1),
            patch=words.number(100 * plan.p_patch, 0),
        )
    )
    if len(plan.zones) > 1:
        for zone in plan.zones:
            _out.say(
                words.t(
                    "Where the risk is {weight} times as high ({area}): {share} % seen.",
                    weight=words.number(zone.weight),
                    area=words.area(zone.hectares * 1e4),
                    share=words.number(100 * zone.seen_share, 0),
                )
            )
    for reach in more:
        _out.say(
            words.t(
                "With {minutes} minutes: one plant in {plant} of 100 walks, a patch in {patch}.",
                minutes=words.number(reach.minutes, 0),
                plant=words.number(100 * reach.p_detect, 0 if reach.p_detect > 0.1 else 1),
                patch=words.number(100 * reach.p_patch, 0),
            )
        )
    _out.say("The route is a line on a map: fences, water, a bull and the owner's leave are yours to judge.")


@dataclass(frozen=True, slots=True)
class Files:
    """Where to write the route; None: not wanted."""

    gpx: Path | None
    geojson: Path | None
    map_: Path | None

    def check(self) -> None:
        """Refuse a map that cannot be drawn before any work is done."""
        if self.map_:
            from tepal.cli._walk_map import check_name

            check_name(self.map_)

    def write(self, plan: Plan, frame: Frame, site: BaseGeometry, zones: Sequence[RiskZone], name: str) -> None:
        title = f"{name}, {plan.minutes:.0f} minutes"
        if self.gpx:
            write_gpx(self.gpx, plan, frame, title)
        if self.geojson:
            write_geojson(self.geojson, plan, frame, title)
        if self.map_:
            from tepal.cli._walk_map import draw
            from tepal.words import Words

            draw(plan, site, zones, self.map_, Words(), name=name)


def write_gpx(path: Path, plan: Plan, frame: Frame, name: str) -> None:
    """The plan as a GPX route, which receivers can follow; a route is not read back as a walk."""
    from xml.sax.saxutils import escape

    points = "\n".join(f'<rtept lat="{y:.7f}" lon="{x:.7f}"/>' for x, y in frame.to_lonlat(plan.route))
    text = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<gpx version="1.1" creator="tepal" xmlns="http://www.topografix.com/GPX/1/1">\n'
        f"<rte><name>{escape(name)}</name>\n{points}\n</rte></gpx>\n"
    )
    write(path, text)


def write_geojson(path: Path, plan: Plan, frame: Frame, name: str) -> None:
    properties = {"name": name, "metres": plan.metres, "minutes": plan.minutes, "p_detect": plan.p_detect}
    feature = {"type": "Feature", "properties": properties, "geometry": route_of(plan, frame)}
    write(path, json.dumps({"type": "FeatureCollection", "features": [feature]}) + "\n")


def write(path: Path, text: str | bytes) -> None:
    """Whole or not at all."""
    raw = text.encode() if isinstance(text, str) else text
    part = path.with_name(path.name + ".part")
    try:
        part.write_bytes(raw)
        part.replace(path)
    except OSError as problem:
        part.unlink(missing_ok=True)
        raise Refused(
            f"the file cannot be written: {problem.strerror or problem}",
            where=path.name,
            rule="A folder that may be written to is needed.",
            step="Give another place.",
        ) from None
