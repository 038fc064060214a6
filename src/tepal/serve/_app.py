"""The web application, put together."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib import import_module
from importlib.util import find_spec
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.openapi.utils import get_openapi
from fastapi.responses import Response
from starlette.exceptions import HTTPException

from tepal import __version__
from tepal.ledger import Ledger
from tepal.serve._entries import entry_routes
from tepal.serve._headers import Guard
from tepal.serve._join import join_routes
from tepal.serve._letters import letter_routes
from tepal.serve._limits import Limits
from tepal.serve._office import Office
from tepal.serve._people import people_routes
from tepal.serve._phone import phone_routes
from tepal.serve._photos import photo_routes
from tepal.serve._problems import SCHEMA, Answer, on_http, on_refusal, on_validation
from tepal.serve._proxied import Proxied
from tepal.serve._roles import EVERYBODY
from tepal.serve._routes import Routes, check_rules
from tepal.serve._samples import sample_routes
from tepal.serve._settings import Settings
from tepal.serve._sounds import sound_routes
from tepal.serve._static import static_routes
from tepal.serve._tell import straight
from tepal.serve._today import today_routes
from tepal.tables import Refused


def app(ledger: Ledger, settings: Settings | None = None) -> FastAPI:
    """The web application over a ledger, which stays the caller's to close.

    `app.state` holds `ledger`, `office`, `settings`, `limits`; `tell`, which tells a phone of one site; `opening` and
    `closing`, what is called when the server starts and stops; and `problem_page(request, problem)`, where there is a
    desk.

    Raises
    ------
    RuntimeError
        If a route has no rule who may call it.
    """
    settings = settings or Settings()
    made = FastAPI(
        title="Tepal",
        version=__version__,
        openapi_url=None,
        docs_url=None,
        redoc_url=None,
        lifespan=_lifespan,
        max_body_size=settings.most_body,
    )
    state = made.state
    state.ledger, state.office, state.settings, state.limits = ledger, Office(ledger), settings, Limits()
    state.tell, state.opening, state.closing, state.problem_page = (
        straight(ledger, settings.law),
        [],
        [state.office.close],
        None,
    )
    made.add_exception_handler(HTTPException, on_http)
    made.add_exception_handler(RequestValidationError, on_validation)
    made.add_exception_handler(Refused, on_refusal)
    rooms = (
        join_routes(),
        entry_routes(),
        photo_routes(settings),
        sound_routes(),
        today_routes(),
        letter_routes(),
        sample_routes(),
        people_routes(),
        static_routes(),
        phone_routes(),
        _document(),
    )
    for room in rooms:
        made.include_router(room.router)
    desk = getattr(import_module("tepal.serve.desk"), "routes", None) if find_spec("tepal.serve.desk") else None
    if desk is not None:
        made.include_router(desk(made).router)
    check_rules(made)
    made.openapi = lambda: _openapi(made)  # type: ignore[method-assign]
    made.add_middleware(Guard, hosts=settings.hosts)
    made.add_middleware(Proxied, proxies=settings.proxies)
    return made


@asynccontextmanager
async def _lifespan(made: FastAPI) -> AsyncIterator[None]:
    for start in made.state.opening:
        start()
    try:
        yield
    finally:
        for close in made.state.closing:
            close()


def _document() -> Routes:
    routes = Routes()

    @routes.get("/openapi.json", may=EVERYBODY, summary="This document")
    def openapi(request: Request) -> Response:
        return Answer(request.app.openapi())

    return routes


def _openapi(made: FastAPI) -> dict[str, Any]:
    if made.openapi_schema is None:
        found = get_openapi(title=made.title, version=made.version, routes=made.routes)
        found.setdefault("components", {}).setdefault("schemas", {})["Problem"] = SCHEMA
        made.openapi_schema = found
    return made.openapi_schema
