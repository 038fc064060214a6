"""For whom a proxy asks: believed of a proxy that the office named, of nobody else."""

from __future__ import annotations

import ipaddress

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

ANYWHERE = "*"
# Whoever has one address of IPv6 has the whole of its network.
_OWN_BITS = 64


class Proxied:
    """Puts the address and the scheme that a proxy tells in place of its own.

    `proxies` are the addresses that are believed; "*" believes whoever reaches the port. Of several addresses in
    X-Forwarded-For the last one counts: it is what the proxy saw itself, those before it are what it was told.
    """

    def __init__(self, app: ASGIApp, *, proxies: tuple[str, ...]) -> None:
        self._app, self._all, self._proxies = app, ANYWHERE in proxies, frozenset(proxies)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and self._believes(scope):
            headers = Headers(scope=scope)
            scheme = _last(headers.getlist("x-forwarded-proto")).lower()
            told = _last(headers.getlist("x-forwarded-for"))
            scope = {**scope, "scheme": scheme if scheme in {"http", "https"} else scope["scheme"]}
            if _is_address(told):
                scope["client"] = (told, 0)
        await self._app(scope, receive, send)

    def _believes(self, scope: Scope) -> bool:
        client = scope.get("client")
        return self._all or (client is not None and client[0] in self._proxies)


def counted_as(address: str) -> str:
    """Under what an address is counted, so that who has many is one."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv4Address):
        return str(found)
    if found.ipv4_mapped is not None:
        return str(found.ipv4_mapped)
    return str(ipaddress.ip_network((int(found), _OWN_BITS), strict=False))


def _last(values: list[str]) -> str:
    return values[-1].rpartition(",")[2].strip() if values else ""


def _is_address(text: str) -> bool:
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True
