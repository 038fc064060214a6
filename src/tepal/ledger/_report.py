"""A report as it comes in: a call, a text, a visit, a letter; with the place as it was claimed and the photos."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any, Literal

from tepal.ground import ClaimedPlace, describe_place
from tepal.ledger._bodies import Site
from tepal.ledger._claims import claimed_point, doubts, site_meant
from tepal.ledger._entry import Entry, entry
from tepal.ledger._ids import row_id
from tepal.ledger._sites import SiteBook, SiteName, misspelled
from tepal.ledger._store import Ledger
from tepal.ledger.formats._ground import standing_sites
from tepal.ledger.formats._photos import PhotoFile, keep, read_photo
from tepal.tables import Refused, Where
from tepal.words import Words

How = Literal["call", "text", "visit", "letter"]
_LINE = "command line"
# A site's id made of what it is called: short enough to type.
_MOST_ID = 60


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
    told: Words | None = None,
) -> Filed:
    """Enter a report: the report, its photos, and its site where that is new. All of it goes in, or nothing.

    The site is `site`; else the one whose legal description is the claimed one, in whose boundary the claimed point
    lies, or that is called as the place is; else a new one, of which only the place is known. A `site` that is nearly
    called as another is refused, unless `insist`. `site_fields` (ground, county, state, region…) are for a new
    site; county, state and region are taken from the record where all its sites agree. `told`
    words the notes.

    Raises
    ------
    Refused
        If a photo cannot be read, `site` could be several or is misspelled, the answer was promised before the report
        came, or anything breaks a rule. Nothing is written then.
    """
    _check_days(on, answer_by)
    files = [read_photo(path) for path in photos]
    claimed = describe_place(place) if place else None
    point, error, source = claimed_point(claimed, files)
    sites = list(standing_sites(ledger).items())
    found, notes = site_meant(ledger, site, claimed=claimed, place=place, point=point, sites=sites)
    if found is None and site is not None and not insist:
        nearly = SiteBook(ledger.sites()).nearly(site)
        if nearly:
            raise misspelled(site, nearly, Where(_LINE, None, "--site"))
    notes += doubts(
        place=place,
        claimed=claimed,
        point=point,
        files=files,
        found=found,
        sites=sites,
        late=_is_late(on, answer_by),
        words=told or Words(),
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
    report = entry("report", filed, by=by, site=found.id, where=_LINE)
    shown = [_photo_entry(one, report, by, on) for one in {one.sha256: one for one in files}.values()]
    known = {e.id for e in shown if ledger.get(e.id) is not None}
    if files:
        for one in files:
            keep(one, ledger.photos)
    added = ledger.add([*entries, report, *(e for e in shown if e.id not in known)])
    if added.refused:
        raise added.refused[0].why
    return Filed(
        report,
        found,
        is_new,
        claimed,
        source,
        tuple(one.sha256 for one in files),
        tuple(str(getattr(e.body, "sha256", "")) for e in shown if e.id in known),
        notes,
        added.added,
    )


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
