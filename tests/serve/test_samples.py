"""A laboratory sees samples by their label, and what it found stands in the record as an amendment of theirs."""

from __future__ import annotations

import json
import re
from typing import Any

from _served import MADE, OTHER, OWN, World
from tepal.ledger import Sample, new_id

NAMES = ("Creek Bottom", "North Eighty", OWN, OTHER, "Farmer", "Cora", "from ")


def result(label: str, **body: Any) -> dict[str, Any]:
    return {"id": new_id(), "kind": "sample", "made_at": MADE, "amends": label, "body": {"step": "result", **body}}


def test_a_laboratory_is_told_no_place_and_no_name(world: World) -> None:
    listed = world.get("Lena", "/samples").json()
    assert [one["label"] for one in listed["samples"]] == [world.made["own sample"]]
    sign = listed["samples"][0]["sign"]
    assert re.fullmatch(r"[0-9A-F]{4} [0-9A-F]{4}", sign)
    assert world.made["own sample"].upper().endswith(sign.replace(" ", ""))
    entries = world.get("Lena", "/entries").json()
    assert [one["id"] for one in entries["entries"]] == [world.made["own sample"]]
    assert not {"by", "site", "words"} & {key for one in entries["entries"] for key in (*one, *one["body"])}
    page = world.get("Lena", "/samples", headers={"accept": "text/html"}).text
    for text in (json.dumps(listed), json.dumps(entries), page):
        assert [name for name in NAMES if name in text] == []
        assert world.made["own sample"] in text


def test_a_result_is_an_amendment_at_the_site_with_all_that_was_known(either: World) -> None:
    label = either.made["own sample"]
    came = {"id": new_id(), "kind": "sample", "made_at": MADE, "amends": label, "body": {"step": "received"}}
    found = result(label, taxon="AMAPA", sure=0.99, resistant={"9": "resistant", "14": "susceptible"})
    assert [a["outcome"] for a in either.hand_in("Lena", came)] == ["added"]
    assert [a["outcome"] for a in either.hand_in("Lena", found)] == ["added"]
    # The same once more, after other things have come: it is the same entry.
    assert [a["outcome"] for a in either.hand_in("Lena", came, found)] == ["already", "already"]
    standing = either.ledger.standing(OWN)
    samples = standing.of("sample")
    assert len(samples) == 1
    assert standing.disputed == ()
    entry, body = samples[0], samples[0].body
    assert isinstance(body, Sample)
    assert (entry.by, entry.site, standing.root[entry.id]) == ("Lena", OWN, label)
    assert (body.what, body.laboratory, body.test, body.taxon, body.sure) == (
        "leaf",
        "Plant Lab",
        "species",
        "AMAPA",
        0.99,
    )
    assert body.resistant == {"9": "resistant", "14": "susceptible"}
    shown = either.get("Lena", "/samples").json()["samples"]
    assert [(one["label"], one["body"]["step"]) for one in shown] == [(label, "result")]
    assert [name for name in NAMES if name in json.dumps(either.seen("Lena"))] == []


def test_a_laboratory_says_nothing_else(world: World) -> None:
    label, other = world.made["own sample"], world.made["other sample"]
    wrong = [
        result(other, taxon="AMAPA"),
        result(new_id(), taxon="AMAPA"),
        result(label, taxon="AMAPA") | {"body": {"step": "sent"}},
        result(label) | {"kind": "note", "body": {"words": "x"}},
        result(world.made["own stop"], taxon="AMAPA"),
        {"id": new_id(), "kind": "note", "made_at": MADE, "body": {"words": "x"}},
        {"id": new_id(), "kind": "withdraw", "made_at": MADE, "amends": label, "body": {}},
        result(label, taxon="Palmer, I think"),
    ]
    before = world.ledger.last_seq
    answers = world.hand_in("Lena", *wrong)
    assert [a["outcome"] for a in answers] == ["refused"] * len(wrong)
    assert [name for name in (OWN, OTHER, "North Eighty") if name in json.dumps(answers)] == []
    assert world.ledger.last_seq == before
    moved = result(label, taxon="AMAPA") | {"site": OTHER}
    moved["body"] |= {"laboratory": "Other Lab", "of": new_id()}
    assert world.hand_in("Lena", moved)[0]["outcome"] == "added"
    kept = world.ledger.get(moved["id"])
    assert kept is not None
    assert isinstance(kept.body, Sample)
    assert (kept.site, kept.body.laboratory, kept.body.of) == (OWN, "Plant Lab", None)


def test_a_sample_that_goes_elsewhere_is_gone_and_the_view_says_so(world: World) -> None:
    first = world.get("Lena", "/entries").json()
    label = world.made["own sample"]
    world.add("moved", "sample", {"step": "sent", "what": "leaf", "laboratory": "Other Lab"}, amends=label)
    after = world.get("Lena", f"/entries?after={first['next']}&view={first['view']}").json()
    assert (after["reset"], after["entries"]) == (True, [])
    assert world.get("Lena", "/samples").json()["samples"] == []
    assert label in {one["label"] for one in world.get("Lars", "/samples").json()["samples"]}
    assert world.hand_in("Lena", result(label, taxon="AMAPA"))[0]["outcome"] == "refused"


def test_the_form_says_the_same_as_the_program(world: World) -> None:
    path = f"/samples/{world.made['own sample']}"
    said = {
        "step": "result",
        "taxon": "AMATU",
        "sure": "95",
        "group_9": "resistant",
        "group_14": "",
        "group_99": "mixed",
    }
    answer = world.ask("Lena", "POST", path, data=said, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/samples")
    body = world.ledger.standing(OWN).of("sample")[0].body
    assert isinstance(body, Sample)
    assert (body.taxon, body.sure, body.resistant) == ("AMATU", 0.95, {"9": "resistant"})
    for wrong in ({"step": "lost"}, {"step": "result", "sure": "very"}, {"step": "result", "taxon": "<b>"}, {}):
        answer = world.ask("Lena", "POST", path, data=wrong, follow_redirects=False)
        assert answer.status_code == 422, wrong


def test_a_grower_sees_letters_of_their_fields_and_nothing_else(world: World) -> None:
    seen = world.seen("Gil")
    assert [one["id"] for one in seen] == [world.made["own letter"]]
    letters = world.get("Gil", "/letters").json()["letters"]
    assert [(one["id"], one["name"], one["text"]) for one in letters] == [
        (world.made["own letter"], "Creek Bottom", "About Creek Bottom.")
    ]
    text = world.get("Gil", f"/letters/{world.made['own letter']}")
    assert text.headers["content-type"] == "text/plain; charset=utf-8"
    assert text.text.splitlines()[:3] == [
        "Larkmoor County",
        "Creek Bottom",
        "As of Wednesday, June 17, 2026, to the tenant",
    ]
    assert "About Creek Bottom." in text.text
    page = world.get("Gil", "/letters", headers={"accept": "text/html"}).text
    assert "About Creek Bottom." in page
    assert "North Eighty" not in page
    world.add("back", "withdraw", {}, amends=world.made["own letter"])
    assert world.get("Gil", "/letters").json()["letters"] == []
    assert "There is no letter yet." in world.get("Gil", "/letters", headers={"accept": "text/html"}).text
    assert world.made["back"] in {one["id"] for one in world.seen("Gil")}
