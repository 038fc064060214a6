"""Photos in, resumably; smaller copies out. Originals are never given out."""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Annotated

from fastapi import Header, Path, Query, Request
from fastapi.responses import FileResponse, Response
from sqlalchemy import select
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
        state = _store(ledger, settings).state(digest, who.device)
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
        state = await _store(ledger, settings).append(
            digest, who.device, offset=upload_offset, last=upload_complete == "?1", body=_stream(request)
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
    """Whether an entry that this person may see names the photo."""
    if who.sees_all:
        return True
    seen = sight(ledger, who).condition
    for kinds in (("photo",), ("plant", "report")):
        query = select(table.c.seq).where(table.c.kind.in_(kinds), table.c.body.contains(digest), seen).limit(1)
        with ledger.connected() as connection:
            if connection.execute(query).first() is not None:
                return True
    return False
