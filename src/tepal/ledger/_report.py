"""A report as it comes in: a call, a text, a visit, a letter; with the place as it was claimed and the photos."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any, Literal

from shapely.geometry import Point, shape

from tepal.ground import ClaimedPlace, describe_place
from tepal.ledger._bodies import Site
from tepal.ledger._entry import Entry, entry
from tepal.ledger._ids import row_id
from tepal.ledger._sites import SiteBook, SiteName, bare, misspelled
from tepal.ledger._standing import standing
from tepal.ledger._store import Ledger
from tepal.ledger.formats._photos import PhotoFile, keep, read_photo
from tepal.tables import Refused, Where

How = Literal["call", "text", "visit", "letter"]
_LINE = "command line"
# A site's id made of what it is called: short enough to type.
_MOST_ID = 60
_FAR_M = 2_000.0
_OTHER_COUNTY_M = 150_000.0


@dataclass(frozen=True, slots=True)
class Filed:
    """What a report became: its entry, its site (`is_new`: made for it), the place as understood, its photos.

    `notes` are sentences on how the site and the place were found. `photos_known`: those that were in the record.
    """

    report: Entry
    site: SiteName
    is_new: bool
    place: ClaimedPlace | None
    point_from: str | None
    photos: tuple[str, ...]
    photos_known: tuple[str, ...]
    notes: tuple[str, ...]
    added: int


def file_report(
    ledger: Ledger,
    *,
    how: How,
    words: str,
    who: str | None = None,
    place: str | None = None,
    photos: Sequence[Path] = (),
    site: str | None = None,
    on: date | None = None,
    answer_by: date | None = None,
    by: str = "office",
    site_fields: dict[str, Any] | None = None,
    insist: bool = False,
) -> Filed:
    """Enter a report: the report, its photos, and its site where that is new. All of it goes in, or nothing.

    The site is `site`; else the one whose legal description is the claimed one, in whose boundary the claimed point
    lies, or that is called as the place is; else a new one, of which only the place is known. A `site` that is nearly
    called as another is refused, unless `insist`. `site_fields` (ground, county, state, region…) are for a new
    site; county, state and region are taken from the record where all its sites agree.

    Raises
    ------
    Refused
        If a photo cannot be read, `site` could be several or is misspelled, the answer was promised before the report
        came, or anything breaks a rule. Nothing is written then.
    """
    _check_days(on, answer_by)
    files = [read_photo(path) for path in photos]
    claimed = describe_place(place) if place else None
    point, error, source = _point(claimed, files)
    sites = _standing_sites(ledger)
    found, notes = _find(ledger, site, claimed=claimed, place=place, point=point, sites=sites)
    if found is None and site is not None and not insist:
        nearly = SiteBook(ledger.sites()).nearly(site)
        if nearly:
            raise misspelled(site, nearly, Where(_LINE, None, "--site"))
    notes += _doubts(
        place=place, claimed=claimed, point=point, files=files, found=found, sites=sites, late=_is_late(on, answer_by)
    )
    fields = dict(site_fields or {})
    entries: list[Entry] = []
    is_new = found is None
    if found is None:
        found = _new_site(ledger, site, claimed, place)
    if found.id not in {id for id, _ in sites}:
        # New, or so far only a name in a spreadsheet: what the report says of the place is kept.
        body = _site_body(site=found, fields=fields, claimed=claimed, point=point, place=place, sites=sites)
        inherited = [key for key in ("county", "state", "region") if key in body and key not in fields]
        if inherited:
            notes += (f"Taken from the other sites of the record: {', '.join(str(body[key]) for key in inherited)}.",)
        entries.append(entry("site", body, by=by, site=found.id, where=_LINE))
    filed = _report_body(
        how=how,
        words=words,
        who=who,
        place=place,
        point=point,
        error=error,
        files=files,
        on=on,
        answer_by=answer_by,
    )
    told = entry("report", filed, by=by, site=found.id, where=_LINE)
    shown = [_photo_entry(one, told, by, on) for one in {one.sha256: one for one in files}.values()]
    known = {e.id for e in shown if ledger.get(e.id) is not None}
    if files:
        for one in files:
            keep(one, ledger.photos)
    added = ledger.add([*entries, told, *(e for e in shown if e.id not in known)])
    if added.refused:
        raise added.refused[0].why
    return Filed(
        told,
        found,
        is_new,
        claimed,
        source,
        tuple(one.sha256 for one in files),
        tuple(str(getattr(e.body, "sha256", "")) for e in shown if e.id in known),
        notes,
        added.added,
    )


def _point(
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


def _standing_sites(ledger: Ledger) -> list[tuple[str, Site]]:
    stands = standing(ledger.entries(kinds=("site", "withdraw"))).entries
    return [(one.site, one.body) for one in stands if one.site is not None and isinstance(one.body, Site)]


def _find(
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


def _check_days(on: date | None, answer_by: date | None) -> None:
    if on is not None and on > date.today() + timedelta(days=1):
        raise Refused(
            f"{on} has not been yet",
            where="--on",
            rule="A report has come in.",
            step="Correct the day, or leave it out.",
        )
    if on is not None and answer_by is not None and answer_by < on:
        raise Refused(
            f"an answer promised by {answer_by}, for a report of {on}",
            where="--answer-by",
            rule="An answer comes after the report.",
            step="Correct one of the days.",
        )


def _is_late(on: date | None, answer_by: date | None) -> bool:
    return on is None and answer_by is not None and answer_by < date.today()


def _doubts(
    *,
    place: str | None,
    claimed: ClaimedPlace | None,
    point: tuple[float, float] | None,
    files: Sequence[PhotoFile],
    found: SiteName | None,
    sites: Sequence[tuple[str, Site]],
    late: bool,
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
    out += [f"The photo {file.path.name} was taken {metres / 1000:,.0f} km from that place." for file, metres in taken]
    places = [middle for _, body in sites if (middle := _middle(body)) is not None]
    if found is None and places:
        nearest = min(_apart(point, one) for one in places)
        if nearest > _OTHER_COUNTY_M:
            out.append(f"The nearest site of the record lies {nearest / 1000:,.0f} km away: are the coordinates right?")
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


def _new_site(ledger: Ledger, site: str | None, claimed: ClaimedPlace | None, place: str | None) -> SiteName:
    """A name of the place, never of the person: a name would stand in the record for good."""
    if site is not None:
        name = " ".join(site.split())
    elif claimed is not None and claimed.survey is not None:
        name = claimed.survey.text
    elif claimed is not None and claimed.point is not None:
        name = claimed.point.text
    else:
        name = " ".join(re.sub(r"https?:\S+", "", place or "").split())[:_MOST_ID].strip() or "Place not known"
    plain = name.replace("¼", "").replace("½", "2")
    stem = re.sub(r"[^a-z0-9]+", "-", plain.casefold()).strip("-")[:_MOST_ID].strip("-") or "site"
    taken = set(ledger.site_ids())
    id = next(one for n in range(1, len(taken) + 2) if (one := stem if n == 1 else f"{stem}-{n}") not in taken)
    return SiteName(id, name[:200])


def _site_body(
    *,
    site: SiteName,
    fields: dict[str, Any],
    claimed: ClaimedPlace | None,
    point: tuple[float, float] | None,
    place: str | None,
    sites: Sequence[tuple[str, Site]],
) -> dict[str, Any]:
    body: dict[str, Any] = {"name": site.name, "ground": "field"}
    for key in ("county", "state", "region"):
        values = {getattr(other, key) for _, other in sites}
        if len(values) == 1 and None not in values:
            body[key] = values.pop()
    if point is not None:
        body["point"] = list(point)
    if claimed is not None and claimed.survey is not None:
        survey = claimed.survey
        body["legal"] = survey.text + (f"; {survey.rest}" if survey.rest else "")
    if place:
        body["words"] = place
    return body | {key: value for key, value in fields.items() if value is not None}


def _report_body(
    *,
    how: How,
    words: str,
    who: str | None,
    place: str | None,
    point: tuple[float, float] | None,
    error: float | None,
    files: Sequence[PhotoFile],
    on: date | None,
    answer_by: date | None,
) -> dict[str, Any]:
    claim = {"words": place, "point": None if point is None else list(point), "error_m": error}
    claim = {key: value for key, value in claim.items() if value is not None}
    body = {
        "how": how,
        "words": words,
        "who": who,
        "on": None if on is None else on.isoformat(),
        "place": claim or None,
        "photos": list(dict.fromkeys(file.sha256 for file in files)) or None,
        "answer_by": None if answer_by is None else answer_by.isoformat(),
    }
    return {key: value for key, value in body.items() if value is not None}


def _photo_entry(file: PhotoFile, report: Entry, by: str, on: date | None) -> Entry:
    taken: datetime | None = file.taken_at
    if taken is not None and taken.date() > report.made_at.date() + timedelta(days=1):
        taken = None  # the camera's clock runs ahead
    at = file.at
    body: dict[str, Any] = {
        "sha256": file.sha256,
        "media_type": file.media_type,
        "size_bytes": file.size_bytes,
        "of": report.id,
        "taken_at": None if taken is None else taken.isoformat(),
        "at": None if at is None else [float(at[0]), float(at[1])],
        "on": None if on is None or taken is not None else on.isoformat(),
    }
    body = {key: value for key, value in body.items() if value is not None}
    # The id that `take` gives to the same photo of the same site: sent twice, it is one entry.
    id = row_id("photo", report.site, file.sha256)
    return entry("photo", body, by=by, site=report.site, id=id, where=file.path.name)
