"""The pages of the county, of sites and of plants; letters as they are asked for."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import Query, Request
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.concurrency import run_in_threadpool

from tepal.ledger import Plant, Sample, history, site_log
from tepal.serve import ROLES, Routes, TheSettings, TheWho, absent
from tepal.serve._own import own_ids
from tepal.serve._permission import permission_of
from tepal.serve._roles import FIELD
from tepal.serve._sight import sight
from tepal.serve._wording import words_of
from tepal.serve.desk._asked import Id, On, Site, check_may_see, may_know, stamp, state_of
from tepal.serve.desk._call import call_name
from tepal.serve.desk._county import CountyView, age_words, county_view
from tepal.serve.desk._desk import TheDesk, law_text
from tepal.serve.desk._frame import frame, page, the_day
from tepal.serve.desk._links import Links
from tepal.serve.desk._papers import FORMS, Asked, file_name, paper, policy_of
from tepal.serve.desk._plant import plant_view
from tepal.serve.desk._reckoner import Wanted
from tepal.serve.desk._site import Beside, site_view
from tepal.serve.desk._why import why_view

Reader = Literal["tenant", "owner", "applicator", "harvester", "crew"]
Form = Literal["pdf", "html", "txt"]
# Whose first page is not the county.
_ELSEWHERE = {"grower": "/letters", "laboratory": "/samples"}


def county_routes() -> Routes:
    routes = Routes()

    @routes.get("/", may=ROLES, response_class=HTMLResponse, summary="The first page")
    def first(request: Request, desk: TheDesk, who: TheWho, settings: TheSettings, on: On = None) -> Response:
        words = words_of(request, settings)
        if who.role in _ELSEWHERE:
            return RedirectResponse(_ELSEWHERE[who.role], 303)
        as_of, links = the_day(on, settings), Links(on)
        shown = desk.readings.all(as_of, None if who.sees_all else who.sites)
        calls = [call for call in desk.calls.all(as_of) if may_know(who, call)]

        def made() -> CountyView:
            unnamed = any(one.brief is None for one in shown)
            return county_view(
                shown,
                calls,
                as_of=as_of,
                words=words,
                links=links,
                names=desk.names() if unnamed else {},
                office=settings.office,
            )

        mine = "all" if who.sees_all else (who.sites, who.calls)
        anew = sum(1 for one in shown if not one.holds)
        refused = sum(1 for one in shown if one.refused is not None)
        view = desk.once((mine, as_of, on, words, stamp(shown), anew, len(shown), refused, desk.calls.position), made)
        around = frame(request, settings, who, words, on=on, dated=True)
        watch = f"/desk/state{'' if on is None else f'?on={on.isoformat()}'}"
        return page(
            "county.html.j2",
            words,
            around,
            title=view.name,
            v=view,
            watch=watch if view.anew else "",
            made=stamp(shown),
        )

    @routes.get("/desk/state", may=FIELD, summary="Whether newer readings are there than a page shows")
    def state(
        request: Request,
        desk: TheDesk,
        who: TheWho,
        *,
        settings: TheSettings,
        on: On = None,
        site: Annotated[str | None, Query(max_length=200)] = None,
    ) -> Response:
        as_of = the_day(on, settings)
        if site is not None:
            if not who.at(site) or not desk.readings.known(site):
                raise absent()
            shown = [desk.readings.of(site, as_of)]
        else:
            shown = desk.readings.all(as_of, None if who.sees_all else who.sites)
        anew = sum(1 for one in shown if not one.holds)
        said = age_words(anew, len(shown), words_of(request, settings))
        return JSONResponse({"made": stamp(shown), "busy": anew > 0, "said": said})

    return routes


def site_routes() -> Routes:
    routes = Routes()

    @routes.get("/sites/{id}", may=FIELD, site="id", response_class=HTMLResponse, summary="The page of a site")
    def site(
        id: Site, request: Request, desk: TheDesk, who: TheWho, *, settings: TheSettings, on: On = None
    ) -> Response:
        check_may_see(desk, who, id)
        words, as_of, links = words_of(request, settings), the_day(on, settings), Links(on)
        shown = desk.readings.of(id, as_of)
        whole = desk.readings.page(shown)
        log = site_log(desk.ledger, id)
        told = [one for one in history(log) if one.on is None or one.on <= as_of]
        parties = [one.entry for one in told if one.counts and one.entry.kind == "party"]
        calls = [call for call in desk.calls.all(as_of) if call.site == id and call.answered is None]
        beside = Beside(
            name=desk.names().get(id, id),
            told=[one for one in told if one.entry.site == id or who.sees_all],
            mine=own_ids(desk.ledger, who, [one.entry.id for one in told]),
            permission=permission_of(parties, as_of),
            parties=parties,
            calls=[(links.call(call.entry.id), call_name(call, words)) for call in calls if may_know(who, call)],
            has_aerial=who.sees_all and desk.aerials.of(id) is not None,
        )
        view = site_view(shown, whole, beside, who=who, words=words, links=links, now=settings.here())
        around = frame(request, settings, who, words, on=on, dated=True)
        watch = "" if shown.holds else state_of(id, on)
        return page("site.html.j2", words, around, title=view.name, v=view, watch=watch, made=stamp([shown]))

    @routes.get("/sites/{id}/why", may=FIELD, site="id", response_class=HTMLResponse, summary="On what a figure stands")
    def why(
        id: Site,
        request: Request,
        desk: TheDesk,
        who: TheWho,
        *,
        settings: TheSettings,
        of: Annotated[str, Query(max_length=400, description="a JSON pointer into the reading")] = "",
        on: On = None,
    ) -> Response:
        check_may_see(desk, who, id)
        words, as_of = words_of(request, settings), the_day(on, settings)
        whole = desk.readings.page(desk.readings.of(id, as_of))
        if whole is None:
            # Without a reading there is no figure yet; the site's page says what is being done about that.
            return RedirectResponse(Links(on).site(id), 303)
        entries = site_log(desk.ledger, id)
        mine = own_ids(desk.ledger, who, [one.id for one in entries])
        view = why_view(
            id, whole, of, entries, mine=mine, who=who, flora=desk.readings.flora, words=words, links=Links(on)
        )
        around = frame(request, settings, who, words, on=on)
        return page("why.html.j2", words, around, title=words.t("On what this stands"), v=view)

    @routes.get(
        "/sites/{id}/letter.{form}",
        may=FIELD,
        site="id",
        response_class=Response,
        summary="The letter about a site, or the card for a crew",
    )
    async def letter(
        id: Site,
        form: Form,
        request: Request,
        desk: TheDesk,
        who: TheWho,
        *,
        settings: TheSettings,
        reader: Annotated[Reader, Query(alias="for")] = "tenant",
        on: On = None,
    ) -> Response:
        await run_in_threadpool(check_may_see, desk, who, id)
        words, as_of = words_of(request, settings), the_day(on, settings)
        wanted = Wanted(id, as_of, desk.readings.position(id, as_of))
        asked = Asked(reader, form, words.language, words.units, settings.office)
        made = await desk.readings.run(paper, desk.ledger.where, law_text(settings.law), wanted, asked)
        headers = {"content-disposition": f'inline; filename="{file_name(id, as_of, asked)}"'}
        if form == "html":
            headers["content-security-policy"] = policy_of(made)
        return Response(made, media_type=FORMS[form], headers=headers)

    return routes


def plant_routes() -> Routes:
    routes = Routes()

    @routes.get("/plants/{entry}", may=FIELD, response_class=HTMLResponse, summary="The page of a plant")
    def plant(
        entry: Id, request: Request, desk: TheDesk, who: TheWho, *, settings: TheSettings, on: On = None
    ) -> Response:
        found = sight(desk.ledger, who).get(desk.ledger, entry)
        if found is None or not isinstance(found.body, Plant):
            raise absent()
        words, as_of = words_of(request, settings), the_day(on, settings)
        region, proved = None, ""
        if found.site is not None:
            shown = desk.readings.of(found.site, as_of)
            region = shown.told.get("region")
            standing = desk.ledger.standing(found.site, as_of)
            results = [
                one.body for one in standing.of("sample") if isinstance(one.body, Sample) and one.body.of == entry
            ]
            proved = next((one.taxon for one in reversed(results) if one.taxon), "")
        view = plant_view(
            found,
            site_name=desk.names().get(found.site or "", words.t("no site")),
            region=region,
            flora=desk.readings.flora,
            words=words,
            links=Links(on),
            proved=proved,
        )
        around = frame(request, settings, who, words, on=on)
        return page("plant.html.j2", words, around, title=view.title, v=view)

    return routes
