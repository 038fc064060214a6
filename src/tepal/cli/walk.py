"""`tepal walk`: how sure that there are none, after a walk."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from tepal.cli import _out
from tepal.tables import Refused, Where

if TYPE_CHECKING:
    from tepal.ground import Frame
    from tepal.walk import Absence, RiskZone


def walk(
    site: Path,
    /,
    *,
    walked: tuple[Path, ...] = (),
    sigma: float | None = None,
    found: int = 0,
    prior_present: float | None = None,
    prior: Path | None = None,
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """How sure that a site has none, after a walk. (Planning a route is not built yet.)

    Parameters
    ----------
    site: Path
        The site's boundary, GeoJSON in longitude and latitude; holes and several parts are taken.
    walked: tuple[Path, ...]
        The track really walked, GPX or GeoJSON lines; may be given more than once. A gap between segments is not
        walked.
    sigma: float
        Width of sight S in metres: a plant at distance d is seen with probability exp(-d²/2S²).
    found: int
        Plants found on the walk.
    prior_present: float
        Chance that the site has any, before the walk. 0.5 if not given, and said so.
    prior: Path
        Polygons (GeoJSON) with `weight`: plants per area relative to 1 outside; the greatest where they overlap.
    json_output: bool
        Print one JSON object.
    """
    if not walked:
        raise Refused(
            "no --walked track",
            where="command line",
            rule="Planning a route is not built yet; this version only judges a walk that was made.",
            step="Give the track with --walked TRACK.gpx.",
        )
    if sigma is None:
        raise Refused(
            "no --sigma",
            where="command line",
            rule="The width of sight must be stated.",
            step="Give --sigma in metres.",
        )
    import shapely

    from tepal.ground import Frame, boundary_from_geojson
    from tepal.walk import absence

    boundary = boundary_from_geojson(_geojson(site), where=site.name)
    frame = Frame.around(boundary)
    metres = frame.geometry_to_metres(boundary)
    shapely.prepare(metres)
    tracks = [frame.to_metres(line) for path in walked for line in _track(path)]
    given = 0.5 if prior_present is None else prior_present
    result = absence(
        metres,
        tracks,
        sigma_m=sigma,
        found=found,
        prior_present=given,
        prior=_zones(prior, frame) if prior else None,
    )
    if json_output:
        _out.emit(
            {
                "p_present": result.p_present,
                "density_upper95_per_ha": result.density_upper95_per_ha,
                "seen_share": result.seen_share,
                "assumed": result.assumed.in_words(),
                "found": result.found,
                "walked_m": result.walked_m,
                "hectares": result.hectares,
            }
        )
    else:
        _tell(result, default_prior=prior_present is None)
    return _out.DONE


def _tell(result: Absence, *, default_prior: bool) -> None:
    from tepal.words import Words

    words = Words()
    if result.found:
        _out.say(words.plural("You found one: they are there.", "You found {count}: they are there.", result.found))
    elif result.density_upper95_per_ha is None:
        _out.say("The walk saw nothing of this site, so it says nothing about it.")
    else:
        _out.say(
            words.t(
                "You saw none in the part you walked. That leaves {chance} that some are there.",
                chance=words.chance(result.p_present),
            )
        )
    _out.say(
        words.t(
            "You walked {length} and saw {share} % of the site as well as if you had stood on it.",
            length=words.length(result.walked_m),
            share=words.number(100 * result.seen_share, 0 if result.seen_share > 0.1 else 1),
        )
    )
    if result.density_upper95_per_ha is not None:
        most = result.density_upper95_per_ha * result.hectares
        _out.say(
            words.t("On the whole site there are, with 19 chances in 20, no more than {n} plants.", n=words.about(most))
        )
    if default_prior:
        _out.say("An even chance before the walk was taken because no --prior-present was given: set your own.")
    _out.say(result.assumed.in_words())


def _track(path: Path) -> list[Any]:
    import numpy as np

    from tepal.ground import line_from_geojson

    raw = _bytes(path)
    if raw.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<"):
        from tepal.ledger.formats._gpx import read_gpx_tracks

        return list(read_gpx_tracks(raw, where=path.name))
    lines = line_from_geojson(_parsed(raw, path), where=path.name)
    return [np.asarray(line.coords)[:, :2] for line in lines.geoms]


def _zones(path: Path, frame: Frame) -> list[RiskZone]:
    from tepal.ground import boundary_from_geojson
    from tepal.walk import RiskZone

    data = _geojson(path)
    features = data.get("features") if data.get("type") == "FeatureCollection" else [data]
    zones = []
    for number, feature in enumerate(features or [], start=1):
        properties = feature.get("properties") if isinstance(feature, dict) else None
        weight = (properties or {}).get("weight")
        if isinstance(weight, bool) or not isinstance(weight, (int, float)):
            raise Refused(
                f"feature {number} has weight {weight!r}",
                where=path.name,
                rule="Each polygon has a number `weight`: plants per area relative to 1 outside.",
                step="Add it.",
            )
        area = frame.geometry_to_metres(boundary_from_geojson(feature, where=path.name))
        zones.append(RiskZone(area, float(weight)))
    return zones


def _geojson(path: Path) -> dict[str, Any]:
    return _parsed(_bytes(path), path)


def _parsed(raw: bytes, path: Path) -> dict[str, Any]:
    try:
        data = json.loads(raw)
    except ValueError as problem:
        line = problem.lineno if isinstance(problem, json.JSONDecodeError) else None
        raise Refused(
            "this is no JSON", where=Where(path.name, line), rule="GeoJSON is needed here.", step="Export it again."
        ) from None
    if not isinstance(data, dict):
        raise Refused("this is no GeoJSON", where=path.name, rule="GeoJSON is an object.", step="Export it again.")
    return data


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as problem:
        raise Refused(
            f"the file cannot be read: {problem.strerror or problem}",
            where=path.name,
            rule="A readable file is needed.",
            step="Check the name and the rights.",
        ) from None
