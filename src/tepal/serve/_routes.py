"""Routes that each say who may call them: one without a rule cannot be made."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Any, TypeVar

from fastapi import APIRouter, Depends, FastAPI
from fastapi.routing import APIRoute

from tepal.serve._asking import allowed
from tepal.serve._problems import MEDIA_TYPE
from tepal.serve._roles import EVERYBODY, ROLES, May

F = TypeVar("F", bound=Callable[..., Any])
RULE, SITE = "x-may", "x-site"
_PROBLEM = {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}


class Routes:
    """Some routes, to be put into the application. `may` names the roles, or is EVERYBODY.

    `site` names the parameter of the path that holds a site's id, where one does: what is not the asker's own is
    absent, and the matrix of the tests asks for both. The route checks it with `who.at(site)`.
    """

    def __init__(self) -> None:
        self.router = APIRouter()

    def get(self, path: str, *, may: May, site: str | None = None, **more: Any) -> Callable[[F], F]:
        return self._route(["GET"], path, may, site, more)

    def head(self, path: str, *, may: May, site: str | None = None, **more: Any) -> Callable[[F], F]:
        return self._route(["HEAD"], path, may, site, more)

    def post(self, path: str, *, may: May, site: str | None = None, **more: Any) -> Callable[[F], F]:
        return self._route(["POST"], path, may, site, more)

    def patch(self, path: str, *, may: May, site: str | None = None, **more: Any) -> Callable[[F], F]:
        return self._route(["PATCH"], path, may, site, more)

    def delete(self, path: str, *, may: May, site: str | None = None, **more: Any) -> Callable[[F], F]:
        return self._route(["DELETE"], path, may, site, more)

    def _route(
        self, methods: list[str], path: str, may: May, site: str | None, more: dict[str, Any]
    ) -> Callable[[F], F]:
        check_rule(may, path)
        extra = {RULE: ["everybody"] if may is EVERYBODY else sorted(_roles(may))}
        if site is not None:
            extra[SITE] = [site]
        elsewhere = more.pop("openapi_extra", {})
        answers = {429: "Asked too often"} if may is EVERYBODY else {401: "Nobody known", 429: "Asked too often"}
        answers |= {404: "Not there, or not for you", 422: "Breaks a rule"}
        responses: dict[int | str, dict[str, Any]] = {
            code: {"description": text, "content": _PROBLEM} for code, text in answers.items()
        }
        responses |= more.pop("responses", {})

        def add(endpoint: F) -> F:
            self.router.add_api_route(
                path,
                endpoint,
                methods=methods,
                dependencies=[Depends(allowed(may))],
                openapi_extra={**extra, **elsewhere},
                responses=responses,
                **more,
            )
            return endpoint

        return add


def check_rule(may: object, path: str) -> None:
    """Every route names at least one role that there is, or EVERYBODY."""
    if may is EVERYBODY:
        return
    if not isinstance(may, Iterable) or not may or set(may) - set(ROLES):
        raise ValueError(f"{path}: who may call it? Roles are {', '.join(ROLES)}; or EVERYBODY.")


def check_rules(app: FastAPI) -> None:
    """Refuse an application that has a route without a rule, however it came in."""
    for route in _leaves(app.routes):
        if not isinstance(route, APIRoute) or RULE not in (route.openapi_extra or {}):
            raise RuntimeError(f"{getattr(route, 'path', route)}: a route without a rule who may call it")


def _leaves(routes: Iterable[object]) -> Iterator[object]:
    for route in routes:
        # A router that was put in stands in the list as one thing.
        inside = getattr(route, "original_router", None)
        if inside is None:
            yield route
        else:
            yield from _leaves(inside.routes)


def _roles(may: May) -> tuple[str, ...]:
    return may if isinstance(may, tuple) else ()
