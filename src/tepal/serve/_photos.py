"""Photos in, resumably; smaller copies out. Originals are never given out."""

from __future__ import annotations

from typing import Annotated

from fastapi import Query
from fastapi.responses import FileResponse, Response

from tepal.ledger import Ledger
from tepal.serve._asking import TheLedger, TheSettings, TheWho
from tepal.serve._originals import Digest, come_in, folder_of, may_see
from tepal.serve._photo_store import WIDTHS, PhotoStore
from tepal.serve._problems import absent
from tepal.serve._roles import FIELD
from tepal.serve._routes import Routes
from tepal.serve._settings import Settings

_NAMED_BY = ("photo", "plant", "report")


def photo_routes(settings: Settings) -> Routes:
    routes = Routes()
    come_in(routes, "/photos", "photo", store=_store, named_by=_NAMED_BY, most=settings.most_photo)

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

    @routes.get("/photos/{digest}/leaf", may=FIELD, response_class=FileResponse, summary="A leaf, measured and drawn")
    def leaf(digest: Digest, ledger: TheLedger, who: TheWho, settings: TheSettings) -> Response:
        if not may_see(ledger, who, digest, _NAMED_BY):
            raise absent()
        path = _store(ledger, settings).leaf(digest)
        if path is None:
            raise absent()
        return FileResponse(path, media_type="image/jpeg", headers={"cache-control": "private, max-age=3600"})

    return routes


def _store(ledger: Ledger, settings: Settings) -> PhotoStore:
    return PhotoStore(folder_of(ledger), most=settings.most_photo)
