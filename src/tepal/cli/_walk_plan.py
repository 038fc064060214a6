"""What `tepal walk --minutes` says: the route, what it finds, what more time would find."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tepal.cli import _out
from tepal.cli._files import write_whole
from tepal.tables import Refused

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from tepal.cli._walk_given import Given
    from tepal.ground import Frame
    from tepal.walk import Plan, Reach, RiskZone, Sight


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


def route_of(route: Any, frame: Frame) -> dict[str, Any]:
    """A route in metres as GeoJSON; seven decimals are a centimeter."""
    points = frame.to_lonlat(route)
    return {"type": "LineString", "coordinates": [[round(float(x), 7), round(float(y), 7)] for x, y in points]}


def plain(plan: Plan, frame: Frame, more: Sequence[Reach]) -> dict[str, Any]:
    """As JSON values."""
    said: dict[str, Any] = {
        "route": route_of(plan.route, frame),
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


def stands_on(given: Given, sight: Sight) -> dict[str, Any]:
    """What an answer stands on, as JSON values: the width of sight and where the risk comes from."""
    said: dict[str, Any] = {
        "sight": {"sigma_m": sight.sigma_m, "low_m": sight.low_m, "high_m": sight.high_m, "basis": sight.basis}
    }
    return said | ({"risk_from": given.risk_from} if given.risk_from else {})


def tell_grounds(given: Given, sight: Sight) -> None:
    """The same in words, where there is something to say."""
    from tepal.words import Words

    words = Words()
    if sight.basis == "judgement":
        _out.say(
            words.t(
                "How far one sees was judged from the stage and the crop: about {middle}, between {low} and {high}. "
                "Note how far off the next plants stand, and give the distances.",
                middle=words.length(sight.sigma_m), low=words.length(sight.low_m), high=words.length(sight.high_m),
            )
        )  # fmt: skip
    elif sight.basis == "measured":
        _out.say(
            words.t(
                "By the distances noted one sees about {middle} far, with 9 chances in 10 between {low} and {high}.",
                middle=words.length(sight.sigma_m), low=words.length(sight.low_m), high=words.length(sight.high_m),
            )
        )  # fmt: skip
    if given.risk_from:
        names = {
            "edge": words.t("the edge"), "yard": words.t("yards"), "waterway": words.t("waterways"),
            "gate": words.t("gates"), "entry": words.t("entries"), "seen": words.t("places where they stood before"),
        }  # fmt: skip
        kinds = words.listing([names[kind] for kind in names if kind in given.risk_from])
        _out.say(words.t("From the record, more risk was laid on {kinds}. How much more is judgement.", kinds=kinds))


def tell(plan: Plan, more: Sequence[Reach], given: Given, sight: Sight) -> None:
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
    _out.say(
        words.t(
            "No route of that time could find one plant in more than {plant} of 100 walks, or a patch in {patch}.",
            plant=words.number(100 * plan.most, 0 if plan.most > 0.1 else 1),
            patch=words.number(100 * plan.most_patch, 0),
        )
    )
    if len(plan.zones) > 1:
        for zone in plan.zones:
            area, share = words.area(zone.hectares * 1e4), words.number(100 * zone.seen_share, 0)
            _out.say(
                words.t("On the rest ({area}): {share} % seen.", area=area, share=share)
                if zone.weight == 1
                else words.t(
                    "Where the risk is {weight} times as high ({area}): {share} % seen.",
                    weight=words.number(zone.weight),
                    area=area,
                    share=share,
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
    tell_grounds(given, sight)
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
        told = {"metres": plan.metres, "minutes": plan.minutes, "p_detect": plan.p_detect, "p_patch": plan.p_patch}
        self.write_route(plan.route, frame, title, told)
        if self.map_:
            from tepal.cli._walk_map import draw
            from tepal.words import Words

            draw(plan, site, zones, self.map_, Words(), name=name)

    def write_route(self, route: Any, frame: Frame, title: str, told: dict[str, Any] | None = None) -> None:
        """A route in metres, with what is told of it."""
        if self.gpx:
            write_gpx(self.gpx, route, frame, title)
        if self.geojson:
            write_geojson(self.geojson, route, frame, {"name": title} | (told or {}))


def write_gpx(path: Path, route: Any, frame: Frame, name: str) -> None:
    """A route in metres as a GPX route, which receivers can follow; a route is not read back as a walk."""
    from xml.sax.saxutils import escape

    points = "\n".join(f'<rtept lat="{y:.7f}" lon="{x:.7f}"/>' for x, y in frame.to_lonlat(route))
    text = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<gpx version="1.1" creator="tepal" xmlns="http://www.topografix.com/GPX/1/1">\n'
        f"<rte><name>{escape(name)}</name>\n{points}\n</rte></gpx>\n"
    )
    write_whole(path, text)


def write_geojson(path: Path, route: Any, frame: Frame, properties: dict[str, Any]) -> None:
    feature = {"type": "Feature", "properties": properties, "geometry": route_of(route, frame)}
    write_whole(path, json.dumps({"type": "FeatureCollection", "features": [feature]}) + "\n")
