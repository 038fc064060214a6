"""`tepal walk`: where to walk; and how sure that there are none, after a walk."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from cyclopts import Parameter

from tepal.cli import _out
from tepal.tables import Refused

if TYPE_CHECKING:
    from tepal.cli._walk_given import Given
    from tepal.walk import Sight


def walk(
    site: str | None = None,
    /,
    *,
    minutes: float | None = None,
    sigma: float | None = None,
    stage: str | None = None,
    crop: str | None = None,
    distances: Path | None = None,
    farthest: float | None = None,
    ledger: str | None = None,
    as_of: str | None = None,
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
    sure: float | None = None,
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
    site: str
        The site's boundary, GeoJSON in longitude and latitude; holes and several parts are taken. With --ledger, the
        site's name.
    minutes: float
        Plan a route of this time.
    sigma: float
        Width of sight S in metres: a plant at distance d is seen with probability exp(-d²/2S²).
    stage: str
        In place of --sigma: growth stage of the plants, as `vegetative`; the width of sight comes from a table that
        nobody measured, and the answer carries that doubt.
    crop: str
        With --stage: what stands there, as `soybean`; `none` for open ground.
    distances: Path
        In place of --sigma: CSV with `distance_m`, how far from the track each plant was found; at least five.
    farthest: float
        With --distances: no plant farther off than this was noted.
    ledger: str
        Take the site from this ledger, and its risk from what is on record: edges, entries, waterways, finds.
    as_of: str
        With --ledger: what had happened up to this date (YYYY-MM-DD); today if not given.
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
        Also say what 15, 30, 45 and 60 more minutes would find.
    gpx: Path
        Write the route here, as a GPX route.
    geojson: Path
        Write the route here, as GeoJSON.
    map_: Path
        Draw a map to print here, .pdf, .svg or .png: the route; with --walked, what was seen.
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
    sure: float
        With --walked: also say what else to walk until absence is so sure, as 0.95, if nothing is seen there either.
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
    from datetime import date

    from tepal.cli._walk_given import from_file, from_ledger, sight_of
    from tepal.tables import parse_date

    sight = sight_of(sigma, stage, crop, distances, farthest)
    if ledger is None:
        given = from_file(site, prior)
    else:
        given = from_ledger(site, ledger, date.today() if as_of is None else parse_date(as_of, "--as-of"), prior)
    start = None
    if from_ is not None:
        from tepal.cli._walk_plan import place_of

        start = given.frame.to_metres(place_of(from_))
    if minutes is None:
        return _judge(
            given, sight, walked, found=found, prior_present=prior_present, up=up, known=known, sure=sure, speed=speed,
            start=start, files=(gpx, geojson, map_), json_output=json_output,
        )  # fmt: skip
    asked = {
        "sigma_m": sight.sigma_m,
        "speed_kmh": speed,
        "rows_deg": rows,
        "headland_m": headland,
        "prior": given.zones,
        "start": start,
        "back": back,
        "aim": aim,
    }
    return _plan(given, sight, minutes, asked, more_time=more_time, files=(gpx, geojson, map_), json_output=json_output)


def _plan(
    given: Given, sight: Sight, minutes: float, asked: dict[str, Any], *, more_time: bool, files: Any, json_output: bool
) -> int:
    from tepal.cli import _walk_plan
    from tepal.walk import plan, reaches

    to = _walk_plan.Files(*files)
    to.check()
    planned = plan(given.shape, minutes=minutes, **asked)
    more = reaches(planned, given.shape, minutes=minutes, more=(15, 30, 45, 60), **asked) if more_time else ()
    to.write(planned, given.frame, given.shape, given.zones or (), given.name)
    if json_output:
        _out.emit(_walk_plan.plain(planned, given.frame, more) | _walk_plan.stands_on(given, sight))
    else:
        _walk_plan.tell(planned, more, given, sight)
    return _out.DONE


def _judge(
    given: Given,
    sight: Sight,
    walked: tuple[Path, ...],
    *,
    found: int,
    prior_present: float | None,
    up: float,
    known: float,
    sure: float | None,
    speed: float,
    start: Any,
    files: Any,
    json_output: bool,
) -> int:
    from tepal.cli import _walk_absence, _walk_plan
    from tepal.cli._walk_files import track_of
    from tepal.walk import Walked, absence_of_walks, further

    gpx, geojson, map_ = files
    to = _walk_plan.Files(gpx, geojson, map_)
    to.check()
    if (gpx or geojson) and sure is None:
        raise Refused(
            "no route to write", where="--gpx" if gpx else "--geojson",
            rule="With --walked, the route is what else to walk.", step="Give --sure 0.95, or leave the file out.",
        )  # fmt: skip
    done = [track_of(path, given.frame) for path in walked]
    # Files given together are one look at the ground: nearest of all, as the width of sight has it.
    tracks = [track for each in done for track in each.tracks]
    look = Walked(tracks, sight.sigma_m, up=up, known=known, times=sight.times)
    present = 0.5 if prior_present is None else prior_present
    result = absence_of_walks(given.shape, [look], found=found, prior_present=present, prior=given.zones)
    more = None
    if sure is not None and not found:
        more = further(
            given.shape, [look], sigma_m=sight.sigma_m, sure=sure, prior_present=present, prior=given.zones,
            speed_kmh=speed, start=start,
        )  # fmt: skip
        if more is not None:
            to.write_route(more.route, given.frame, f"{given.name}, {more.minutes:.0f} minutes more")
    if map_:
        from tepal.cli._walk_map import draw_seen
        from tepal.words import Words

        draw_seen(given.shape, [look], map_, Words(), name=given.name, seen_share=result.seen_share)
    if json_output:
        answer = _walk_absence.plain(result, done) | _walk_plan.stands_on(given, sight)
        _out.emit(answer | ({} if sure is None else {"further": _walk_absence.further_plain(more, sure, given.frame)}))
    else:
        _walk_absence.tell(result, done, default_prior=prior_present is None)
        if sure is not None and not found:
            _walk_absence.tell_further(more, sure)
        _walk_plan.tell_grounds(given, sight)
    return _out.DONE
