"""What the routes of photos and of voice notes have in common: parts that come in, and who may know of which."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from pathlib import Path as Folder
from typing import Annotated, Any

from fastapi import Header, Path, Request
from fastapi.responses import Response
from sqlalchemy import ColumnElement, and_, func, not_, or_, select
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect

from tepal.ledger import Ledger
from tepal.ledger._schema import entries as table
from tepal.serve._asking import TheLedger, TheSettings, TheWho
from tepal.serve._original_store import Originals, offsets
from tepal.serve._own import handed_in_by
from tepal.serve._problems import Problem, absent
from tepal.serve._roles import FIELD, Who
from tepal.serve._routes import Routes
from tepal.serve._settings import Settings
from tepal.serve._sight import sight
from tepal.tables import Refused

Digest = Annotated[str, Path(pattern="^[0-9a-f]{64}$", description="SHA-256 of the bytes")]
_LARGEST = 2**40
PART_TYPE = "application/partial-upload"
_PART: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {PART_TYPE: {"schema": {"type": "string", "format": "binary"}}},
    }
}


def folder_of(ledger: Ledger) -> Folder:
    """Where the originals lie.

    Raises
    ------
    Problem
        If the office keeps none.
    """
    try:
        return ledger.photos
    except Refused as refusal:
        raise Problem(503, "This office keeps no photos and voice notes here.", rule=refusal.rule) from None


def come_in(
    routes: Routes,
    place: str,
    what: str,
    *,
    store: Callable[[Ledger, Settings], Originals],
    named_by: tuple[str, ...],
    most: int,
) -> None:
    """The two routes by which an original comes in: how much of it is there, and a part of it.

    `named_by` are the kinds of entries that name it, `most` its largest size in bytes.
    """

    @routes.head(f"{place}/{{digest}}", may=FIELD, response_class=Response, summary=f"How much of a {what} is there")
    def how_much(digest: Digest, ledger: TheLedger, who: TheWho, settings: TheSettings) -> Response:
        there = store(ledger, settings)
        told = there.original(digest) is None or _may_know(ledger, who, digest, named_by)
        state = there.state(digest, who.device, told=told)
        if state is None:
            raise absent()
        return Response(headers=offsets(state))

    @routes.patch(
        f"{place}/{{digest}}",
        may=FIELD,
        status_code=204,
        response_class=Response,
        openapi_extra=_PART,
        max_body_size=most,
        responses={409: {"description": "Another offset than the store's"}, 413: {"description": "Too large"}},
        summary=f"Send a part of a {what}",
    )
    async def send(
        digest: Digest,
        request: Request,
        *,
        ledger: TheLedger,
        who: TheWho,
        settings: TheSettings,
        upload_offset: Annotated[int, Header(ge=0, le=_LARGEST)],
        upload_complete: Annotated[str, Header(pattern=r"^\?[01]$")] = "?0",
    ) -> Response:
        if request.headers.get("content-type", "").partition(";")[0].strip().lower() != PART_TYPE:
            raise Problem(415, rule=f"It is {PART_TYPE}.")
        there = store(ledger, settings)
        told = there.original(digest) is None or await run_in_threadpool(_may_know, ledger, who, digest, named_by)
        state = await there.append(
            digest, who.device, offset=upload_offset, last=upload_complete == "?1", body=_stream(request), told=told
        )
        return Response(status_code=204, headers=offsets(state))


async def _stream(request: Request) -> AsyncIterator[bytes]:
    try:
        async for block in request.stream():
            yield block
    except ClientDisconnect:
        # What has come stays; the device asks how much that was.
        raise Problem(400, "The line broke.") from None


def may_see(ledger: Ledger, who: Who, digest: str, kinds: tuple[str, ...]) -> bool:
    """Whether an entry of these kinds that this person may see names the original.

    One that they wrote themself does so only where no other named it before: to name it is not to have it.
    """
    if who.sees_all:
        return True
    seen = sight(ledger, who).condition
    with ledger.connected() as connection:
        first = connection.execute(select(func.min(table.c.seq)).where(_names(digest, kinds))).scalar()
        theirs = or_(not_(handed_in_by(who.id)), table.c.seq == first)
        query = select(table.c.seq).where(_names(digest, kinds), theirs, seen)
        return connection.execute(query.limit(1)).first() is not None


def _may_know(ledger: Ledger, who: Who, digest: str, kinds: tuple[str, ...]) -> bool:
    """Whether this person may be told that it is there: they may see it, or nobody named it yet."""
    if may_see(ledger, who, digest, kinds):
        return True
    with ledger.connected() as connection:
        return connection.execute(select(table.c.seq).where(_names(digest, kinds)).limit(1)).first() is None


def _names(digest: str, kinds: tuple[str, ...]) -> ColumnElement[bool]:
    return and_(table.c.kind.in_(kinds), table.c.body.contains(digest))
