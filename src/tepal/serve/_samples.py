"""Samples for the laboratory they were sent to: by their label, with nothing of the place or of a person."""

from __future__ import annotations

from functools import lru_cache
from typing import Annotated, Any, Literal, cast

from fastapi import Form, Path, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from pydantic import BaseModel, ConfigDict, Field

from tepal.flora import load
from tepal.ledger import Entry, Sample, body_plain, new_id
from tepal.serve._asking import TheLedger, TheSettings, TheWho
from tepal.serve._plain_page import plain_page, wants_page
from tepal.serve._problems import Answer, Problem, absent
from tepal.serve._roles import Role, Who
from tepal.serve._routes import Routes
from tepal.serve._settings import Settings
from tepal.serve._sight import OF_A_SAMPLE, samples_of
from tepal.serve._taking import take_in
from tepal.serve._wording import words_of
from tepal.words import Words

_MAY: tuple[Role, ...] = ("laboratory",)


class Found(BaseModel):
    """What a laboratory's form says; beside these, ``group_9`` and so on: how plants answer to a site of action."""

    model_config = ConfigDict(extra="allow")
    step: Literal["received", "result"]
    taxon: Annotated[str, Field(max_length=40)] = ""
    sure: Annotated[str, Field(max_length=10, description="how sure, of 100")] = ""

    def body(self) -> dict[str, Any]:
        """As the body of a sample entry.

        Raises
        ------
        Problem
            If `sure` is no number.
        """
        body: dict[str, Any] = {"step": self.step}
        if self.step == "received":
            return body
        if self.taxon:
            body["taxon"] = self.taxon
        if self.sure:
            try:
                body["sure"] = float(self.sure) / 100
            except ValueError:
                raise Problem(422, where="sure", rule="It is a number from 0 to 100.", step="Correct it.") from None
        said = {key.removeprefix("group_"): value for key, value in (self.model_extra or {}).items() if value}
        groups = {group: said[group] for group in _groups() if group in said}
        return body | ({"resistant": groups} if groups else {})


def sample_routes() -> Routes:
    routes = Routes()

    @routes.get("/samples", may=_MAY, summary="Samples that were sent to you, by their label")
    def samples(request: Request, ledger: TheLedger, who: TheWho, settings: TheSettings) -> Response:
        found = samples_of(ledger, who.laboratory).standing
        if wants_page(request):
            return HTMLResponse(_page(found, who, settings, words_of(request, settings)))
        return Answer({"samples": [_plain(label, entry) for label, entry in found.items()]})

    @routes.post("/samples/{label}", may=_MAY, status_code=303, summary="A form: it came, or what was found")
    def tell(
        label: Annotated[str, Path(max_length=36)],
        sent: Annotated[Found, Form()],
        ledger: TheLedger,
        who: TheWho,
        settings: TheSettings,
    ) -> Response:
        if label not in samples_of(ledger, who.laboratory).standing:
            raise absent()
        now = settings.here()
        entry = {"id": new_id(), "kind": "sample", "made_at": now.isoformat(), "amends": label, "body": sent.body()}
        problem = take_in(ledger, who, [entry], now=now)[0]["problem"]
        if problem is not None:
            raise Problem(422, problem["title"], rule=problem.get("rule"), step=problem.get("step"))
        return RedirectResponse("/samples", 303)

    return routes


def _plain(label: str, entry: Entry) -> dict[str, Any]:
    """A sample as a laboratory is shown it."""
    body = {key: value for key, value in body_plain(entry.body).items() if key in OF_A_SAMPLE}
    return {"label": label, "sign": sign(label), "made_at": entry.made_at.date().isoformat(), "body": body}


def sign(label: str) -> str:
    """What the phone has people write on the bag: the last eight signs, which are random, in two groups."""
    end = label.replace("-", "")[-8:].upper()
    return f"{end[:4]} {end[4:]}"


@lru_cache(maxsize=1)
def _groups() -> tuple[str, ...]:
    """Sites of action of which anything is known for these plants."""
    return tuple(str(group) for group in sorted({group for row in load().resistance for group in row.groups}))


def _page(found: dict[str, Entry], who: Who, settings: Settings, words: Words) -> str:
    flora = load()
    what = {
        "leaf": words.t("a leaf"),
        "seed": words.t("seed"),
        "voucher": words.t("a voucher"),
        "plant": words.t("a plant"),
    }
    asked = {"species": words.t("Which plant is it?"), "resistance": words.t("What does it resist?")}
    steps = {
        "made": words.t("It was taken."),
        "sent": words.t("It is on its way."),
        "received": words.t("You have it."),
        "result": words.t("You told what was found."),
    }
    samples = []
    for label, entry in found.items():
        body = cast(Sample, entry.body)
        thing = what.get(body.what or "", words.t("a sample"))
        said = [thing[:1].upper() + thing[1:] + ".", asked.get(body.test or "", ""), steps[body.step]]
        samples.append(
            {"label": label, "sign": sign(label), "step": body.step, "said": " ".join(one for one in said if one)}
        )
    return plain_page(
        "samples.html.j2",
        settings,
        words,
        who=who,
        here="/samples",
        title=words.t("Samples sent to {laboratory}", laboratory=who.laboratory),
        samples=samples,
        taxa=[(code, words.t(taxon.english_name)) for code, taxon in flora.taxa.items() if taxon.pigweed],
        groups=_groups(),
        says={
            "none": words.t("No sample was sent to you."),
            "came": words.t("It came"),
            "result": words.t("Tell what was found"),
            "taxon": words.t("Which plant it is"),
            "not_told": words.t("not told"),
            "sure": words.t("How sure, of 100"),
            "groups": words.t("Resistance, by WSSA/HRAC group"),
            "group": words.t("Group"),
            "not_tested": words.t("not tested"),
            "resistant": words.t("resistant"),
            "susceptible": words.t("susceptible"),
            "mixed": words.t("mixed"),
            "send": words.t("Send the result"),
        },
    )
