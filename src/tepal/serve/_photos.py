"""Photos in, resumably; smaller copies out. Originals are never given out."""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Annotated

from fastapi import Header, Path, Query, Request
from fastapi.responses import FileResponse, Response
from sqlalchemy import ColumnElement, and_, func, or_, select
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect

from tepal.ledger import Ledger
from tepal.ledger._schema import entries as table
from tepal.serve._asking import TheLedger, TheSettings, TheWho
from tepal.serve._photo_store import WIDTHS, PhotoStore, offsets
from tepal.serve._problems import Problem, absent
from tepal.serve._roles import FIELD, Who
from tepal.serve._routes import Routes
from tepal.serve._settings import Settings
from tepal.serve._sight import sight
from tepal.tables import Refused

Digest = Annotated[str, Path(pattern="^[0-9a-f]{64}$", description="SHA-256 of the photo's bytes")]
PART_TYPE = "application/partial-upload"
_LARGEST = 2**40
_PART = {
    "requestBody": {
        "required": True,
        "content": {PART_TYPE: {"schema": {"type": "string", "format": "binary"}}},
    }
}


def photo_routes(settings: Settings) -> Routes:
    routes = Routes()

    @routes.head("/photos/{digest}", may=FIELD, response_class=Response, summary="How much of a photo is there")
    def how_much(digest: Digest, ledger: TheLedger, who: TheWho, settings: TheSettings) -> Response:
        store = _store(ledger, settings)
        told = store.original(digest) is None or _may_know(ledger, who, digest)
        state = store.state(digest, who.device, told=told)
        if state is None:
            raise absent()
        return Response(headers=offsets(state))

    @routes.patch(
        "/photos/{digest}",
        may=FIELD,
        status_code=204,
        response_class=Response,
        openapi_extra=_PART,
        max_body_size=settings.most_photo,
        responses={409: {"description": "Another offset than the store's"}, 413: {"description": "Too large"}},
        summary="Send a part of a photo",
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
        store = _store(ledger, settings)
        told = store.original(digest) is None or await run_in_threadpool(_may_know, ledger, who, digest)
        state = await store.append(
            digest, who.device, offset=upload_offset, last=upload_complete == "?1", body=_stream(request), told=told
        )
        return Response(status_code=204, headers=offsets(state))

    @routes.get("/photos/{digest}", may=FIELD, response_class=FileResponse, summary="A photo, made anew in small")
    def show(
        digest: Digest,
        ledger: TheLedger,
        who: TheWho,
        settings: TheSettings,
        w: Annotated[int, Query(ge=1, le=WIDTHS[-1])] = 800,
    ) -> Response:
        if not _may_see(ledger, who, digest):
            raise absent()
        path = _store(ledger, settings).copy(digest, w)
        if path is None:
            raise absent()
        return FileResponse(path, media_type="image/jpeg", headers={"cache-control": "private, max-age=3600"})

    return routes


def _store(ledger: Ledger, settings: Settings) -> PhotoStore:
    try:
        return PhotoStore(ledger.photos, most=settings.most_photo)
    except Refused as refusal:
        raise Problem(503, "This office keeps no photos here.", rule=refusal.rule) from None


async def _stream(request: Request) -> AsyncIterator[bytes]:
    try:
        async for block in request.stream():
            yield block
    except ClientDisconnect:
        # What has come stays; the device asks how much that was.
        raise Problem(400, "The line broke.") from None


def _may_see(ledger: Ledger, who: Who, digest: str) -> bool:
    """Whether an entry that this person may see shows the photo.

    One that they wrote themself does so only where no other named the photo before: to name it is not to have it.
    """
    if who.sees_all:
        return True
    seen = sight(ledger, who).condition
    with ledger.connected() as connection:
        first = connection.execute(select(func.min(table.c.seq)).where(_names(digest))).scalar()
        theirs = or_(table.c.by != who.name, table.c.seq == first)
        return connection.execute(select(table.c.seq).where(_names(digest), theirs, seen).limit(1)).first() is not None


def _may_know(ledger: Ledger, who: Who, digest: str) -> bool:
    """Whether this person may be told that the photo is there: they may see it, or nobody named it yet."""
    if _may_see(ledger, who, digest):
        return True
    with ledger.connected() as connection:
        return connection.execute(select(table.c.seq).where(_names(digest)).limit(1)).first() is None


def _names(digest: str) -> ColumnElement[bool]:
    return and_(table.c.kind.in_(("photo", "plant", "report")), table.c.body.contains(digest))
