"""The app for the field, as files: it is built beside, and given out from here."""

from __future__ import annotations

from pathlib import Path

from fastapi import Response
from fastapi.responses import PlainTextResponse, RedirectResponse

from tepal.serve._headers import PHONE_POLICY
from tepal.serve._problems import absent
from tepal.serve._roles import EVERYBODY
from tepal.serve._routes import Routes
from tepal.serve._static import given, inside

FOLDER = Path(__file__).parent / "static" / "phone"
_HEADERS = {
    "content-security-policy": PHONE_POLICY,
    "service-worker-allowed": "/phone/",
    # Asked again each time, answered by 304 where nothing is new: the phone keeps its own copy for the field.
    "cache-control": "no-cache",
}


def phone_routes(folder: Path = FOLDER) -> Routes:
    routes = Routes()

    @routes.get("/phone", may=EVERYBODY, include_in_schema=False)
    def to_phone() -> Response:
        return RedirectResponse("/phone/", 308)

    @routes.get("/phone/{name:path}", may=EVERYBODY, response_class=Response, summary="The app for the field")
    def phone(name: str) -> Response:
        if not (folder / "index.html").is_file():
            return PlainTextResponse("The app for the field is not built on this machine.\n", 404)
        path = inside(folder, name or "index.html")
        if path is None:
            raise absent()
        return given(path, **_HEADERS)

    return routes
