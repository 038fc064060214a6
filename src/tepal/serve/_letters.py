"""Letters for those they were written to: a list, and each as text to be read, sent on or printed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any, cast

from fastapi import Path, Request
from fastapi.responses import HTMLResponse, PlainTextResponse, Response

from tepal.ledger import Entry, Ledger, Letter, standing
from tepal.ledger._rows import entry_of, of_kinds
from tepal.serve._asking import TheLedger, TheSettings, TheWho
from tepal.serve._plain_page import plain_page, wants_page
from tepal.serve._problems import Answer, absent
from tepal.serve._roles import Role, Who
from tepal.serve._routes import Routes
from tepal.serve._settings import Settings
from tepal.serve._wording import words_of
from tepal.words import Words

_MAY: tuple[Role, ...] = ("coordinator", "scout", "grower")


def letter_routes() -> Routes:
    routes = Routes()

    @routes.get("/letters", may=_MAY, summary="Letters of your sites, the newest first")
    def letters(request: Request, ledger: TheLedger, who: TheWho, settings: TheSettings) -> Response:
        names = {site.id: site.name for site in ledger.sites()}
        found = [_plain(entry, names) for entry in reversed(_standing(ledger, who))]
        if wants_page(request):
            return HTMLResponse(_page(found, who, settings, words_of(request, settings)))
        return Answer({"letters": found})

    @routes.get(
        "/letters/{id}",
        may=_MAY,
        response_class=PlainTextResponse,
        summary="One letter as text, as it was told",
    )
    def letter(
        id: Annotated[str, Path(max_length=36)],
        request: Request,
        ledger: TheLedger,
        who: TheWho,
        settings: TheSettings,
    ) -> Response:
        found = next((entry for entry in _standing(ledger, who) if entry.id == id), None)
        if found is None:
            raise absent()
        told = _plain(found, {site.id: site.name for site in ledger.sites()})
        words = words_of(request, settings)
        lines = [settings.office, told["name"], _head(told, words), "", told["text"] or "", "", told["signed_by"] or ""]
        return PlainTextResponse("\n".join(line for line in lines if line is not None).strip() + "\n")

    return routes


def _standing(ledger: Ledger, who: Who) -> list[Entry]:
    """The letters that stand, of what this person may see, in order of arrival."""
    with ledger.connected() as connection:
        log = [entry_of(row) for row in connection.execute(of_kinds(("letter",)))]
    return [entry for entry in standing(log).of("letter") if who.at(entry.site)]


def _plain(entry: Entry, names: Mapping[str, str]) -> dict[str, Any]:
    body = cast(Letter, entry.body)
    return {
        "id": entry.id,
        "site": entry.site,
        "name": names.get(entry.site or "", ""),
        "as_of": None if body.as_of is None else body.as_of.isoformat(),
        "made_at": entry.made_at.isoformat(),
        "to": body.to,
        "reader": body.reader,
        "signed_by": body.signed_by,
        "text": body.text,
    }


def _head(told: dict[str, Any], words: Words) -> str:
    day = words.day(date.fromisoformat(told["as_of"] or told["made_at"][:10]), year=True)
    return words.t("As of {day}, to {to}", day=day, to=told["to"]) if told["to"] else words.t("As of {day}", day=day)


def _page(found: list[dict[str, Any]], who: Who, settings: Settings, words: Words) -> str:
    letters = [
        {"id": one["id"], "name": one["name"], "head": _head(one, words), "text": one["text"], "by": one["signed_by"]}
        for one in found
    ]
    return plain_page(
        "letters.html.j2",
        settings,
        words,
        who=who,
        here="/letters",
        title=words.t("Letters about your fields"),
        letters=letters,
        empty=words.t("There is no letter yet."),
        alone=words.t("This letter alone, as text"),
        print=words.t("Print them with your browser; each letter starts on its own page."),
    )
