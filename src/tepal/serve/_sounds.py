"""Voice notes in, resumably, as photos come; and out again as they were spoken, to be played and never to be run."""

from __future__ import annotations

from fastapi.responses import FileResponse, Response

from tepal.ledger import Ledger
from tepal.ledger.formats._sounds import MAX_SOUND_BYTES, SOUND_EXTENSIONS, read_sound
from tepal.serve._asking import TheLedger, TheSettings, TheWho
from tepal.serve._original_store import Originals, Sort
from tepal.serve._originals import Digest, come_in, folder_of, may_see
from tepal.serve._problems import absent
from tepal.serve._roles import FIELD
from tepal.serve._routes import Routes
from tepal.serve._settings import Settings

_NAMED_BY = ("sound",)
_SORT = Sort("voice note", SOUND_EXTENSIONS, lambda raw, name: read_sound(raw, file=name), MAX_SOUND_BYTES)
_MEDIA_TYPES = {suffix: media for media, suffix in SOUND_EXTENSIONS.items()}
# Opened as a page of its own it is saved, not shown; were it ever read as a page, nothing in it could run.
_POLICY = "default-src 'none'; sandbox; frame-ancestors 'none'"


def sound_routes() -> Routes:
    routes = Routes()

    come_in(routes, "/sounds", _SORT.name, store=_store, named_by=_NAMED_BY, most=_SORT.most)

    @routes.get("/sounds/{digest}", may=FIELD, response_class=FileResponse, summary="A voice note")
    def play(digest: Digest, ledger: TheLedger, who: TheWho, settings: TheSettings) -> Response:
        path = _store(ledger, settings).original(digest) if may_see(ledger, who, digest, _NAMED_BY) else None
        if path is None:
            raise absent()
        return FileResponse(
            path,
            media_type=_MEDIA_TYPES[path.suffix],
            filename=path.name,
            content_disposition_type="attachment",
            headers={"cache-control": "private, max-age=3600", "content-security-policy": _POLICY},
        )

    return routes


def _store(ledger: Ledger, _settings: Settings) -> Originals:
    return Originals(folder_of(ledger), _SORT)
