"""The office's book over HTTP, for a coordinator: people, invitations, devices, assignments."""

from __future__ import annotations

import logging
from datetime import datetime, timedelta
from typing import Annotated, Any

from fastapi import Path
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field, model_validator

from tepal.serve._asking import TheLedger, TheOffice, TheSettings, TheWho
from tepal.serve._book import Device, Invitation, Person
from tepal.serve._entries import utc
from tepal.serve._invite import way_in
from tepal.serve._office import Office
from tepal.serve._problems import Answer, Problem, absent
from tepal.serve._roles import OFFICE, Role
from tepal.serve._routes import Routes
from tepal.serve._settings import Settings
from tepal.tables import Refused

_log = logging.getLogger("tepal.serve")
Id = Annotated[str, Path(max_length=36)]
Line = Annotated[str, Field(min_length=1, max_length=200)]


class NewPerson(BaseModel):
    """Somebody to be entered."""

    model_config = ConfigDict(extra="forbid")
    name: Line
    role: Role
    laboratory: Line | None = None


class NewInvitation(BaseModel):
    """How long it lasts."""

    model_config = ConfigDict(extra="forbid")
    days: Annotated[float, Field(gt=0, le=60)] = 7


class Grant(BaseModel):
    """A site to be seen, or the report of a call to be answered."""

    model_config = ConfigDict(extra="forbid")
    site: Line | None = None
    entry: Annotated[str, Field(max_length=36)] | None = None

    @model_validator(mode="after")
    def _one(self) -> Grant:
        if (self.site is None) == (self.entry is None):
            raise ValueError("Either a site or an entry is named.")
        return self


def people_routes() -> Routes:
    routes = Routes()

    @routes.get("/office/people", may=OFFICE, summary="Everybody, with devices and open invitations")
    def everybody(office: TheOffice, settings: TheSettings) -> Response:
        devices, invitations = office.devices(), office.invitations()
        now = settings.now()
        return Answer({"people": [_person(one, devices, invitations, now) for one in office.people()]})

    @routes.post("/office/people", may=OFFICE, status_code=201, summary="Enter somebody")
    def enter(sent: NewPerson, office: TheOffice, settings: TheSettings) -> Response:
        made = office.add_person(sent.name, sent.role, laboratory=sent.laboratory, now=settings.now())
        return Answer(_person(made, [], [], settings.now()), 201)

    @routes.post("/office/people/{id}/leave", may=OFFICE, status_code=204, summary="Somebody works here no longer")
    def leave(id: Id, who: TheWho, office: TheOffice, settings: TheSettings) -> Response:
        person = _there(office, id)
        if person.id == who.id:
            raise Problem(409, "You cannot show yourself out.", step="Another coordinator does it.")
        office.leave(person.id, now=settings.now())
        _log.info("person %s left, by %s", person.id, who.id)
        return Response(status_code=204)

    @routes.post("/office/people/{id}/return", may=OFFICE, status_code=204, summary="Somebody works here again")
    def come_back(id: Id, who: TheWho, office: TheOffice) -> Response:
        person = _there(office, id)
        office.come_back(person.id)
        _log.info("person %s is back, by %s", person.id, who.id)
        return Response(status_code=204)

    @routes.post("/office/people/{id}/invitations", may=OFFICE, status_code=201, summary="Make a way in")
    def invite(id: Id, sent: NewInvitation, who: TheWho, office: TheOffice, settings: TheSettings) -> Response:
        person = _there(office, id)
        made = office.invite(person.id, now=settings.now(), lasts=timedelta(days=sent.days))
        _log.info("invitation %s for person %s, by %s", made.id, person.id, who.id)
        return Answer(_invited(made, settings), 201)

    @routes.post("/office/people/{id}/assign", may=OFFICE, status_code=204, summary="Let somebody see a site or a call")
    def assign(id: Id, sent: Grant, ledger: TheLedger, office: TheOffice, settings: TheSettings) -> Response:
        person = _there(office, id)
        _check_grant(sent, ledger)
        office.assign(person.id, site=sent.site, entry=sent.entry, now=settings.now())
        return Response(status_code=204)

    @routes.post("/office/people/{id}/unassign", may=OFFICE, status_code=204, summary="Take that back")
    def unassign(id: Id, sent: Grant, office: TheOffice) -> Response:
        office.unassign(_there(office, id).id, site=sent.site, entry=sent.entry)
        return Response(status_code=204)

    @routes.post("/office/devices/{id}/revoke", may=OFFICE, status_code=204, summary="A device is let in no longer")
    def revoke(id: Id, who: TheWho, office: TheOffice, settings: TheSettings) -> Response:
        _or_absent(lambda: office.revoke_device(id, now=settings.now()))
        _log.info("device %s revoked, by %s", id, who.id)
        return Response(status_code=204)

    @routes.post("/office/invitations/{id}/revoke", may=OFFICE, status_code=204, summary="A code works no longer")
    def take_back(id: Id, office: TheOffice, settings: TheSettings) -> Response:
        _or_absent(lambda: office.revoke_invitation(id, now=settings.now()))
        return Response(status_code=204)

    return routes


def _there(office: Office, id: str) -> Person:
    try:
        return office.person(id)
    except Refused:
        raise absent() from None


def _or_absent(act: Any) -> None:
    try:
        act()
    except Refused:
        raise absent() from None


def _check_grant(sent: Grant, ledger: Any) -> None:
    if sent.site is not None and not ledger.entries(sent.site, limit=1):
        raise Problem(422, where="site", rule="It is a site on record, by its id.", step="Enter the site first.")
    if sent.entry is not None:
        found = ledger.get(sent.entry)
        if found is None or found.kind != "report":
            raise Problem(422, where="entry", rule="It is the id of a report on record.", step="Enter it first.")


def _person(one: Person, devices: list[Device], invitations: list[Invitation], now: datetime) -> dict[str, Any]:
    return {
        "id": one.id,
        "name": one.name,
        "role": one.role,
        "laboratory": one.laboratory,
        "left_at": None if one.left_at is None else utc(one.left_at),
        "sites": sorted(one.sites),
        "calls": sorted(one.calls),
        "devices": [
            {
                "id": device.id,
                "name": device.name,
                "made_at": utc(device.made_at),
                "used_at": utc(device.used_at),
                "revoked_at": None if device.revoked_at is None else utc(device.revoked_at),
            }
            for device in devices
            if device.person == one.id
        ],
        "invitations": [
            {"id": made.id, "made_at": utc(made.made_at), "expires_at": utc(made.expires_at)}
            for made in invitations
            if made.person == one.id and made.open(now)
        ],
    }


def _invited(made: Invitation, settings: Settings) -> dict[str, Any]:
    return {"id": made.id, "expires_at": utc(made.expires_at), **way_in(made, settings)}
