"""From an invitation to a device, and what a device is told of itself."""

from __future__ import annotations

import logging
from typing import Annotated, Any, Literal

from fastapi import Request
from fastapi.responses import HTMLResponse, Response
from pydantic import BaseModel, ConfigDict, Field
from starlette.concurrency import run_in_threadpool

from tepal.serve._asking import (
    TheLedger,
    TheLimits,
    TheOffice,
    TheSettings,
    TheWho,
    address_of,
    drop_cookie,
    set_cookie,
)
from tepal.serve._join_page import join_page
from tepal.serve._problems import Answer, of_refusal
from tepal.serve._roles import EVERYBODY, ROLES, Who
from tepal.serve._routes import Routes
from tepal.serve._sight import sight
from tepal.serve._wording import words_of_a_stranger
from tepal.tables import Refused

_log = logging.getLogger("tepal.serve")


class Joining(BaseModel):
    """A code, and how the device is called. `hold`: where the token is kept; a browser keeps it as a cookie."""

    model_config = ConfigDict(extra="forbid")
    code: Annotated[str, Field(min_length=1, max_length=200)]
    device: Annotated[str, Field(min_length=1, max_length=200)]
    hold: Literal["cookie", "token"] = "cookie"


def join_routes() -> Routes:
    routes = Routes()

    @routes.get("/join", may=EVERYBODY, response_class=HTMLResponse, summary="The page behind an invitation")
    def page(request: Request, settings: TheSettings) -> Response:
        return HTMLResponse(join_page(settings, words_of_a_stranger(request, settings)))

    @routes.post("/join", may=EVERYBODY, status_code=201, summary="An invitation becomes a device")
    async def join(
        sent: Joining,
        request: Request,
        *,
        ledger: TheLedger,
        office: TheOffice,
        settings: TheSettings,
        limits: TheLimits,
    ) -> Response:
        address = address_of(request)
        limits.joining.take(address)
        try:
            token, who = await run_in_threadpool(office.join, sent.code, sent.device, now=settings.now())
        except Refused as refusal:
            _log.warning("an invitation did not work, from %s", address)
            raise of_refusal(refusal) from None
        # Only what fails is counted: on a training day a whole crew joins from one address.
        limits.joining.give_back(address)
        _log.info("device %s joined for person %s", who.device, who.id)
        told = _me(who, await run_in_threadpool(sight, ledger, who))
        if sent.hold == "token":
            return Answer(told | {"token": token}, 201)
        answer = Answer(told, 201)
        set_cookie(answer, token)
        return answer

    @routes.get("/me", may=ROLES, summary="Who you are here")
    def me(ledger: TheLedger, who: TheWho) -> Response:
        return Answer(_me(who, sight(ledger, who)))

    @routes.post("/leave", may=ROLES, status_code=204, summary="This device is let in no longer")
    def leave(who: TheWho, office: TheOffice, settings: TheSettings) -> Response:
        office.revoke_device(who.device, now=settings.now())
        answer = Response(status_code=204)
        drop_cookie(answer)
        return answer

    return routes


def _me(who: Who, seen: Any) -> dict[str, Any]:
    return {
        "person": {"id": who.id, "name": who.name, "role": who.role},
        "device": {"id": who.device, "name": who.device_name},
        "view": seen.view,
    }
