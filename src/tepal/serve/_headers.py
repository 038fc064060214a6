"""What every answer carries to keep a browser from being used against the office; and no fault tells its inside."""

from __future__ import annotations

import asyncio
import logging

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from tepal.serve._problems import MEDIA_TYPE, Answer, Problem

PAGE_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; "
    "media-src 'self'; connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; "
    "frame-ancestors 'none'; base-uri 'none'"
)
# The phone also shows what its own camera took, and plays what its own microphone took.
PHONE_POLICY = PAGE_POLICY.replace("media-src 'self'", "media-src 'self' blob:")
_ALWAYS = {
    "content-security-policy": PAGE_POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "permissions-policy": "geolocation=(self), camera=(self), microphone=(self), payment=(), usb=()",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    # Infested sites and people are private: nothing is kept in between, unless an answer says that it may be.
    "cache-control": "no-store",
}
# A phone at the edge of the signal may be slow; a line on which nothing comes holds a place that others want.
IDLE_S = 60.0
_log = logging.getLogger("tepal.serve")


class Guard:
    """The outermost layer: names, headers, faults, lines on which nothing comes any more."""

    def __init__(self, app: ASGIApp, *, hosts: tuple[str, ...]) -> None:
        self._app, self._hosts = app, frozenset(hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        started, whole = False, False

        async def in_time() -> Message:
            nonlocal whole
            if whole:
                return await receive()  # all has come: what is waited for now is that the line ends
            try:
                message = await asyncio.wait_for(receive(), IDLE_S)
            except TimeoutError:
                raise Problem(408) from None
            whole = not message.get("more_body", False)
            return message

        async def with_headers(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                headers = MutableHeaders(scope=message)
                for name, value in _ALWAYS.items():
                    headers.setdefault(name, value)
                if scope["scheme"] == "https":
                    headers.setdefault("strict-transport-security", "max-age=31536000")
            await send(message)

        if _name(Headers(scope=scope).get("host", "")) not in self._hosts:
            await _answer(Problem(421))(scope, receive, with_headers)
            return
        try:
            await self._app(scope, in_time, with_headers)
        except ClientDisconnect:
            return  # a phone that lost its signal: nobody is there to be answered, and nothing of ours failed
        except Exception:
            # The log says what happened; the answer says only that it did.
            _log.exception("%s %s failed", scope["method"], scope["path"])
            if started:
                raise
            await _answer(Problem(500))(scope, receive, with_headers)


def _answer(problem: Problem) -> Answer:
    return Answer(problem.plain(), problem.status_code, media_type=MEDIA_TYPE)


def _name(host: str) -> str:
    if host.startswith("["):
        return host[1:].partition("]")[0]
    return host.partition(":")[0].lower()
