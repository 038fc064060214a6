"""The pages of calls: the list, one call in three steps, a new one written down."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal, cast

from fastapi import Form, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from tepal.ledger import Plant, entry, event_date, file_report
from tepal.serve import Routes, TheSettings, TheWho, Who, absent
from tepal.serve._own import add_as, own_ids
from tepal.serve._roles import FIELD, OFFICE
from tepal.serve._wording import words_of
from tepal.serve.desk._asked import Id, On, may_know, stamp, state_of
from tepal.serve.desk._call import call_view, calls_view, looks_of
from tepal.serve.desk._calls import Call
from tepal.serve.desk._desk import Desk, TheDesk
from tepal.serve.desk._frame import day_of, frame, page, the_day
from tepal.serve.desk._links import Links

Looks = Annotated[list[Annotated[str, Query(max_length=120)]], Query(max_length=40)]


def call_routes() -> Routes:
    routes = Routes()

    @routes.get("/calls", may=FIELD, response_class=HTMLResponse, summary="Calls that wait for an answer")
    def calls(request: Request, desk: TheDesk, who: TheWho, settings: TheSettings, on: On = None) -> Response:
        words, as_of = words_of(request, settings), the_day(on, settings)
        known = [call for call in desk.calls.all(as_of) if may_know(who, call)]
        view = calls_view(known, desk.names(), as_of=as_of, words=words, links=Links(on))
        around = frame(request, settings, who, words, on=on, dated=True)
        return page("calls.html.j2", words, around, title=words.t("Calls"), v=view, may_enter=who.sees_all)

    @routes.get("/calls/new", may=OFFICE, response_class=HTMLResponse, summary="Write down a call")
    def new(request: Request, desk: TheDesk, who: TheWho, settings: TheSettings) -> Response:
        words = words_of(request, settings)
        around = frame(request, settings, who, words)
        sites = sorted(desk.names().items(), key=lambda pair: pair[1].casefold())
        return page("call_new.html.j2", words, around, title=words.t("A new call"), sites=sites, today=settings.today())

    @routes.post("/calls", may=OFFICE, response_class=Response, status_code=303, summary="Write down a call")
    def write_down(
        desk: TheDesk,
        who: TheWho,
        settings: TheSettings,
        *,
        how: Annotated[Literal["call", "text", "visit", "letter"], Form()],
        words: Annotated[str, Form(min_length=1, max_length=4000)],
        caller: Annotated[str, Form(max_length=200)] = "",
        place: Annotated[str, Form(max_length=500)] = "",
        site: Annotated[str, Form(max_length=200)] = "",
        answer_by: Annotated[str, Form(max_length=10)] = "",
    ) -> Response:
        promised = day_of(answer_by, "answer_by")
        filed = file_report(
            desk.ledger,
            how=how,
            words=words,
            who=caller.strip() or None,
            place=place.strip() or None,
            site=site or None,
            on=min(settings.today(), date.today()),
            answer_by=promised,
            by=who.name,
        )
        return RedirectResponse(Links().call(filed.report.id), 303)

    @routes.get("/calls/{id}", may=FIELD, response_class=HTMLResponse, summary="A call on its way to an answer")
    def call(
        id: Id,
        request: Request,
        desk: TheDesk,
        who: TheWho,
        *,
        settings: TheSettings,
        step: Annotated[int | None, Query(ge=1, le=3)] = None,
        stage: Annotated[str | None, Query(max_length=40)] = None,
        look: Looks = [],  # noqa: B006 - FastAPI copies it
        on: On = None,
    ) -> Response:
        as_of = the_day(on, settings)
        found = _there(desk, who, id, as_of)
        words = words_of(request, settings)
        shown = desk.readings.of(found.site, as_of)
        standing = desk.ledger.standing(found.site, as_of)
        # Who was handed the call and not the site is told what was said and what they found themselves, no more.
        theirs = who.at(found.site)
        looked_at = [one for one in standing.of("plant") if event_date(one).year == as_of.year]
        mine = own_ids(desk.ledger, who, [one.id for one in looked_at])
        plants = [cast(Plant, one.body) for one in looked_at if theirs or one.id in mine]
        view = call_view(
            found,
            step=step,
            stage=stage,
            looks=look,
            plants=plants,
            name=desk.names().get(found.site, found.site),
            page=desk.readings.page(shown) if theirs else None,
            anew=theirs and not shown.holds,
            region=shown.told.get("region"),
            prior=desk.prior(found.site, as_of) if theirs else None,
            who=who,
            flora=desk.readings.flora,
            words=words,
            links=Links(on),
            as_of=as_of,
        )
        around = frame(request, settings, who, words, on=on)
        watch = state_of(found.site, None) if view.step == 3 and view.anew and on is None and who.at(found.site) else ""
        return page("call.html.j2", words, around, title=view.title, v=view, watch=watch, made=stamp([shown]))

    @routes.post("/calls/{id}/plant", may=FIELD, response_class=Response, status_code=303, summary="Keep a plant")
    def keep(
        id: Id,
        desk: TheDesk,
        who: TheWho,
        settings: TheSettings,
        *,
        stage: Annotated[str, Form(max_length=40)],
        look: Annotated[list[str], Form(max_length=40)],
    ) -> Response:
        found = _there(desk, who, id, settings.today())
        looks = looks_of(look, desk.readings.flora)
        body = {
            "stage": stage,
            "looks": looks,
            "photos": list(found.report.photos),
            "seen_by": "photo",
            "on": found.on.isoformat(),
        }
        _add(desk, "plant", {key: value for key, value in body.items() if value}, who=who, site=found.site)
        return RedirectResponse(Links().call(id, step="3"), 303)

    @routes.post("/calls/{id}/answer", may=OFFICE, response_class=Response, status_code=303, summary="Keep an answer")
    def answer(
        id: Id,
        desk: TheDesk,
        who: TheWho,
        settings: TheSettings,
        *,
        text: Annotated[str, Form(min_length=1, max_length=4000)],
    ) -> Response:
        found = _there(desk, who, id, settings.today())
        shown = desk.readings.of(found.site, settings.today())
        body = {
            "to": found.report.who,
            "reader": "caller",
            "signed_by": who.name,
            "text": text.replace("\r\n", "\n").strip(),
            "as_of": settings.today().isoformat(),
            "known_to": None if shown.brief is None else shown.brief.told["known_to"],
            "tables": None if shown.brief is None else shown.brief.key.tables,
            "version": None if shown.brief is None else shown.brief.key.version,
        }
        _add(desk, "letter", {key: value for key, value in body.items() if value is not None}, who=who, site=found.site)
        return RedirectResponse(Links().calls(), 303)

    return routes


def _there(desk: Desk, who: Who, id: str, as_of: date) -> Call:
    found = desk.calls.get(id, as_of)
    if found is None or not may_know(who, found):
        raise absent()
    return found


def _add(desk: Desk, kind: str, body: dict[str, object], *, who: Who, site: str) -> None:
    add_as(desk.ledger, who, entry(kind, body, by=who.name, site=site, made_at=desk.settings.here(), where="page"))
