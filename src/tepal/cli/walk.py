"""`tepal walk`: where to walk; and how sure that there are none, after a walk."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from tepal.cli import _out
from tepal.tables import Refused

if TYPE_CHECKING:
    from tepal.walk import RiskZone


def walk(
    site: Path | None = None,
    /,
    *,
    minutes: float | None = None,
    sigma: float | None = None,
    speed: float = 4.0,
    rows: float | None = None,
    headland: float = 15.0,
    prior: Path | None = None,
    from_: Annotated[str | None, Parameter(name="--from", allow_leading_hyphen=True)] = None,
    back: Annotated[bool, Parameter(negative=())] = False,
    aim: Literal["plant", "patch"] = "plant",
    more_time: Annotated[bool, Parameter(negative=())] = False,
    gpx: Path | None = None,
    geojson: Path | None = None,
    map_: Annotated[Path | None, Parameter(name="--map")] = None,
    walked: Annotated[tuple[Path, ...], Parameter(negative=())] = (),
    found: int = 0,
    prior_present: float | None = None,
    up: float = 1.0,
    known: float = 1.0,
    stop_rule: Annotated[bool, Parameter(negative=())] = False,
    mean: float | None = None,
    few: float | None = None,
    many: float | None = None,
    k: float | None = None,
    error: float = 0.25,
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """Where to walk to find what matters within the time; or, with --walked, how sure that a site has none.

    Parameters
    ----------
    site: Path
        The site's boundary, GeoJSON in longitude and latitude; holes and several parts are taken.
    minutes: float
        Plan a route of this time.
    sigma: float
        Width of sight S in metres: a plant at distance d is seen with probability exp(-d²/2S²).
    speed: float
        Walking speed while looking, km/h.
    rows: float
        Compass bearing of standing rows. They are walked along, and crossed only on the headland.
    headland: float
        Width of the headland in metres.
    prior: Path
        Polygons (GeoJSON) with `weight`: plants per area relative to 1 outside; the greatest where they overlap.
    from_: str
        Longitude,latitude of where you park: the route begins there.
    back: bool
        The route also ends there.
    aim: Literal["plant", "patch"]
        Find one plant, or one patch (20 plants) while giving up at most 3 % of finding one plant.
    more_time: bool
        Also say what 15, 30 and 60 more minutes would find.
    gpx: Path
        Write the route here, as a GPX route.
    geojson: Path
        Write the route here, as GeoJSON.
    map_: Path
        Draw a map to print here: .pdf, .svg or .png.
    walked: tuple[Path, ...]
        A track really walked, GPX or GeoJSON lines; may be given more than once. A gap between segments is not
        walked.
    found: int
        Plants found on the walk.
    prior_present: float
        Chance that the site has any, before the walk. 0.5 if not given, and said so.
    up: float
        Share of the plants asked about that were up on the day of the walk; a flush after it lowers it.
    known: float
        Chance that a plant within sight was known for what it is, such as one kind among many of another.
    stop_rule: bool
        When to stop counting, instead of a walk; needs no site.
    mean: float
        With --stop-rule: plants expected at a stop.
    few: float
        With --stop-rule: plants a stop that are still few. Goes with --many.
    many: float
        With --stop-rule: plants a stop that are many.
    k: float
        With --stop-rule: negative binomial k of the counts; small where plants stand in clumps.
    error: float
        With --stop-rule: standard error wanted, as a share of the mean.
    json_output: bool
        Print one JSON object.
    """
    if stop_rule:
        from tepal.cli import _walk_stops

        return _walk_stops.say(mean=mean, few=few, many=many, k=k, error=error, json_output=json_output)
    if site is None:
        raise Refused(
            "no site", where="command line", rule="A walk needs the site's boundary.", step="Give SITE.geojson."
        )
    if bool(walked) == (minutes is not None):
        raise Refused(
            "both --minutes and --walked" if walked else "neither --minutes nor --walked",
            where="command line",
            rule="A walk is planned (--minutes) or judged after it was made (--walked).",
            step="Give --minutes 60 to plan, or --walked TRACK.gpx to judge.",
        )
    if sigma is None:
        raise Refused(
            "no --sigma",
            where="command line",
            rule="The width of sight must be stated.",
            step="Give --sigma in metres.",
        )
    from tepal.cli._walk_files import geojson_of, track_of, zones_of
    from tepal.ground import Frame, boundary_from_geojson

    boundary = boundary_from_geojson(geojson_of(site), where=site.name)
    frame = Frame.around(boundary)
    metres = frame.geometry_to_metres(boundary)
    zones: list[RiskZone] | None = zones_of(prior, frame) if prior else None
    if minutes is None:
        from tepal.cli import _walk_absence
        from tepal.walk import Walked, absence_of_walks

        done = [track_of(path, frame) for path in walked]
        # Files given together are one look at the ground: nearest of all, as the width of sight has it.
        look = Walked([track for each in done for track in each.tracks], sigma, up=up, known=known)
        given = 0.5 if prior_present is None else prior_present
        result = absence_of_walks(metres, [look], found=found, prior_present=given, prior=zones)
        if json_output:
            _out.emit(_walk_absence.plain(result, done))
        else:
            _walk_absence.tell(result, done, default_prior=prior_present is None)
        return _out.DONE

    from tepal.cli import _walk_plan
    from tepal.walk import plan, reaches

    files = _walk_plan.Files(gpx, geojson, map_)
    files.check()

    start = None if from_ is None else frame.to_metres(_walk_plan.place_of(from_))
    asked = {
        "sigma_m": sigma,
        "speed_kmh": speed,
        "rows_deg": rows,
        "headland_m": headland,
        "prior": zones,
        "start": start,
        "back": back,
        "aim": aim,
    }
    planned = plan(metres, minutes=minutes, **asked)  # type: ignore[arg-type]
    more = reaches(planned, metres, minutes=minutes, more=(15, 30, 60), **asked) if more_time else ()
    files.write(planned, frame, metres, zones or (), site.stem)
    if json_output:
        _out.emit(_walk_plan.plain(planned, frame, more))
    else:
        _walk_plan.tell(planned, more)
    return _out.DONE
