"""`tepal serve`: the record over HTTP, for phones and browsers."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from tepal.cli import _out

if TYPE_CHECKING:
    import socket

_HERE = frozenset({"127.0.0.1", "localhost", "::1"})
_WAITING = 2048  # connections that may wait while others are answered, as uvicorn itself would have it


def serve(
    *,
    ledger: str,
    host: str = "127.0.0.1",
    port: int = 8321,
    photos: Path | None = None,
    public_url: str | None = None,
    behind_proxy: Annotated[bool, Parameter(negative=())] = False,
    office: str = "",
    zone: str | None = None,
    units: Literal["us", "metric"] = "us",
    language: Literal["en", "es"] = "en",
    law: Path | None = None,
    quiet: Annotated[bool, Parameter(negative=())] = False,
) -> int:
    """Serve the record to phones and browsers until you stop it (Ctrl-C). `tepal invite` lets the first person in.

    Phones need https: a general-purpose proxy that holds a certificate stands before it. The docs have an example.

    Parameters
    ----------
    ledger: str
        The ledger: a file, or postgresql://…; made if it is not there.
    host: str
        The address to listen on. One that others can reach is refused without --behind-proxy.
    port: int
        The port to listen on.
    photos: Path
        Folder for the originals of photos; beside the ledger if not given. PostgreSQL needs one.
    public_url: str
        The address under which phones reach it, as https://weeds.example.org; it stands in invitations.
    behind_proxy: bool
        A proxy that speaks TLS stands before it, and nobody reaches this port but through it.
    office: str
        The office's name, as invitations show it.
    zone: str
        The office's time zone, as America/Chicago; the machine's if not given.
    units: str
        us or metric.
    language: str
        en or es.
    law: Path
        The office's own table of state law (CSV): its rows stand in place of ours.
    quiet: bool
        Do not write a line for every request.
    """
    from zoneinfo import ZoneInfo

    from tepal.tables import Refused

    if host not in _HERE and not behind_proxy:
        raise Refused(
            f"--host {host}",
            where="command line",
            rule="What others can reach is reached through TLS: tokens and people's data would go open otherwise.",
            step="Listen on 127.0.0.1 behind a proxy, or add --behind-proxy if nobody reaches this port without one.",
        )
    if zone is not None:
        try:
            ZoneInfo(zone)
        except (ValueError, OSError, KeyError):
            raise Refused(
                f"--zone {zone!r}", where="command line", rule="A zone is named as America/Chicago.", step="Correct it."
            ) from None
    names = _names(host, public_url)
    import logging

    import uvicorn

    from tepal.ledger import Ledger
    from tepal.serve import Settings, app

    logging.basicConfig(level=logging.WARNING, format="%(asctime)s %(levelname)s %(name)s: %(message)s")
    logging.getLogger("tepal").setLevel(logging.INFO)
    settings = Settings(
        office=office,
        public_url=public_url,
        hosts=names,
        proxies=_proxies(public_url, behind_proxy=behind_proxy),
        units=units,
        language=language,
        zone=zone,
        law=law,
    )
    with _listening(host, port) as door, Ledger.open(ledger, create=True, photos=photos) as book:
        made = app(book, settings)
        if not made.state.office.people():
            _out.warn(f"Nobody is in the office's book yet: tepal invite NAME --ledger {_shown(ledger)}")
        shown = f"[{host}]" if ":" in host else host
        _out.warn(f"The record is at http://{shown}:{door.getsockname()[1]}/ (Ctrl-C stops it).")
        config = uvicorn.Config(
            made,
            log_level="warning",
            access_log=not quiet,
            server_header=False,
            proxy_headers=False,  # for whom a proxy asks is the application's own to judge
            timeout_keep_alive=30,
            timeout_graceful_shutdown=20,
            h11_max_incomplete_event_size=64_000,
        )
        uvicorn.Server(config).run(sockets=[door])
    return _out.DONE


def _listening(host: str, port: int) -> socket.socket:
    """The address, taken before anything is made: one that cannot be taken is a refusal, no fault of the server."""
    import socket

    from tepal.tables import Refused

    try:
        return socket.create_server(
            (host, port), family=socket.AF_INET6 if ":" in host else socket.AF_INET, backlog=_WAITING
        )
    except (OSError, OverflowError, UnicodeError) as problem:
        raise Refused(
            f"http://{host}:{port}/ cannot be taken: {getattr(problem, 'strerror', None) or problem}",
            where="command line",
            rule="An address of this machine is needed, and a port from 0 to 65535 that nothing else uses.",
            step="Give another --port, or stop what uses it.",
        ) from None


def _proxies(public_url: str | None, *, behind_proxy: bool) -> tuple[str, ...]:
    """Who is believed for whom they ask: a proxy that the office told of. Without one, nobody."""
    if behind_proxy:
        return ("*",)
    return ("127.0.0.1", "::1") if public_url is not None and public_url.startswith("https://") else ()


def _names(host: str, public_url: str | None) -> tuple[str, ...]:
    """The names under which the server answers."""
    from urllib.parse import urlsplit

    from tepal.tables import Refused

    names = {*_HERE, host}
    if public_url is not None:
        found = urlsplit(public_url)
        here = found.hostname in _HERE
        if found.hostname is None or not (found.scheme == "https" or (found.scheme == "http" and here)):
            raise Refused(
                f"--public-url {public_url!r}",
                where="command line",
                rule="Phones take the camera, the place and the cookie over https alone.",
                step="Write it as https://weeds.example.org.",
            )
        names.add(found.hostname)
    return tuple(sorted(names))


def _shown(ledger: str) -> str:
    import shlex

    # An address may hold a password.
    return "postgresql://…" if "://" in ledger else shlex.quote(ledger)
