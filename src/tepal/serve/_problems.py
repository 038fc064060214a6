"""One shape for everything that goes wrong: RFC 9457, with the sentence a person reads as its title."""

from __future__ import annotations

import json
import logging
from collections.abc import Mapping
from typing import Any

from fastapi import HTTPException, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException as PlainHTTPException

from tepal.ledger import NotWritten
from tepal.tables import Refused

_log = logging.getLogger("tepal.serve")
MEDIA_TYPE = "application/problem+json"
_TITLES = {
    400: "The request could not be understood.",
    401: "This device is not known here.",
    403: "This request did not come from our own page.",
    404: "There is nothing here for you.",
    405: "This address does not answer such a request.",
    408: "Nothing more came.",
    409: "It stands otherwise by now.",
    413: "That is too large.",
    415: "That is not of a kind that is taken here.",
    421: "This server does not go by that name.",
    422: "Something in it breaks a rule.",
    429: "That was too often.",
    500: "A fault of ours. Nothing was half-written.",
    503: "The record cannot be reached just now.",
    507: "There is no room left.",
}
_STEPS = {
    401: "Open an invitation of the office on it.",
    404: "Check the address; the office says who sees what.",
    408: "Send it again; what came of a photo is kept.",
    413: "Send less at once; the docs say how much.",
    429: "Wait, then try again.",
    500: "Try again; tell the office if it stays.",
    503: "Keep what you have; try again, and tell the office if it stays.",
}
_TYPES = "about:blank"
SCHEMA: dict[str, Any] = {
    "type": "object",
    "required": ["type", "title", "status"],
    "properties": {
        "type": {"type": "string"},
        "title": {"type": "string", "description": "the sentence a person reads"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "where": {"type": "string", "description": "the place in what was sent"},
        "rule": {"type": "string", "description": "what would have been taken"},
        "step": {"type": "string", "description": "what to do next"},
    },
}


class Answer(JSONResponse):
    """JSON in plain ASCII: whatever signs a person sent, half a letter of Unicode among them, can be said back."""

    def render(self, content: Any) -> bytes:
        return json.dumps(content, ensure_ascii=True, allow_nan=False, separators=(",", ":")).encode("ascii")


class Problem(HTTPException):
    """Something that went wrong, with its status and what to do about it."""

    def __init__(
        self,
        status: int,
        title: str | None = None,
        *,
        detail: str | None = None,
        where: str | None = None,
        rule: str | None = None,
        step: str | None = None,
        headers: Mapping[str, str] | None = None,
    ) -> None:
        self.title = title or _TITLES.get(status, "That did not work.")
        self.said = {"detail": detail, "where": where, "rule": rule, "step": step or _STEPS.get(status)}
        super().__init__(status, self.title, None if headers is None else dict(headers))

    def plain(self) -> dict[str, Any]:
        """As JSON values; what is not known is not there."""
        out: dict[str, Any] = {"type": _TYPES, "title": self.title, "status": self.status_code}
        return out | {key: value for key, value in self.said.items() if value is not None}


def absent() -> Problem:
    """What a role may not see does not exist for it: the same answer as for what is not there."""
    return Problem(404)


def of_refusal(refusal: Refused, *, status: int = 422) -> Problem:
    """A refusal of the house as a problem."""
    return Problem(
        status, _sentence(refusal.what), where=str(refusal.where), rule=refusal.rule, step=refusal.step
    )  # fmt: skip


def of_validation(error: RequestValidationError) -> Problem:
    """What FastAPI found in a request, told of the first thing; the values themselves are not repeated."""
    found = error.errors()
    first = found[0] if found else {"loc": (), "msg": ""}
    where = ".".join(str(part) for part in first["loc"])
    return Problem(422, where=where or None, rule=str(first["msg"]).rstrip(".") + ".", step="Correct it.")


def respond(request: Request, problem: Problem) -> Response:
    """The problem as an answer: a page where a browser asks for one and the desk has one, else JSON."""
    page = getattr(request.app.state, "problem_page", None)
    if page is not None and "text/html" in request.headers.get("accept", ""):
        made: Response = page(request, problem)
        made.headers.update(problem.headers or {})
        return made
    return Answer(problem.plain(), problem.status_code, dict(problem.headers or {}), MEDIA_TYPE)


async def on_http(request: Request, error: Exception) -> Response:
    assert isinstance(error, PlainHTTPException)
    problem = error if isinstance(error, Problem) else Problem(error.status_code, headers=error.headers)
    return respond(request, problem)


async def on_refusal(request: Request, error: Exception) -> Response:
    assert isinstance(error, Refused)
    if isinstance(error, NotWritten):
        # Which disk and why is for the log; who asked keeps what they have and tries again.
        _log.error("the store could not be written: %s", error)
        return respond(request, Problem(503, headers={"Retry-After": "30"}))
    return respond(request, of_refusal(error))


async def on_validation(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    return respond(request, of_validation(error))


def _sentence(text: str) -> str:
    text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "?", "!")) else f"{text}."
