"""What every answer carries, the one shape of what goes wrong, and what people may write without harm."""

from __future__ import annotations

import json
import re
import threading
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event

from _served import MADE, OTHER, OWN, World
from tepal.ledger import new_id
from tepal.serve import address
from tepal.serve._static import inside

HOSTILE = [
    "<script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>",
    "{{ 'zq' * 3 }}{% raw %}",
    "=HYPERLINK(\"http://x.example\";\"a\")",
    "'; DROP TABLE entry; --",
    "%s%n../../etc/passwd",
    "Zoë 🌱 ‘quoted’",
]  # fmt: skip


def test_everything_that_goes_wrong_has_one_shape(world: World) -> None:
    def entries(**more: Any) -> Any:
        return world.ask("Sam", "POST", "/entries", **more)

    kind = {"headers": {"content-type": "application/json"}}
    wrong = {
        400: [entries(content=b"{", **kind), entries(content=b"[" * 100_000, **kind), entries(content=b"\xff", **kind)],
        401: [world.get(None, "/me")],
        404: [world.get("Sam", "/nowhere"), world.get("Gil", "/today"), world.get("Sam", "/office/people")],
        405: [world.ask("Sam", "PUT", "/me"), world.ask("Sam", "DELETE", "/entries")],
        415: [entries(content=b"{}", headers={"content-type": "text/plain"})],
        421: [world.get("Sam", "/me", headers={"host": "elsewhere.example"})],
        422: [
            entries(json=[]),
            entries(json={"entries": {}}),
            world.get("Sam", "/entries?after=x"),
            world.get("Sam", "/entries?after=-1"),
            world.get("Sam", f"/entries?after={10**30}"),
            world.ask("Cora", "POST", "/office/people", json={"name": "x"}),
            world.ask("Cora", "POST", "/office/people", json={"name": "x", "role": "scout", "admin": True}),
        ],
    }
    for status, answers in wrong.items():
        for answer in answers:
            assert answer.status_code == status, answer.text
            assert answer.headers["content-type"] == "application/problem+json"
            told = answer.json()
            assert (
                {"type", "title", "status"}
                <= set(told)
                <= {"type", "title", "status", "detail", "where", "rule", "step"}
            )
            assert told["status"] == status
            assert not re.search(r"error \d|Traceback|sqlalchemy|pydantic", answer.text, re.IGNORECASE)
    assert world.ask("Sam", "PUT", "/me").headers["allow"] == "GET"


def test_a_fault_of_ours_tells_nothing_of_its_inside(
    world: World, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_: Any, **__: Any) -> None:
        raise RuntimeError("secret path /srv/ledger")

    monkeypatch.setattr(world.office, "people", broken)
    answer = world.get("Cora", "/office/people")
    assert answer.status_code == 500
    assert answer.headers["content-type"] == "application/problem+json"
    assert "secret" not in answer.text
    assert "x-content-type-options" in answer.headers
    assert "secret path" in caplog.text


def test_a_store_that_cannot_be_written_loses_nothing_that_was_answered(
    world: World, caplog: pytest.LogCaptureFixture
) -> None:
    engine, last = world.ledger._engine, world.ledger.last_seq

    def no_room(raw: Any, _: Any) -> None:
        pages = raw.execute("PRAGMA page_count").fetchone()[0]
        raw.execute(f"PRAGMA max_page_count={pages}")

    notes = [
        {"id": new_id(), "kind": "note", "site": OWN, "made_at": MADE, "body": {"words": "x" * 19_000}}
        for _ in range(20)
    ]
    event.listen(engine, "connect", no_room)
    engine.dispose()
    answer = world.ask("Sam", "POST", "/entries", json={"entries": notes})
    assert answer.status_code == 503
    assert "answers" not in answer.json()
    assert world.ledger.where not in answer.text
    assert "disk is full" in caplog.text
    assert world.ledger.last_seq == last
    event.remove(engine, "connect", no_room)
    engine.dispose()
    assert {one["outcome"] for one in world.hand_in("Sam", *notes)} == {"added"}


def test_every_answer_keeps_a_browser_from_being_used_against_the_office(world: World) -> None:
    page = {"accept": "text/html"}
    answers = [
        world.get(None, "/join", headers=page),
        world.get("Gil", "/letters", headers=page),
        world.get("Sam", "/today"),
        world.get(None, "/me"),
        world.get(None, "/nowhere"),
        world.get(None, address("plain/join.js")),
        world.get("Sam", f"/photos/{world.made['own picture']}"),
        world.get(None, "/phone/"),
        world.get(None, "/me", headers={"host": "elsewhere.example"}),
    ]
    for answer in answers:
        policy = dict(part.strip().split(" ", 1) for part in answer.headers["content-security-policy"].split(";"))
        assert policy["default-src"] == "'none'"
        assert policy["frame-ancestors"] == policy["base-uri"] == "'none'"
        assert policy["script-src"] == policy["style-src"] == policy["form-action"] == "'self'"
        assert "unsafe" not in answer.headers["content-security-policy"]
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "no-referrer"
        assert answer.headers["cross-origin-opener-policy"] == "same-origin"
        assert "max-age" in answer.headers["strict-transport-security"]
        assert "geolocation=(self), camera=(self), microphone=(self)" in answer.headers["permissions-policy"]
        assert "server" not in answer.headers
        assert not [name for name in answer.headers if name.startswith("access-control-")]
    assert answers[2].headers["cache-control"] == answers[3].headers["cache-control"] == "no-store"
    assert "immutable" in answers[5].headers["cache-control"]


