"""How often and how much: a device or an address that asks too much waits; a body that is too large stops coming in."""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable
from threading import Lock

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from tepal.serve._problems import Problem

_MOST_KEYS = 10_000


class Often:
    """So many at once, and so many a second in the long run, for each key (a token bucket)."""

    def __init__(self, burst: float, per_second: float, *, clock: Callable[[], float] = time.monotonic) -> None:
        self._burst, self._rate, self._clock = burst, per_second, clock
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._lock = Lock()

    def take(self, key: str) -> None:
        """Count one.

        Raises
        ------
        Problem
            429 with Retry-After, where there is none left.
        """
        with self._lock:
            now = self._clock()
            left, since = self._left.pop(key, (self._burst, now))
            left = min(self._burst, left + (now - since) * self._rate)
            enough = left >= 1
            self._left[key] = (left - 1 if enough else left, now)
            # The keys asked longest ago go first: by then they are full again.
            while len(self._left) > _MOST_KEYS:
                self._left.popitem(last=False)
        if not enough:
            wait = max(1, round((1 - left) / self._rate))
            raise Problem(429, headers={"Retry-After": str(wait)})


class Limits:
    """The buckets of one server. They are kept in memory: an office runs one server."""

    def __init__(self) -> None:
        self.device = Often(1200, 20)
        self.joining = Often(10, 1 / 60)
        self.unknown = Often(60, 1)


class BodySize:
    """Counts what comes in and stops at the limit, whatever Content-Length said."""

    def __init__(self, app: ASGIApp, *, most: int, most_of: dict[str, int]) -> None:
        self._app, self._most, self._most_of = app, most, most_of

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        most = next((size for start, size in self._most_of.items() if scope["path"].startswith(start)), self._most)
        told = dict(scope["headers"]).get(b"content-length", b"0")
        too_large = Problem(413, rule=f"At most {most:,} bytes a request.", headers={"Connection": "close"})
        come = 0

        async def counted() -> Message:
            nonlocal come
            if told.isdigit() and int(told) > most:
                raise too_large
            message = await receive()
            come += len(message.get("body", b""))
            if come > most:
                raise too_large
            return message

        await self._app(scope, counted, send)
