"""Who asks, and may they: from the token in the request to `Who`, or a problem."""

from __future__ import annotations

import hmac
from collections.abc import Awaitable, Callable
from typing import Annotated
from urllib.parse import urlsplit

from fastapi import Depends, Request, Response
from starlette.concurrency import run_in_threadpool

from tepal.ledger import Ledger
from tepal.serve._limits import Limits
from tepal.serve._office import Office
from tepal.serve._problems import Problem, absent
from tepal.serve._proxied import counted_as
from tepal.serve._roles import EVERYBODY, May, Who
from tepal.serve._settings import Settings

COOKIE = "__Host-tepal"
_SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
_COOKIE_LASTS = 400 * 24 * 3600


def _ledger(request: Request) -> Ledger:
    found: Ledger = request.app.state.ledger
    return found


def _office(request: Request) -> Office:
    found: Office = request.app.state.office
    return found


def _settings(request: Request) -> Settings:
    found: Settings = request.app.state.settings
    return found


def _limits(request: Request) -> Limits:
    found: Limits = request.app.state.limits
    return found


async def asking(request: Request) -> Who | None:
    """Who asks; None for nobody known. Looked up once a request."""
    if not hasattr(request.state, "who"):
        request.state.who = await _look_up(request)
    found: Who | None = request.state.who
    return found


async def known(request: Request) -> Who:
    """Who asks.

    Raises
    ------
    Problem
        401 where it is nobody known.
    """
    who = await asking(request)
    if who is None:
        raise Problem(401, headers={"WWW-Authenticate": 'Bearer realm="tepal"'})
    return who


TheLedger = Annotated[Ledger, Depends(_ledger)]
TheOffice = Annotated[Office, Depends(_office)]
TheSettings = Annotated[Settings, Depends(_settings)]
TheLimits = Annotated[Limits, Depends(_limits)]
TheWho = Annotated[Who, Depends(known)]


def allowed(may: May) -> Callable[[Request], Awaitable[None]]:
    """The check that stands before a route."""

    async def check(request: Request) -> None:
        if may is EVERYBODY:
            return
        who = await known(request)
        _limits(request).device.take(who.device)
        if who.by_cookie and request.method not in _SAFE:
            await _from_our_own_page(request, who)
        if who.role not in may:  # type: ignore[operator]  # the other kind of rule went above
            raise absent()

    return check


def set_cookie(response: Response, token: str) -> None:
    """Let a browser hold the token where no script can read it."""
    response.set_cookie(COOKIE, token, max_age=_COOKIE_LASTS, path="/", secure=True, httponly=True, samesite="strict")


def drop_cookie(response: Response) -> None:
    response.delete_cookie(COOKIE, path="/", secure=True, httponly=True, samesite="strict")


def address_of(request: Request) -> str:
    """The address that asks, for counting alone."""
    return counted_as(request.client.host) if request.client else "?"


async def _look_up(request: Request) -> Who | None:
    kind, _, token = request.headers.get("authorization", "").partition(" ")
    by_cookie = kind.lower() != "bearer"
    token = request.cookies.get(COOKIE, "") if by_cookie else token.strip()
    if not token:
        return None
    now = _settings(request).now()
    who = await run_in_threadpool(_office(request).who, token, now=now, by_cookie=by_cookie)
    if who is None:
        # Guessing 256 bits is hopeless; asking without end is still not free.
        _limits(request).unknown.take(address_of(request))
    return who


async def _from_our_own_page(request: Request, who: Who) -> None:
    """A change that comes with a cookie comes from our own page: its origin says so, and it knows a thing of ours."""
    origin = request.headers.get("origin")
    if origin is not None and origin != "null":
        ours = urlsplit(origin).netloc == request.headers.get("host", "")
    else:
        ours = request.headers.get("sec-fetch-site") == "same-origin"
    if ours and request.headers.get("tepal-request") == "1":
        return
    if ours and request.headers.get("content-type", "").startswith(
        ("application/x-www-form-urlencoded", "multipart/form-data")
    ):
        sent = (await request.form()).get("form_token")
        if isinstance(sent, str) and hmac.compare_digest(sent.encode(), who.form_token.encode()):
            return
    raise Problem(403)