@pytest.mark.parametrize("name", ["join.html.j2", "letters.html.j2", "samples.html.j2", "plain.html.j2"])
def test_no_page_has_script_or_style_inside(name: str) -> None:
    import tepal.serve

    text = (Path(tepal.serve.__file__).parent / "templates" / name).read_text()
    assert not re.search(r"<style|style=|\son\w+=|javascript:|\|\s*safe", text)
    assert re.findall(r"<script(?! src=)", text) == []
    assert "//" not in re.sub(r"{#.*?#}", "", text)  # nothing from elsewhere


@pytest.mark.parametrize("words", HOSTILE)
def test_what_people_write_is_kept_as_it_is_and_shown_as_text(world: World, words: str) -> None:
    note = {"id": new_id(), "kind": "note", "site": OWN, "made_at": MADE, "body": {"words": words}}
    assert world.hand_in("Sam", note)[0]["outcome"] == "added"
    assert next(one for one in world.seen("Sam") if one["id"] == note["id"])["body"]["words"] == words
    world.add("told", "letter", {"text": words, "to": words, "signed_by": words})
    page = world.get("Gil", "/letters", headers={"accept": "text/html"})
    assert page.status_code == 200
    assert "<script>" not in page.text
    assert "<img" not in page.text
    assert "zqzqzq" not in page.text
    site = {"id": new_id(), "kind": "site", "site": f"s {words}"[:60].strip(), "made_at": MADE}
    site |= {"body": {"name": words, "ground": "field"}}
    assert world.hand_in("Sam", site)[0]["outcome"] == "added"
    today = world.get("Sam", "/today").json()
    assert words in {one["name"] for one in today["sites"]}
    assert world.get("Sam", f"/entries?view={words}").status_code in {200, 422}
    assert world.ledger.last_seq > 0


@pytest.mark.parametrize(
    "value",
    ["x" * 20_001, "a\x00b", "\ud800", 7, None, ["a"], {"a": 1}, True],
    ids=["long", "zero", "half a letter", "number", "null", "list", "object", "yes"],
)
def test_wrong_types_in_a_body_are_refused_one_by_one(world: World, value: Any) -> None:
    base = {"id": new_id(), "kind": "note", "site": OWN, "made_at": MADE, "body": {"words": "x"}}
    wrong = [
        base | {"body": {"words": value}},
        base | {"body": value if not isinstance(value, dict) else {"words": value}},
        base | {"kind": value},
        base | {"made_at": value},
        base | {"amends": value if value is not None else 0},
        base | {"id": value},
        base | {"site": value if value is not None else 0},
        value,
    ]
    sent = json.dumps({"entries": wrong})
    before = world.ledger.last_seq
    answer = world.ask(
        "Sam", "POST", "/entries", content=sent.encode(), headers={"content-type": "application/json"}
    )  # fmt: skip
    assert answer.status_code == 200, answer.text
    outcomes = {a["outcome"] for a in answer.json()["answers"]}
    assert outcomes == {"refused"}
    assert world.ledger.last_seq == before


def test_numbers_that_are_none_are_refused(world: World) -> None:
    for text in ("NaN", "Infinity", "-Infinity", "1e999"):
        raw = (
            f'{{"entries": [{{"id": "{new_id()}", "kind": "stop", "site": "{OWN}", "made_at": "{MADE}", '
            f'"body": {{"counts": [], "area_m2": {text}}}}}]}}'
        )
        answer = world.ask("Sam", "POST", "/entries", content=raw, headers={"content-type": "application/json"})
        assert answer.status_code == 400 or answer.json()["answers"][0]["outcome"] == "refused"


@pytest.mark.parametrize(
    "name",
    ["../_app.py", "..", "/etc/passwd", "a/../../_app.py", ".hidden.css", "a\x00.css", "..\\x.css", "", "a//b.css"],
)
def test_a_name_leads_to_no_file_outside(name: str, tmp_path: Path) -> None:
    folder = tmp_path / "inside"
    folder.mkdir()
    for path in (tmp_path / "_app.py", tmp_path / "x.css", folder / ".hidden.css"):
        path.write_text("secret")
    (folder / "out.css").symlink_to(tmp_path / "x.css")
    (folder / "in.css").write_text("fine")
    assert inside(folder, name) is None
    assert inside(folder, "out.css") is None
    assert inside(folder, "in.css") == folder / "in.css"


