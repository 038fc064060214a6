"""`tepal stand`: how many and where, from counts on known areas."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from tepal.cli import _out
from tepal.tables import Refused

if TYPE_CHECKING:
    from tepal.ground import Frame
    from tepal.stand import StandEstimate
    from tepal.words import Words


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
    covariates: str | None = None,
    waterways: Path | None = None,
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """How many plants there are, and where, from counts on known areas.

    Parameters
    ----------
    counts: Path
        CSV with `x,y` (metres) or `lon,lat` (degrees), `area_m2` (or `area_ft2`) and `count`.
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
    covariates: str
        What density may go with, commas between: edge (needs a boundary), waterway (needs --waterways), or columns of
        the counts. It is used as far as the counts bear it out.
    waterways: Path
        Ditches, streams or ponds as GeoJSON lines or polygons, in the frame of the counts.
    json_output: bool
        Print one JSON object.
    """
    from tepal.cli import _stand_given, _stand_table
    from tepal.doubt import generator_for
    from tepal.stand import estimate
    from tepal.words import Words

    table = _stand_table.read_table(counts)
    site, degrees = _stand_given.boundary_of(boundary, table)
    _check_files(patches_to, draw, boundary, degrees=degrees)
    given = _stand_given.read(
        table, site, degrees=degrees, at=at, tracks=stopped_where_seen, sigma=sigma,
        covariates=covariates, waterways=waterways,
    )  # fmt: skip
    # The same files give the same draws.
    files = (path for path in (counts, boundary, at, *stopped_where_seen) if path)
    rng = generator_for("stand", *(path.read_bytes() for path in files))
    result = estimate(given.counts, boundary=given.site, at=given.asked, covariates=given.covariates, rng=rng)

    if boundary is not None and result.outside == len(given.counts):
        raise Refused(
            f"none of the {len(given.counts)} counts lies inside the boundary",
            where=boundary.name,
            rule="Counts and boundary stand in one frame: lon,lat with degrees, or x,y with metres.",
            step="Check which of the two is in degrees, or leave the boundary out.",
        )
    for warning in (*given.warnings, *result.warnings):
        _out.warn(warning)
    if patches_to is not None and given.frame is not None and given.site is not None:
        from tepal.cli._stand_files import write_patches

        write_patches(patches_to, result, given.frame, given.site, counts.stem)
    if draw is not None and given.site is not None:
        from tepal.cli._stand_map import draw as to_file

        to_file(result, given.counts, given.site, draw, Words(), name=counts.stem)
    if json_output:
        _answer(result, given.frame, asked_covariates=bool(covariates))
    else:
        _tell(result, len(given.counts), Words())
    return _out.DONE


def _answer(result: StandEstimate, frame: Frame | None, *, asked_covariates: bool) -> None:
    """One JSON object."""
    from tepal.cli import _stand_covariates
    from tepal.doubt import summary

    answer: dict[str, Any] = {"density_per_m2": summary(result.density.values)}
    if result.total is not None:
        answer["total"] = summary(result.total.values)
        answer["patches"] = _patches(result, frame)
        thick = sum(patch.hectares for patch in result.patches)
        share = sum(patch.share_of_plants for patch in result.patches)
        answer["thick"] = {"hectares": thick, "of_hectares": result.area_m2 / 1e4, "share_of_plants": share}
    answer["counted"] = {"plants": result.counted[0], "area_m2": result.counted[1], "outside": result.outside}
    answer["neighbours_alike"] = result.field_share
    if asked_covariates:
        answer["covariates"] = _stand_covariates.told(result.covariates)
    if result.at is None:
        _out.emit(answer)
    else:
        # A hundred thousand points are a million numbers, plain already: they are not looked at one by one again.
        print(json.dumps(_out.plain(answer) | {"at": _at(result)}, allow_nan=False, separators=(",", ":")))


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


def _tell(result: StandEstimate, n: int, words: Words) -> None:
    import numpy as np

    from tepal.cli import _stand_covariates

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
    for sentence in _stand_covariates.sentences(result.covariates, words):
        _out.say(sentence)
    if result.at is not None:
        _out.say(words.t("Predictions at {n} points: ask for them with --json.", n=len(result.at.mean)))
