"""`tepal stand`: how many and where, from counts on known areas."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from tepal.cli import _out
from tepal.cli._files import read_geojson
from tepal.tables import Refused, Table, Where, read_csv

if TYPE_CHECKING:
    from tepal.ground import Frame
    from tepal.stand import Counts, Points, StandEstimate


def stand(
    counts: Path,
    /,
    *,
    boundary: Path | None = None,
    at: Path | None = None,
    patches_to: Path | None = None,
    draw: Path | None = None,
    stopped_where_seen: Annotated[tuple[Path, ...], Parameter(negative=())] = (),
    sigma: float | None = None,
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """How many plants there are, and where, from counts on known areas.

    Parameters
    ----------
    counts: Path
        CSV with `x,y` (metres) or `lon,lat` (degrees), `area_m2` and `count`.
    boundary: Path
        The site as GeoJSON, in the frame of the counts: metres with x,y, degrees with lon,lat. Gives the total.
    at: Path
        CSV of places and areas (as in the counts) at which to predict a new count.
    patches_to: Path
        Thick patches to a .geojson, .gpkg, .gpx, .zip (Shapefile) or .xml (ISO 11783-10 task file: on in the patches,
        off elsewhere); needs counts and boundary in degrees.
    draw: Path
        Map of the density and of how far it may be off, to an .svg, .png or .pdf; needs a boundary.
    stopped_where_seen: tuple[Path, ...]
        You stopped wherever you saw plants: the track you walked (GPX or GeoJSON, degrees). What you passed counts as
        ground without plants, as wide as you see; needs --sigma.
    sigma: float
        With --stopped-where-seen: width of sight in metres, as in `tepal walk`.
    json_output: bool
        Print one JSON object.
    """
    from tepal.doubt import generator_for, summary
    from tepal.ground import Frame, boundary_from_geojson
    from tepal.stand import estimate

    table = read_csv(counts)
    degrees = _is_degrees(table)
    _check_files(patches_to, draw, boundary, degrees=degrees)
    shape = boundary_from_geojson(read_geojson(boundary), where=boundary.name, lonlat=degrees) if boundary else None
    if degrees:
        import shapely

        points = shapely.MultiPoint([(row.number("lon"), row.number("lat")) for row in table])
        frame = Frame.around(shape if shape is not None else points) if len(table) else None
        shape = frame.geometry_to_metres(shape) if frame and shape is not None else shape
    else:
        frame = None
    counted = _counts(table, frame)
    if stopped_where_seen:
        counted = _with_passed(counted, stopped_where_seen, sigma, frame)
    asked = _points(read_csv(at), frame, degrees=degrees) if at else None
    # The same files give the same draws.
    seed = generator_for("stand", *(path.read_bytes() for path in (counts, boundary, at, *stopped_where_seen) if path))
    result = estimate(counted, boundary=shape, at=asked, rng=seed)

    if boundary is not None and result.outside == len(counted):
        raise Refused(
            f"none of the {len(counted)} counts lies inside the boundary",
            where=boundary.name,
            rule="Counts and boundary stand in one frame: lon,lat with degrees, or x,y with metres.",
            step="Check which of the two is in degrees, or leave the boundary out.",
        )
    for warning in result.warnings:
        _out.warn(warning)
    if patches_to is not None and frame is not None and shape is not None:
        from tepal.cli._stand_files import write_patches

        write_patches(patches_to, result, frame, shape, counts.stem)
    if draw is not None and shape is not None:
        from tepal.cli._stand_map import draw as to_file
        from tepal.words import Words

        to_file(result, counted, shape, draw, Words(), name=counts.stem)
    if not json_output:
        _tell(result, len(counted))
        return _out.DONE
    answer: dict[str, Any] = {"density_per_m2": summary(result.density.values)}
    if result.total is not None:
        answer["total"] = summary(result.total.values)
        answer["patches"] = _patches(result, frame)
        thick = sum(patch.hectares for patch in result.patches)
        share = sum(patch.share_of_plants for patch in result.patches)
        answer["thick"] = {"hectares": thick, "of_hectares": result.area_m2 / 1e4, "share_of_plants": share}
    answer["counted"] = {"plants": result.counted[0], "area_m2": result.counted[1], "outside": result.outside}
    answer["neighbours_alike"] = result.field_share
    if result.at is None:
        _out.emit(answer)
    else:
        # A hundred thousand points are a million numbers, plain already: they are not looked at one by one again.
        print(json.dumps(_out.plain(answer) | {"at": _at(result)}, allow_nan=False, separators=(",", ":")))
    return _out.DONE


def _with_passed(counted: Counts, tracks: tuple[Path, ...], sigma: float | None, frame: Frame | None) -> Counts:
    """The counts and what was walked past without stopping."""
    from tepal.cli._walk_files import track_of
    from tepal.stand import with_passed

    if sigma is None or frame is None:
        raise Refused(
            "no --sigma" if sigma is None else "counts in metres",
            where="--stopped-where-seen",
            rule="What was passed is a strip as wide as one sees, along a track in degrees.",
            step="Give --sigma 3 for three metres, and the counts as lon,lat.",
        )
    return with_passed(counted, [part for path in tracks for part in track_of(path, frame).tracks], sigma)


def _check_files(patches_to: Path | None, picture: Path | None, boundary: Path | None, *, degrees: bool) -> None:
    """Refuse files that cannot be written before any work is done."""
    if boundary is None and (patches_to or picture):
        raise Refused(
            "no boundary",
            where="--patches-to" if patches_to else "--draw",
            rule="Patches and maps are of a site, and a site has a boundary.",
            step="Give --boundary.",
        )
    if patches_to is not None:
        from tepal.cli._stand_files import check_name

        check_name(patches_to)
        if not degrees:
            raise Refused(
                "counts in metres",
                where="--patches-to",
                rule="These files stand in degrees, so that every map and terminal finds the place.",
                step="Give the counts as lon,lat and the boundary in degrees.",
            )
    if picture is not None:
        from tepal.cli._clock_picture import check_name as check_picture

        check_picture(picture)


def _at(result: StandEstimate) -> list[dict[str, float]]:
    from tepal.stand import PREDICTED

    assert result.at is not None
    quantiles = (f"q{p * 1000:03.0f}" if p * 1000 % 10 else f"q{p * 100:02.0f}" for p in PREDICTED)
    names = ("mean", "sd", "p0", *quantiles)
    columns = [result.at.mean, result.at.sd, result.at.p0, *result.at.quantiles.T]
    return [dict(zip(names, row, strict=True)) for row in zip(*(c.tolist() for c in columns), strict=True)]


def _patches(result: StandEstimate, frame: Frame | None) -> dict[str, Any]:
    import shapely

    features = []
    for patch in result.patches:
        outline = frame.geometry_to_lonlat(patch.outline) if frame else patch.outline
        features.append(
            {
                "type": "Feature",
                "geometry": json.loads(shapely.to_geojson(outline)),
                "properties": {
                    "probability": patch.probability,
                    "hectares": patch.hectares,
                    "above_per_m2": patch.above_per_m2,
                    "share_of_plants": patch.share_of_plants,
                },
            }
        )
    return {"type": "FeatureCollection", "features": features}


def _tell(result: StandEstimate, n: int) -> None:
    import numpy as np

    from tepal.words import Words

    words = Words()
    low, middle, high = np.quantile(result.density.values, (0.05, 0.5, 0.95))
    if result.total is not None:
        few, about, many = np.quantile(result.total.values, (0.05, 0.5, 0.95))
        _out.say(
            words.t(
                "About {about} plants on {area}; 9 chances in 10 that it is {between}.",
                about=words.about(about),
                area=words.area(result.area_m2),
                between=words.between(few, many),
            )
        )
    _out.say(
        words.t(
            "About {middle}; 9 chances in 10 that it is {low} to {high}.",
            middle=words.density(middle),
            low=words.density(low),
            high=words.density(high),
        )
    )
    _out.say(
        words.plural(
            "One count, {plants} plants on {area}.",
            "{count} counts, {plants} plants on {area}.",
            n,
            plants=words.number(result.counted[0]),
            area=words.t("{n} square metres", n=words.about(result.counted[1])),
        )
    )
    for patch in result.patches[:3]:
        _out.say(
            words.t(
                "A thick patch of {area} holds about {share} % of them ({chance} that it is twice the average).",
                area=words.area(1e4 * patch.hectares),
                share=words.number(100 * patch.share_of_plants, 0),
                chance=words.chance(patch.probability),
            )
        )
    if result.at is not None:
        _out.say(words.t("Predictions at {n} points: ask for them with --json.", n=len(result.at.mean)))


def _is_degrees(table: Table) -> bool:
    if "x" in table.columns and "y" in table.columns:
        return False
    if "lon" in table.columns and "lat" in table.columns:
        return True
    raise Refused(
        f"columns {', '.join(table.columns)}",
        where=Where(table.file, 1),
        rule="Places are x,y in metres or lon,lat in degrees.",
        step="Name the columns so in the first line.",
    )


def _counts(table: Table, frame: Frame | None) -> Counts:
    from tepal.stand import Counts

    table.need(("area_m2", "count"))
    x, y, area = _places(table, frame)
    counts = [row.number("count", low=0, high=1e12) for row in table]
    for row, count in zip(table, counts, strict=True):
        if count != int(count):
            raise Refused(
                f"count {count:g}",
                where=row.where("count"),
                rule="A count is a whole number of plants.",
                step="Give the plants counted and their area, not plants per area.",
            )
    if not counts:
        raise Refused("no counts", where=table.file, rule="At least one count is needed.", step="Count one place.")
    return Counts(x, y, area, counts)  # type: ignore[arg-type]


def _points(table: Table, frame: Frame | None, *, degrees: bool) -> Points:
    from tepal.stand import Points

    table.need(("lon", "lat", "area_m2") if degrees else ("x", "y", "area_m2"))
    return Points(*_places(table, frame))


def _places(table: Table, frame: Frame | None) -> tuple[Any, Any, Any]:
    import numpy as np

    if frame is not None:
        degrees = [_numbers(table, "lon", low=-180, high=180), _numbers(table, "lat", low=-90, high=90)]
        metres = frame.to_metres(np.column_stack(degrees).reshape(-1, 2))
    else:
        metres = np.column_stack([_numbers(table, "x"), _numbers(table, "y")]).reshape(-1, 2)
    area = _numbers(table, "area_m2", low=0)
    empty = np.flatnonzero(area <= 0)
    if empty.size:
        raise Refused(
            "area_m2 is 0",
            where=table.rows[empty[0]].where("area_m2"),
            rule="The area looked at is above 0.",
            step="Give its square metres.",
        )
    return metres[:, 0], metres[:, 1], area


def _numbers(table: Table, column: str, *, low: float = -math.inf, high: float = math.inf) -> Any:
    """A column, shape = (n,): all at once where all is well, else row by row, so that the refusal names the line."""
    import numpy as np

    try:
        values = np.array([float(row.cells[column]) for row in table], dtype=np.float64)
        good = bool(np.isfinite(values).all() and (values >= low).all() and (values <= high).all())
    except (KeyError, ValueError):
        good = False
    return values if good else np.array([row.number(column, low=low, high=high) for row in table], dtype=np.float64)