def test_the_app_for_the_field_is_given_out_with_its_types_or_said_to_be_missing(world: World, tmp_path: Path) -> None:
    from fastapi import FastAPI

    from _served import TestClient
    from tepal.serve._phone import phone_routes

    made = FastAPI()
    made.include_router(phone_routes(tmp_path).router)
    client = TestClient(made)
    missing = client.get("/phone/")
    assert missing.status_code == 404
    assert "is not built" in missing.text
    for name, text in (("index.html", "<p>app"), ("sw.js", "self"), ("app.webmanifest", "{}"), ("plant.wasm", "")):
        (tmp_path / name).write_text(text)
    types = {
        name: client.get(f"/phone/{name}").headers["content-type"]
        for name in ("", "sw.js", "app.webmanifest", "plant.wasm")
    }
    assert types == {
        "": "text/html; charset=utf-8",
        "sw.js": "text/javascript; charset=utf-8",
        "app.webmanifest": "application/manifest+json",
        "plant.wasm": "application/wasm",
    }
    worker = client.get("/phone/sw.js")
    assert worker.headers["service-worker-allowed"] == "/phone/"
    assert worker.headers["cache-control"] == "no-cache"
    assert client.get("/phone", follow_redirects=False).headers["location"] == "/phone/"


def test_what_a_phone_takes_along_is_of_its_own_sites_and_as_the_record_has_it(world: World) -> None:
    square = {
        "type": "Polygon",
        "coordinates": [[[-96.2, 41.5], [-96.19, 41.5], [-96.19, 41.51], [-96.2, 41.51], [-96.2, 41.5]]],
    }
    gate = {"kind": "gate", "name": "north gate", "geometry": {"type": "Point", "coordinates": [-96.19, 41.51]}}
    better = {"name": "Creek Bottom", "ground": "field", "boundary": square, "legal": "NE 1/4", "region": "CB"}
    better["features"] = [gate]
    world.add("better", "site", better, amends=world.made["own site"])
    until = "2026-06-19T08:00:00-05:00"
    world.add("sprayed", "done", {"what": "sprayed", "re_entry_until": until})
    world.add("sprayed there", "done", {"what": "sprayed", "re_entry_until": until}, site=OTHER)
    today = world.get("Sam", "/today").json()
    assert today["as_of"] == "2026-06-18"
    assert today["person"]["name"] == "Sam"
    assert len(today["sites"]) == 1
    site = today["sites"][0]
    assert (site["id"], site["name"], site["kind"], site["place"]) == (OWN, "Creek Bottom", "field", "NE 1/4")
    assert site["boundary"] == square
    assert site["features"]["features"][0]["properties"] == {"kind": "gate", "name": "north gate"}
    assert site["blocked_until"] == until
    assert "re-entry" in site["blocked_why"]
    assert site["region"] == "CB"
    assert isinstance(site["sentence"], str)
    world.clock.pass_(hours=19)
    assert world.get("Sam", "/today").json()["sites"][0]["blocked_until"] is None
    assert {one["site"] for one in world.get("Cora", "/today").json()["calls"]} == set()
    world.add("new call", "report", {"how": "text", "words": "Tall ones", "answer_by": "2026-06-20"}, site=None)
    calls = world.get("Cora", "/today").json()["calls"]
    assert [(one["words"], one["answer_by"]) for one in calls] == [("Tall ones", "2026-06-20")]


def test_readers_go_on_while_somebody_writes(world: World) -> None:
    # So late that the use of the device is to be written down, too.
    world.clock.pass_(hours=3)
    done = threading.Event()
    answers = []

    def read() -> None:
        answers.append(world.get("Sam", "/entries").status_code)
        done.set()

    with world.ledger.connected(write=True):
        thread = threading.Thread(target=read)
        thread.start()
        assert done.wait(20)
    thread.join()
    assert answers == [200]


@pytest.mark.parametrize(("who", "path", "english", "spanish"), [
    ("Gil", "/letters", "Letters about your fields", "Cartas sobre sus campos"),
    ("Lena", "/samples", "Samples sent to Plant Lab", "Muestras "),
])  # fmt: skip
def test_a_grower_and_a_laboratory_read_their_page_in_their_language_and_can_leave(
    world: World, who: str, path: str, english: str, spanish: str
) -> None:
    shown = world.get(who, path, headers={"accept": "text/html"}).text
    assert english in shown
    assert f"You are {who}" in shown
    assert 'href="/leave"' in shown
    again = world.get(who, path, headers={"accept": "text/html", "cookie": "tepal-wording=es-us"}).text
    assert f"<h1>{spanish}" in again
    assert '<html lang="es">' in again
    assert english not in again


@pytest.mark.parametrize(("asks", "language"), [
    ("es-MX,es;q=0.9,en;q=0.8", "es"), ("en-US,en", "en"), ("fr-CA, es;q=0.4", "es"), ("fr", "en"), ("", "en"),
])  # fmt: skip
def test_an_invitation_is_read_in_the_browsers_language_where_we_have_it(
    world: World, asks: str, language: str
) -> None:
    shown = world.get(None, "/join", headers={"accept-language": asks}).text
    assert f'<html lang="{language}">' in shown
    assert ("invites you" in shown) == (language == "en")
