"""Photos in, resumably; smaller copies out. Originals are never given out."""

from __future__ import annotations

from typing import Annotated

from fastapi import Query, Request
from fastapi.responses import FileResponse, Response
from starlette.concurrency import run_in_threadpool

from tepal.ledger import Ledger
from tepal.serve._asking import TheLedger, TheSettings, TheWho
from tepal.serve._original_store import offsets
from tepal.serve._originals import PART, REFUSALS, Complete, Digest, Offset, folder_of, may_know, may_see, take_part
from tepal.serve._photo_store import WIDTHS, PhotoStore
from tepal.serve._problems import absent
from tepal.serve._roles import FIELD
from tepal.serve._routes import Routes
from tepal.serve._settings import Settings

_NAMED_BY = ("photo", "plant", "report")


def photo_routes(settings: Settings) -> Routes:
    routes = Routes()

    @routes.head("/photos/{digest}", may=FIELD, response_class=Response, summary="How much of a photo is there")
    def how_much(digest: Digest, ledger: TheLedger, who: TheWho, settings: TheSettings) -> Response:
        store = _store(ledger, settings)
        told = store.original(digest) is None or may_know(ledger, who, digest, _NAMED_BY)
        state = store.state(digest, who.device, told=told)
        if state is None:
            raise absent()
        return Response(headers=offsets(state))

    @routes.patch(
        "/photos/{digest}",
        may=FIELD,
        status_code=204,
        response_class=Response,
        openapi_extra=PART,
        max_body_size=settings.most_photo,
        responses=REFUSALS,
        summary="Send a part of a photo",
    )
    async def send(
        digest: Digest,
        request: Request,
        *,
        ledger: TheLedger,
        who: TheWho,
        settings: TheSettings,
        upload_offset: Offset,
        upload_complete: Complete = "?0",
    ) -> Response:
        store = _store(ledger, settings)
        told = store.original(digest) is None or await run_in_threadpool(may_know, ledger, who, digest, _NAMED_BY)
        state = await take_part(store, request, who, digest, offset=upload_offset, complete=upload_complete, told=told)
        return Response(status_code=204, headers=offsets(state))

    @routes.get("/photos/{digest}", may=FIELD, response_class=FileResponse, summary="A photo, made anew in small")
    def show(
        digest: Digest,
        ledger: TheLedger,
        who: TheWho,
        settings: TheSettings,
        w: Annotated[int, Query(ge=1, le=WIDTHS[-1])] = 800,
    ) -> Response:
        if not may_see(ledger, who, digest, _NAMED_BY):
            raise absent()
        path = _store(ledger, settings).copy(digest, w)
        if path is None:
            raise absent()
        return FileResponse(path, media_type="image/jpeg", headers={"cache-control": "private, max-age=3600"})

    return routes


def _store(ledger: Ledger, settings: Settings) -> PhotoStore:
    return PhotoStore(folder_of(ledger), most=settings.most_photo)
