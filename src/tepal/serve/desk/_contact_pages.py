"""Writing down, at the desk, who has to do with a site and whether it may be entered."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import Form
from fastapi.responses import RedirectResponse, Response

from tepal.ledger import Party, parties, record_party
from tepal.serve import Problem, Routes, TheSettings, TheWho
from tepal.serve._roles import OFFICE
from tepal.serve.desk._asked import Site, check_may_see
from tepal.serve.desk._desk import TheDesk
from tepal.serve.desk._frame import day_of
from tepal.serve.desk._links import Links

Role = Literal["owner", "farms", "sprays", "harvests", "decides", "pays", "may_be_told"]


def contact_routes() -> Routes:
    routes = Routes()

    @routes.post(
        "/sites/{id}/people",
        may=OFFICE,
        site="id",
        response_class=Response,
        status_code=303,
        summary="Write down who has to do with a site, and whether it may be entered",
    )
    def write_down(
        id: Site,
        desk: TheDesk,
        who: TheWho,
        settings: TheSettings,
        *,
        name: Annotated[str, Form(min_length=1, max_length=200)],
        role: Annotated[list[Role], Form(max_length=10)] = [],  # noqa: B006 - FastAPI copies it
        reach: Annotated[str, Form(max_length=500)] = "",
        consent: Annotated[Literal["yes", "no", ""], Form()] = "",
        consent_on: Annotated[str, Form(max_length=10)] = "",
    ) -> Response:
        check_may_see(desk, who, id)
        on = day_of(consent_on, "consent_on")
        if on is not None and on > settings.today():
            raise Problem(422, where="consent_on", rule="It is a day that has come.", step="Correct it.")
        if on is not None and not consent:
            raise Problem(422, where="consent", rule="The day is that of a yes or a no.", step="Say which it was.")
        known = {
            " ".join(one.body.name.split()).casefold()
            for one in parties(desk.ledger, id)
            if isinstance(one.body, Party)
        }
        if not role and " ".join(name.split()).casefold() not in known:
            raise Problem(422, where="role", rule="Who is new is something to the place.", step="Tick what they are.")
        record_party(
            desk.ledger,
            name,
            site=id,
            roles=role,
            contact=reach.strip() or None,
            consent={"yes": True, "no": False}.get(consent),
            consent_on=(on or settings.today()) if consent else None,
            by=who.name,
        )
        return RedirectResponse(Links().site(id), 303)

    return routes
