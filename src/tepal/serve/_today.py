"""What a phone takes along to where there is no signal."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any, Literal, cast

from fastapi import Request
from fastapi.responses import Response

from tepal.ledger import Done, Entry, Ledger, Report, Site, standing
from tepal.ledger._rows import entry_of, of_kinds
from tepal.serve._asking import TheLedger, TheSettings, TheWho
from tepal.serve._entries import utc
from tepal.serve._permission import permission_plain, permissions
from tepal.serve._problems import Answer
from tepal.serve._roles import FIELD, Who
from tepal.serve._routes import Routes
from tepal.serve._sight import Sight, sight
from tepal.serve._tell import Tell, Told
from tepal.tables import Refused
from tepal.words import Words

_KINDS = ("site", "done", "report", "letter")


def today_routes() -> Routes:
    routes = Routes()

    @routes.get("/today", may=FIELD, summary="What a phone takes along")
    def today(
        request: Request,
        *,
        ledger: TheLedger,
        who: TheWho,
        settings: TheSettings,
        language: Literal["en", "es"] | None = None,
        units: Literal["us", "metric"] | None = None,
    ) -> Response:
        now = settings.now()
        # As the person reads on this phone; otherwise as the office does.
        words = Words(language or settings.language, units or settings.units)
        seen, as_of = sight(ledger, who), settings.today()
        found = _standing(ledger, seen)
        here = {entry.site for entry in found if entry.kind == "site" and entry.site is not None and who.at(entry.site)}
        let_in = permissions(ledger, here, as_of)
        barred = _barred(found, now)
        tell: Tell = request.app.state.tell
        return Answer(
            {
                "server_time": utc(now),
                "as_of": as_of.isoformat(),
                "view": seen.view,
                "person": {"id": who.id, "name": who.name, "role": who.role},
                "sites": [
                    _site(entry, barred.get(str(entry.site)), _told(tell, str(entry.site), as_of, words), words)
                    | {"permission": permission_plain(let_in.get(str(entry.site)), words)}
                    for entry in found
                    if entry.kind == "site" and who.at(entry.site)
                ],
                "calls": _calls(found, who),
            }
        )

    return routes


def _standing(ledger: Ledger, seen: Sight) -> tuple[Entry, ...]:
    with ledger.connected() as connection:
        query = of_kinds(_KINDS).where(seen.condition)
        return standing([entry_of(row) for row in connection.execute(query)]).entries


def _told(tell: Tell, site: str, as_of: date, words: Words) -> Told:
    try:
        return tell(site, as_of, words) or Told()
    except Refused:
        return Told()  # a site of which nothing can be read yet is still a place to go to


def _site(entry: Entry, until: datetime | None, told: Told, words: Words) -> dict[str, Any]:
    body = cast(Site, entry.body)
    return {
        "id": entry.site,
        "name": body.name,
        "kind": body.ground,
        "units": words.units,
        "boundary": body.boundary,
        "point": None if body.point is None else list(body.point),
        "place": body.legal or body.words,
        "features": {
            "type": "FeatureCollection",
            "features": [
                {
                    "type": "Feature",
                    "geometry": feature.geometry,
                    "properties": {"kind": feature.kind, "name": feature.name},
                }
                for feature in body.features
            ],
        },
        "blocked_until": None if until is None else until.isoformat(),
        "blocked_why": None
        if until is None
        else words.t("It was sprayed: nobody goes in before the label's re-entry time has passed."),
        "sentence": told.sentence,
        "do": list(told.do),
        "closes": told.closes,
        "return_on": told.return_on,
        "prior": told.prior,
        "region": body.region,
        "aerial": told.aerial,
    }


def _barred(found: Sequence[Entry], now: datetime) -> dict[str, datetime]:
    """By site, until when nobody may go in. From the record itself, not from a reading that may be of this morning."""
    out: dict[str, datetime] = {}
    for entry in found:
        until = entry.body.re_entry_until if isinstance(entry.body, Done) else None
        if until is not None and until > now:
            site = str(entry.site)
            out[site] = max(out.get(site, until), until)
    return out


def _calls(found: Sequence[Entry], who: Who) -> list[dict[str, Any]]:
    """Reports that wait for an answer: those handed to this person; for a coordinator, all."""
    told = {entry.site: entry.made_at for entry in found if entry.kind == "letter"}
    calls = []
    for entry in found:
        body = entry.body
        if not isinstance(body, Report) or not (who.sees_all or {entry.id, entry.amends} & who.calls):
            continue
        answered = told.get(entry.site)
        if answered is not None and answered >= entry.made_at:
            continue
        calls.append(
            {
                "entry": entry.id,
                "site": entry.site,
                "who": body.who,
                "words": body.words,
                "place": None if body.place is None else body.place.words,
                "answer_by": None if body.answer_by is None else body.answer_by.isoformat(),
            }
        )
    return sorted(calls, key=lambda call: (call["answer_by"] is None, call["answer_by"], call["entry"]))
