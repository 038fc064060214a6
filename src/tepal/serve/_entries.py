"""Entries in and out."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Annotated, Any

from fastapi import Query, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from tepal.ledger import KINDS
from tepal.serve._asking import TheLedger, TheSettings, TheWho
from tepal.serve._problems import Answer, Problem
from tepal.serve._roles import ROLES
from tepal.serve._routes import Routes
from tepal.serve._sight import mark_of, sight
from tepal.serve._taking import MOST_ENTRIES, take_in

_MOST, _USUAL = 1000, 500
_LAST_PLACE = 2**53
_ENTRY = {
    "type": "object",
    "required": ["id", "kind", "made_at", "body"],
    "properties": {
        "id": {"type": "string", "format": "uuid"},
        "kind": {"enum": list(KINDS)},
        "site": {"type": ["string", "null"], "maxLength": 200},
        "made_at": {"type": "string", "format": "date-time"},
        "amends": {"type": ["string", "null"], "format": "uuid"},
        "body": {"type": "object"},
    },
}
_SENT = {
    "required": True,
    "content": {
        "application/json": {
            "schema": {
                "type": "object",
                "required": ["entries"],
                "properties": {
                    "device_time": {"type": ["string", "null"], "format": "date-time"},
                    "entries": {"type": "array", "maxItems": MOST_ENTRIES, "items": _ENTRY},
                },
            }
        }
    },
}


def entry_routes() -> Routes:
    routes = Routes()

    @routes.post(
        "/entries",
        may=("coordinator", "scout", "laboratory"),
        summary="Hand in entries; each is answered",
        openapi_extra={"requestBody": _SENT},
    )
    async def hand_in(request: Request, ledger: TheLedger, who: TheWho, settings: TheSettings) -> Response:
        sent = await json_object(request)
        now = settings.now()
        entries = sent.get("entries")
        if not isinstance(entries, list) or len(entries) > MOST_ENTRIES:
            raise Problem(
                422,
                where="entries",
                rule=f"It is a list of at most {MOST_ENTRIES} entries.",
                step="Send them in several requests.",
            )
        skew = _skew(sent.get("device_time"), now)
        answers = await run_in_threadpool(take_in, ledger, who, entries, now=now)
        return Answer({"server_time": utc(now), "skew_s": skew, "answers": answers})

    @routes.get("/entries", may=ROLES, summary="What you may see, in order of arrival")
    def hand_out(
        ledger: TheLedger,
        who: TheWho,
        *,
        after: Annotated[int, Query(ge=0, le=_LAST_PLACE)] = 0,
        limit: Annotated[int, Query(ge=1, le=_MOST)] = _USUAL,
        view: Annotated[str | None, Query(max_length=64)] = None,
        mark: Annotated[str | None, Query(max_length=64)] = None,
    ) -> Response:
        seen = sight(ledger, who)
        # The record was restored from a backup: its places end earlier, or were given to other entries since.
        restored = after > ledger.last_seq or (mark is not None and mark != mark_of(ledger, after))
        reset = restored or (view is not None and view != seen.view)
        found, following, more = seen.entries(ledger, after=0 if reset else after, limit=limit)
        return Answer(
            {
                "entries": [seen.plain(entry) for entry in found],
                "next": following,
                "more": more,
                "view": seen.view,
                "mark": mark_of(ledger, following),
                "reset": reset,
                "restored": restored,
            }
        )

    return routes


async def json_object(request: Request) -> dict[str, Any]:
    """The body as a JSON object.

    Raises
    ------
    Problem
        If it is none.
    """
    if request.headers.get("content-type", "").partition(";")[0].strip().lower() != "application/json":
        raise Problem(415, rule="It is application/json.")
    try:
        found = json.loads(await request.body(), parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise Problem(400, rule="It is one JSON object, in UTF-8.") from None
    if not isinstance(found, dict):
        raise Problem(422, rule="It is one JSON object.")
    return found


def utc(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _skew(device_time: object, now: datetime) -> float | None:
    if device_time is None:
        return None
    try:
        moment = datetime.fromisoformat(device_time) if isinstance(device_time, str) else None
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise Problem(
            422, where="device_time", rule="It is written 2026-06-18T14:02:11-05:00.", step="Send the device's clock."
        )
    return round((moment - now).total_seconds(), 1)


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no JSON")
