"""Which site a claimed place is, and what is doubtful about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from shapely.geometry import Point, shape

from tepal.ground import ClaimedPlace, describe_place
from tepal.ledger._bodies import Site
from tepal.ledger._sites import SiteBook, SiteName, bare
from tepal.ledger._store import Ledger
from tepal.ledger.formats._photos import PhotoFile
from tepal.tables import Refused
from tepal.words import Words

_FAR_M = 2_000.0
_OTHER_COUNTY_M = 150_000.0


def claimed_point(
    claimed: ClaimedPlace | None, files: Sequence[PhotoFile]
) -> tuple[tuple[float, float] | None, float | None, str | None]:
    """The point that is claimed: in words or a link; else where the first photo that knows it was taken."""
    if claimed is not None and claimed.point is not None:
        point = claimed.point
        return (point.lon, point.lat), point.error_m, point.by
    for file in files:
        if file.at is not None:
            return file.at, None, "photo"
    return None, None, None


def site_meant(
    ledger: Ledger,
    site: str | None,
    *,
    claimed: ClaimedPlace | None,
    place: str | None,
    point: tuple[float, float] | None,
    sites: Sequence[tuple[str, Site]],
) -> tuple[SiteName | None, tuple[str, ...]]:
    names = {one.id: one for one in ledger.sites()}
    if site is not None:
        try:
            return SiteBook(names.values()).find(site, where="--site"), ()
        except Refused as problem:
            if problem.rule.startswith("Several"):
                raise
            return None, ()
    survey = None if claimed is None else claimed.survey
    if survey is not None:
        same = {id for id, body in sites if body.legal and _same_ground(body.legal, survey.text)}
        if len(same) == 1:
            id = same.pop()
            return names[id], (f"Its legal description is that of {names[id].name}.",)
    if point is not None:
        around = {id for id, body in sites if body.boundary and shape(body.boundary).covers(Point(point))}
        if len(around) == 1:
            id = around.pop()
            return names[id], (f"The place lies in {names[id].name}.",)
    elif place is not None and bare(place):
        called = [one for one in names.values() if bare(place) in (bare(one.id), bare(one.name))]
        if len(called) == 1:
            return called[0], (f"The place is called so: {called[0].name}.",)
    return None, ()


def doubts(
    *,
    place: str | None,
    claimed: ClaimedPlace | None,
    point: tuple[float, float] | None,
    files: Sequence[PhotoFile],
    found: SiteName | None,
    sites: Sequence[tuple[str, Site]],
    late: bool,
    words: Words,
) -> tuple[str, ...]:
    """What a person should look at before relying on the report."""
    out = []
    if late:
        out.append("The day by which the answer was promised has passed.")
    if place and "://" in place and (claimed is None or claimed.point is None):
        out.append("The link holds no coordinates: open it, and enter the two numbers that it shows as --place.")
    if point is None:
        return tuple(out)
    taken = [(file, metres) for file in files if file.at is not None and (metres := _apart(point, file.at)) > _FAR_M]
    out += [
        words.t("The photo {file} was taken {far} from that place.", file=file.path.name, far=words.length(metres))
        for file, metres in taken
    ]
    places = [middle for _, body in sites if (middle := _middle(body)) is not None]
    if found is None and places:
        nearest = min(_apart(point, one) for one in places)
        if nearest > _OTHER_COUNTY_M:
            far = words.length(nearest)
            out.append(words.t("The nearest site of the record lies {far} away: are the coordinates right?", far=far))
    return tuple(out)


def _middle(body: Site) -> tuple[float, float] | None:
    if body.boundary is None:
        return body.point
    middle = shape(body.boundary).representative_point()
    return middle.x, middle.y


def _apart(one: tuple[float, float], two: tuple[float, float]) -> float:
    """Metres between two places in longitude and latitude."""
    from pyproj import Geod

    return float(Geod(ellps="WGS84").inv(*one, *two)[2])


def _same_ground(legal: str, text: str) -> bool:
    survey = describe_place(legal).survey
    other = describe_place(text).survey
    # Without a meridian the description is that of the county's own.
    if survey is None or other is None or (survey.meridian and other.meridian and survey.meridian != other.meridian):
        return False
    return replace(survey, meridian=None) == replace(other, meridian=None)
