"""The pages of people and devices, of leaving, of wording; pictures from above; typefaces."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Annotated, Literal

from fastapi import Form, Request, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.concurrency import run_in_threadpool

from tepal.serve import EVERYBODY, ROLES, Office, Person, Problem, Role, Routes, TheOffice, TheSettings, TheWho, absent
from tepal.serve._asking import drop_cookie
from tepal.serve._invite import way_in
from tepal.serve._roles import FIELD, OFFICE
from tepal.serve._wording import WORDING, words_of
from tepal.serve.desk._aerial import MOST_BYTES
from tepal.serve.desk._asked import Id, Site
from tepal.serve.desk._desk import Desk, TheDesk, aerial_plain, faces
from tepal.serve.desk._frame import frame, page
from tepal.serve.desk._links import Links
from tepal.serve.desk._people import people_view
from tepal.serve.desk._render import drawing
from tepal.tables import Refused

_LASTS = 400 * 24 * 3600
_FOR_GOOD = "public, max-age=31536000, immutable"
_PEOPLE = "/people"


def people_page_routes() -> Routes:
    routes = Routes()

    @routes.get("/people", may=OFFICE, response_class=HTMLResponse, summary="The page of people")
    def people(request: Request, desk: TheDesk, office: TheOffice, who: TheWho, settings: TheSettings) -> Response:
        words, names = words_of(request, settings), desk.names()
        calls = {call.entry.id: names.get(call.site, call.site) for call in desk.waiting(settings.today())}
        view = people_view(
            office.people(),
            office.devices(),
            office.invitations(),
            sites=names,
            calls=calls,
            who=who,
            words=words,
            now=settings.here(),
        )
        around = frame(request, settings, who, words)
        return page("people.html.j2", words, around, title=words.t("People"), v=view)

    @routes.post("/people", may=OFFICE, response_class=HTMLResponse, summary="Enter somebody and invite them")
    def enter(
        request: Request,
        office: TheOffice,
        who: TheWho,
        settings: TheSettings,
        *,
        name: Annotated[str, Form(min_length=1, max_length=200)],
        role: Annotated[Role, Form()],
        laboratory: Annotated[str, Form(max_length=200)] = "",
    ) -> Response:
        made = office.add_person(name, role, laboratory=laboratory.strip() or None, now=settings.now())
        return _invited(request, office, made, who, settings)

    @routes.post("/people/{id}/invite", may=OFFICE, response_class=HTMLResponse, summary="Make a way in, shown once")
    def invite(id: Id, request: Request, office: TheOffice, who: TheWho, settings: TheSettings) -> Response:
        return _invited(request, office, _there(office, id), who, settings)

    @routes.post("/people/{id}/leave", may=OFFICE, response_class=Response, status_code=303, summary="Somebody left")
    def left(id: Id, office: TheOffice, who: TheWho, settings: TheSettings) -> Response:
        person = _there(office, id)
        if person.id == who.id:
            raise Problem(409, "You cannot show yourself out.", step="Another coordinator does it.")
        office.leave(person.id, now=settings.now())
        return _back(person.id)

    @routes.post("/people/{id}/return", may=OFFICE, response_class=Response, status_code=303, summary="They are back")
    def come_back(id: Id, office: TheOffice) -> Response:
        person = _there(office, id)
        office.come_back(person.id)
        return _back(person.id)

    @routes.post(
        "/people/{id}/assign", may=OFFICE, response_class=Response, status_code=303, summary="Give a site or call"
    )
    def assign(
        id: Id,
        desk: TheDesk,
        office: TheOffice,
        settings: TheSettings,
        *,
        site: Annotated[str, Form(max_length=200)] = "",
        entry: Annotated[str, Form(max_length=36)] = "",
    ) -> Response:
        person = _there(office, id)
        if site and not entry:
            office.assign(person.id, site=_named(desk, site), now=settings.now())
        elif entry and not site:
            if desk.calls.get(entry, settings.today()) is None:
                raise Problem(422, where="entry", rule="It is a call on record.", step="Choose one of the list.")
            office.assign(person.id, entry=entry, now=settings.now())
        else:
            raise Problem(422, rule="A site or a call is given.", step="Choose one of the list.")
        return _back(person.id)

    @routes.post("/people/{id}/unassign", may=OFFICE, response_class=Response, status_code=303, summary="Take it away")
    def unassign(
        id: Id,
        office: TheOffice,
        *,
        site: Annotated[str, Form(max_length=200)] = "",
        entry: Annotated[str, Form(max_length=36)] = "",
    ) -> Response:
        person = _there(office, id)
        if bool(site) == bool(entry):
            raise Problem(422, rule="A site or a call is taken away.", step="Choose one of the list.")
        office.unassign(person.id, site=site or None, entry=entry or None)
        return _back(person.id)

    @routes.post(
        "/people/devices/{id}/revoke", may=OFFICE, response_class=Response, status_code=303, summary="End a device"
    )
    def revoke(id: Id, office: TheOffice, settings: TheSettings) -> Response:
        try:
            office.revoke_device(id, now=settings.now())
        except Refused:
            raise absent() from None
        return _back()

    @routes.post(
        "/people/invitations/{id}/revoke",
        may=OFFICE,
        response_class=Response,
        status_code=303,
        summary="End an invitation",
    )
    def take_back(id: Id, office: TheOffice, settings: TheSettings) -> Response:
        try:
            office.revoke_invitation(id, now=settings.now())
        except Refused:
            raise absent() from None
        return _back()

    return routes


def own_routes() -> Routes:
    routes = Routes()

    @routes.get("/leave", may=ROLES, response_class=HTMLResponse, summary="Asks before a device leaves")
    def asked(request: Request, who: TheWho, settings: TheSettings) -> Response:
        words = words_of(request, settings)
        around = frame(request, settings, who, words)
        return page("leave.html.j2", words, around, title=words.t("Leave this device?"), gone=False)

    @routes.post("/leave/now", may=ROLES, response_class=HTMLResponse, summary="This device leaves")
    def leave(request: Request, office: TheOffice, who: TheWho, settings: TheSettings) -> Response:
        office.revoke_device(who.device, now=settings.now())
        words = words_of(request, settings)
        around = frame(request, settings, None, words)
        made = page("leave.html.j2", words, around, title=words.t("This device is let in no longer."), gone=True)
        drop_cookie(made)
        return made

    @routes.post(
        "/wording", may=ROLES, response_class=Response, status_code=303, summary="Language and units of a browser"
    )
    def wording(
        language: Annotated[Literal["en", "es"], Form()],
        units: Annotated[Literal["us", "metric"], Form()],
        back: Annotated[str, Form(max_length=2000)] = "/",
    ) -> Response:
        # Only ever to a page of ours.
        here = back if back.startswith("/") and not back.startswith(("//", "/\\")) else "/"
        made = RedirectResponse(here, 303)
        made.set_cookie(WORDING, f"{language}-{units}", max_age=_LASTS, secure=True, httponly=True, samesite="strict")
        return made

    @routes.get("/desk/fonts/{face}.woff", may=EVERYBODY, response_class=Response, summary="A typeface of the pages")
    def font(face: Literal["regular", "bold", "title", "name"]) -> Response:
        return Response(faces()[face], media_type="font/woff", headers={"cache-control": _FOR_GOOD})

    return routes


def aerial_routes() -> Routes:
    routes = Routes()

    @routes.get("/sites/{id}/aerial", may=OFFICE, site="id", response_class=HTMLResponse, summary="The picture's page")
    def shown(id: Site, request: Request, desk: TheDesk, who: TheWho, settings: TheSettings) -> Response:
        if not desk.readings.known(id):
            raise absent()
        words, found = words_of(request, settings), desk.aerials.of(id)
        edges = found.bounds if found else ("", "", "", "")
        labels = (
            words.t("West edge, degrees of longitude (west of Greenwich with a minus)"),
            words.t("South edge, degrees of latitude"),
            words.t("East edge, degrees of longitude"),
            words.t("North edge, degrees of latitude"),
        )
        around = frame(request, settings, who, words)
        back = Links().site(id)
        return page(
            "aerial.html.j2",
            words,
            around,
            title=words.t("A picture from above"),
            name=desk.names().get(id, id),
            back=back,
            action=f"{back}/aerial",
            there=aerial_plain(id, found.bounds, found.sha256)["url"] if found else "",
            edges=list(zip(("west", "south", "east", "north"), labels, edges, strict=True)),
            mb=MOST_BYTES // 1_000_000,
        )

    @routes.post(
        "/sites/{id}/aerial",
        may=OFFICE,
        site="id",
        response_class=Response,
        status_code=303,
        max_body_size=MOST_BYTES + 10_000,
        summary="Put a picture in",
    )
    async def put(
        id: Site,
        desk: TheDesk,
        who: TheWho,
        settings: TheSettings,
        picture: UploadFile,
        *,
        west: Annotated[float, Form()],
        south: Annotated[float, Form()],
        east: Annotated[float, Form()],
        north: Annotated[float, Form()],
    ) -> Response:
        if not await run_in_threadpool(desk.readings.known, id):
            raise absent()
        content = await picture.read(MOST_BYTES + 1)
        bounds = (west, south, east, north)
        await run_in_threadpool(desk.aerials.put, id, content, bounds, by=who.name, now=settings.now())
        return RedirectResponse(f"{Links().site(id)}/aerial", 303)

    @routes.post(
        "/sites/{id}/aerial/remove",
        may=OFFICE,
        site="id",
        response_class=Response,
        status_code=303,
        summary="Take it out",
    )
    def remove(id: Site, desk: TheDesk) -> Response:
        if not desk.readings.known(id):
            raise absent()
        desk.aerials.remove(id)
        return RedirectResponse(f"{Links().site(id)}/aerial", 303)

    @routes.get(
        "/sites/{id}/aerial.jpg", may=FIELD, site="id", response_class=Response, summary="The picture from above"
    )
    def jpeg(id: Site, desk: TheDesk, who: TheWho) -> Response:
        found = desk.aerials.jpeg(id) if who.at(id) else None
        if found is None:
            raise absent()
        return Response(found, media_type="image/jpeg", headers={"cache-control": "private, max-age=604800"})

    return routes


def _invited(request: Request, office: Office, person: Person, who: TheWho, settings: TheSettings) -> Response:
    words = words_of(request, settings)
    lasts: timedelta = settings.invitation_lasts
    made = office.invite(person.id, now=settings.now(), lasts=lasts)
    # Without a public address the link leads to where this very page was asked for (the server checks that name).
    here = settings.public_url or str(request.base_url)
    way = way_in(made, replace(settings, public_url=here))
    around = frame(request, settings, who, words)
    alt = words.t("The link as a picture to scan")
    return page(
        "invited.html.j2",
        words,
        around,
        title=words.t("A way in for {name}", name=person.name),
        name=person.name,
        link=way["link"],
        qr=drawing(way["qr"], alt),
        until=words.day(made.expires_at.astimezone(settings.here().tzinfo).date(), year=True),
    )


def _named(desk: Desk, site: str) -> str:
    """The site that somebody typed or chose: its id or its name."""
    site = site.strip()
    return site if desk.readings.known(site) else desk.ledger.find_site(site).id


def _there(office: Office, id: str) -> Person:
    try:
        return office.person(id)
    except Refused:
        raise absent() from None


def _back(person: str = "") -> Response:
    return RedirectResponse(f"{_PEOPLE}#p-{person}" if person else _PEOPLE, 303)
