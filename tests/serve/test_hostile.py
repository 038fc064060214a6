"""Somebody with a token of a scout, a grower or a laboratory who wants more than is theirs."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import timedelta
from typing import Any
from urllib.parse import unquote, urljoin, urlsplit

import pytest

from _desk_world import desk_of, open_county, settle
from _served import MADE, OTHER, OWN, World, picture
from tepal.ledger import new_id

SECRET = "Heronsmoor"  # stands in everything that is said of the other site


def made(kind: str, body: dict[str, Any], site: str | None = OWN, **more: Any) -> dict[str, Any]:
    return {"id": new_id(), "kind": kind, "site": site, "made_at": MADE, "body": body} | more


def outcome(world: World, who: str, one: dict[str, Any]) -> dict[str, Any]:
    (answer,) = world.hand_in(who, one)
    return answer


@pytest.fixture
def county(world: World) -> Iterator[World]:
    """The county, with much said of the other site that others would like to know: it is infested, and hay went from
    there to the site of the asker."""
    open_county(world)
    words = {"words": f"said of {SECRET}"}
    world.add("secret ground", "site", {"name": SECRET, "ground": "field", "region": "CB", "county": "Larkmoor",
              "point": [-96.197, 41.512]}, site=OTHER, amends=world.made["other ground"])  # fmt: skip
    world.add(
        "secret party", "party", {"name": f"Owner of {SECRET}", "roles": ["owner"], "contact": SECRET}, site=OTHER
    )
    world.add("secret note", "note", words, site=OTHER)
    result = {"step": "result", "taxon": "AMAPA", "sure": 1.0, "of": world.made["other plant"], **words}
    world.add("secret result", "sample", result, site=OTHER)
    world.add("secret move", "move", {"what": "hay", "from_site": OTHER, "to_site": OWN, "tag": SECRET}, site=OTHER)
    world.add("secret report", "report", {"how": "call", "who": SECRET, **words}, site=OTHER)
    world.add("secret letter", "letter", {"to": SECRET, "text": f"About {SECRET}.", "reader": "owner"}, site=OTHER)
    settle(world)
    yield world
    desk_of(world).close()


def secrets_of(world: World) -> list[str]:
    ids = [id for name, id in world.made.items() if name.startswith(("other", "secret"))]
    return [SECRET, OTHER, "North Eighty", *ids]


# ---------------------------------------------------------------- every address


def addresses(world: World, who: str) -> Iterator[str]:
    """Everything that can be asked for, of the own site and of the other, and whatever an answer leads to."""
    document = world.get("Cora", "/openapi.json").json()
    fill = {
        "id": [OWN, OTHER, *world.made.values(), "no-such", "../" + OTHER, OTHER.upper()],
        "entry": list(world.made.values()),
        "label": list(world.made.values()),
        "digest": [world.made["other picture"], world.made["own picture"]],
        "form": ["txt", "html"],
        "site": [OWN, OTHER],
    }
    for path, methods in document["paths"].items():
        if "get" not in methods or path.startswith(("/static", "/phone", "/desk/fonts")):
            continue
        names = re.findall(r"\{(\w+)\}", path)
        every = [path]
        for name in names:
            every = [one.replace(f"{{{name}}}", str(value)) for one in every for value in fill.get(name, ["x"])]
        for one in every:
            yield one
            if "/why" in one:
                yield from (f"{one}?of={pointer}" for pointer in ("/taxa", "/stand", "/advice/0", "/windows/0", ""))
            if "/desk/state" in one:
                yield f"{one}?site={OTHER}"
            if "letter." in one:
                yield from (f"{one}?for={reader}" for reader in ("owner", "applicator", "harvester"))


@pytest.mark.slow
@pytest.mark.parametrize("who", ["Sam", "Gil", "Lena"])
def test_no_address_tells_anything_of_another_site(county: World, who: str) -> None:
    county.office.assign(county.ids["Sam"], entry=county.made["own report"], now=county.clock())
    county.limits.device.__init__(100_000, 1_000)  # type: ignore[misc]
    asked = 0
    for path in addresses(county, who):
        answer = county.get(who, path, follow_redirects=False)
        asked += 1
        # What was asked for by name may come back in words, but then only as not being there.
        if answer.status_code in {404, 422}:
            told = answer.text.replace(path, "")
            assert answer.json().keys() <= {"type", "title", "status", "detail", "where", "rule", "step"}, path
        else:
            told = answer.text + str(dict(answer.headers))
        for secret in secrets_of(county):
            if f"/{secret}" in path or f"={secret}" in path:
                assert answer.status_code in {404, 422, 303}, (who, path, answer.status_code)
                continue
            assert secret not in told, (who, path, secret, told[max(0, told.index(secret) - 200) :][:400])
    assert asked > 100


def test_today_tells_a_phone_nothing_of_another_site(county: World) -> None:
    told = county.get("Sam", "/today").text
    for secret in secrets_of(county):
        assert secret not in told


def test_moves_that_others_entered_are_told_without_the_other_place(county: World) -> None:
    for path in (f"/sites/{OWN}", f"/sites/{OWN}/why?of=/advice", f"/sites/{OWN}/why?of=/unknowns"):
        text = county.get("Sam", path).text
        assert SECRET not in text, path


# ---------------------------------------------------------------- what a scout's own site holds of people


def test_people_and_calls_of_an_own_site_are_the_offices_to_know_on_the_phone_too(county: World) -> None:
    told = json.dumps(county.seen("Sam"))
    assert "Farmer of Creek Bottom" not in told
    assert county.made["own report"] not in told
    county.office.assign(county.ids["Sam"], entry=county.made["own report"], now=county.clock())
    told = json.dumps(county.seen("Sam"))
    assert county.made["own report"] in told
    assert "Farmer of Creek Bottom" not in told
    # What a scout wrote down themself is theirs to see.
    consent = made("party", {"name": "Whoever farms it", "roles": ["farms"], "consent_to_enter": True})
    assert outcome(county, "Sam", consent)["outcome"] == "added"
    assert consent["id"] in json.dumps(county.seen("Sam"))


def test_a_letter_names_nobody_that_the_asker_may_not_know(county: World) -> None:
    for reader in ("tenant", "owner", "applicator", "harvester"):
        told = county.get("Sam", f"/sites/{OWN}/letter.txt?for={reader}").text
        assert "Farmer of" not in told


# ---------------------------------------------------------------- a call that was handed over, of another site


def test_who_is_handed_a_call_is_told_nothing_else_of_its_site(county: World) -> None:
    county.add("quiet report", "report", {"how": "call", "words": "tall weeds by the gate"}, site=OTHER)
    county.office.assign(county.ids["Sam"], entry=county.made["quiet report"], now=county.clock())
    settle(county)
    sentence = desk_of(county).readings.of(OTHER, county.settings.today()).told["words"]["en-us"]["sentence"]
    assert "Palmer" in sentence
    for step in (1, 3):
        told = county.get("Sam", f"/calls/{county.made['quiet report']}?step={step}")
        assert told.status_code == 200
        assert step != 1 or "tall weeds by the gate" in told.text
        assert sentence not in told.text
        assert "Palmer amaranth, almost surely" not in told.text
        assert "said of" not in told.text
    # The coordinator's page of the same call does tell it: the test would notice.
    assert "Palmer" in county.get("Cora", f"/calls/{county.made['quiet report']}?step=3").text


# ---------------------------------------------------------------- photos by hash


def test_naming_a_photo_in_an_entry_of_ones_own_does_not_show_it(world: World) -> None:
    digest = world.made["other picture"]
    for kind, body in (
        ("plant", {"stage": "vegetative", "looks": {}, "photos": [digest]}),
        ("photo", {"sha256": digest, "media_type": "image/jpeg", "size_bytes": 1}),
        ("report", {"how": "call", "words": "x", "photos": [digest]}),
    ):
        world.hand_in("Sam", made(kind, body))
        assert world.get("Sam", f"/photos/{digest}").status_code == 404, kind
    assert world.get("Tess", f"/photos/{digest}").status_code == 200
    assert world.get("Cora", f"/photos/{digest}").status_code == 200


def test_whether_another_sites_photo_is_there_is_not_told(world: World) -> None:
    digest = world.made["other picture"]
    head = world.ask("Sam", "HEAD", f"/photos/{digest}")
    assert head.status_code == 404
    assert "upload-offset" not in head.headers
    assert world.ask("Tess", "HEAD", f"/photos/{digest}").headers["upload-complete"] == "?1"
    # Who has the same photo may send it; nothing is spoiled by it.
    original = world.ledger.photos / f"{digest}.jpg"
    raw = original.read_bytes()
    part = {"content-type": "application/partial-upload", "upload-offset": "0", "upload-complete": "?1"}
    for content, status in ((b"something else", 422), (raw, 204)):
        sent = world.ask("Sam", "PATCH", f"/photos/{digest}", headers=part, content=content)
        assert sent.status_code == status
        assert original.read_bytes() == raw
    at_end = part | {"upload-offset": str(len(raw))}
    assert world.ask("Sam", "PATCH", f"/photos/{digest}", headers=at_end, content=b"").status_code in {404, 409}


def test_who_sent_a_photo_that_no_entry_names_yet_is_told_that_it_is_there(world: World) -> None:
    digest, raw = picture(77)
    part = {"content-type": "application/partial-upload", "upload-offset": "0", "upload-complete": "?1"}
    assert world.ask("Sam", "PATCH", f"/photos/{digest}", headers=part, content=raw).status_code == 204
    assert world.ask("Sam", "HEAD", f"/photos/{digest}").headers["upload-complete"] == "?1"
    named = made("plant", {"stage": "vegetative", "looks": {}, "photos": [digest]})
    assert outcome(world, "Sam", named)["outcome"] == "added"
    assert world.ask("Sam", "HEAD", f"/photos/{digest}").headers["upload-complete"] == "?1"
    assert world.get("Sam", f"/photos/{digest}").status_code == 200


# ---------------------------------------------------------------- entries that ask what is there


@pytest.mark.parametrize("who", ["Sam", "Lena"])
def test_amending_what_is_another_sites_and_what_is_nowhere_is_answered_alike(world: World, who: str) -> None:
    said = []
    for target in (world.made["other stop"], new_id(), world.made["other sample"], world.made["other site"]):
        body = {"step": "received"} if who == "Lena" else {"words": "x"}
        kind = "sample" if who == "Lena" else "note"
        answer = outcome(world, who, made(kind, body, None if who == "Lena" else OWN, amends=target))
        assert answer["outcome"] == "refused"
        said.append(json.dumps(answer["problem"]).replace(target, "ID"))
    assert len(set(said)) == 1, said
    assert OTHER not in said[0]


@pytest.mark.parametrize("site", [OTHER, "no-such-site", "North Eighty", OTHER.upper()])
def test_entering_for_a_site_that_is_anothers_or_nowhere_is_answered_alike(world: World, site: str) -> None:
    answer = outcome(world, "Sam", made("note", {"words": "x"}, site))
    assert answer["outcome"] == "refused"
    assert json.dumps(answer["problem"]).replace(site, "SITE") == json.dumps(
        outcome(world, "Sam", made("note", {"words": "x"}, "SITE"))["problem"]
    )


def test_an_entry_that_is_refused_gives_no_way_to_its_site(world: World) -> None:
    # A draft that is refused opens no site: neither to what comes with it nor afterwards.
    known = made("site", {"name": "New", "ground": "field"}, "new-ground")
    world.hand_in("Tess", known)
    stolen = made("site", {"name": "Mine", "ground": "field"}, "fresh-ground", id=known["id"])
    note = made("note", {"words": "x"}, "fresh-ground")
    answers = world.hand_in("Sam", stolen, note)
    assert [one["outcome"] for one in answers] == ["refused", "refused"]
    assert world.ledger.entries("fresh-ground") == []


def test_a_site_that_was_taken_away_is_gone_at_once_everywhere(county: World) -> None:
    own = made("plant", {"stage": "vegetative", "looks": {"stem_hair_upper": "none"}})
    assert outcome(county, "Sam", own)["outcome"] == "added"
    before = county.get("Sam", "/entries").json()
    county.office.unassign(county.ids["Sam"], site=OWN)
    after = county.get("Sam", f"/entries?after={before['next']}&view={before['view']}").json()
    assert after["reset"] is True
    assert OWN not in json.dumps(after)
    for path in (f"/sites/{OWN}", f"/plants/{own['id']}", f"/photos/{county.made['own picture']}",
                 f"/letters/{county.made['own letter']}", f"/desk/state?site={OWN}"):  # fmt: skip
        assert county.get("Sam", path).status_code == 404, path
    assert OWN not in county.get("Sam", "/today").text
    assert "Creek Bottom" not in county.get("Sam", "/").text
    plant = {"stage": "vegetative", "looks": {}}
    for one in (made("note", {"words": "x"}), made("plant", plant, amends=own["id"])):
        assert outcome(county, "Sam", one)["outcome"] == "refused"
    assert outcome(county, "Sam", made("withdraw", {}, amends=own["id"]))["outcome"] == "refused"


# ---------------------------------------------------------------- by, and what else is the store's to say


@pytest.mark.parametrize("who", ["Sam", "Cora", "Lena"])
def test_nobody_says_who_said_it(world: World, who: str) -> None:
    more: dict[str, Any] = {"by": "Tess", "seq": 1, "got_at": "2020-01-01T00:00:00Z", "hash": "0" * 64}
    one = made("note", {"words": "x"}) | more
    if who == "Lena":
        one = made("sample", {"step": "received", "by": "Tess"}, None, amends=world.made["own sample"]) | more
    outcome(world, who, one)
    assert {e.by for e in world.ledger.entries()} <= {"office", who}


def test_a_laboratory_adds_nothing_but_what_a_laboratory_finds(world: World) -> None:
    body = {"step": "result", "taxon": "AMAPA", "sure": 0.9, "of": world.made["other stop"], "laboratory": "Other Lab",
            "what": "seed", "test": "resistance"}  # fmt: skip
    answer = outcome(world, "Lena", made("sample", body, OTHER, amends=world.made["own sample"]))
    kept = [e for e in world.ledger.entries() if e.by == "Lena"]
    assert (answer["outcome"] == "refused") == (not kept)
    for e in kept:
        assert e.site == OWN
        said = e.plain()["body"]
        assert said["laboratory"] == "Plant Lab"
        assert said["what"] == "leaf"
        assert said["test"] == "species"
        assert "of" not in said


@pytest.mark.parametrize("kind", ["forgotten", "letter", "withdraw", "site", "party", "note"])
@pytest.mark.parametrize("who", ["Gil", "Lena"])
def test_a_grower_and_a_laboratory_add_nothing_else(world: World, who: str, kind: str) -> None:
    bodies: dict[str, dict[str, Any]] = {
        "forgotten": {"was": "note"}, "letter": {"text": "x"}, "withdraw": {}, "note": {"words": "x"},
        "site": {"name": "x", "ground": "field"}, "party": {"name": "x", "roles": ["owner"]},
    }  # fmt: skip
    last = world.ledger.last_seq
    one = made(kind, bodies[kind], OWN, amends=world.made["own letter"])
    sent = world.ask(who, "POST", "/entries", json={"entries": [one]})
    assert sent.status_code == 404 or sent.json()["answers"][0]["outcome"] == "refused"
    assert world.ledger.last_seq == last


# ---------------------------------------------------------------- entries that break what others read

POISON: dict[str, tuple[str, dict[str, Any], dict[str, Any]]] = {
    "made at the end of time": ("note", {"words": "x"}, {"made_at": "9999-12-31T23:59:59-12:00"}),
    "made at its beginning": ("note", {"words": "x"}, {"made_at": "0001-01-01T00:00:00+14:00"}),
    "made in the far future": ("note", {"words": "x"}, {"made_at": "2100-12-31T23:59:59-12:00"}),
    "an offset of seconds": ("note", {"words": "x"}, {"made_at": "2026-06-18T10:00:00+01:02:03"}),
    "a number without end": ("walk", {"minutes": 1e999}, {}),
    "half a letter": ("note", {"words": "\ud800"}, {}),
    "nothing in a word": ("note", {"words": "a\u0000b"}, {}),
    "text that turns around": ("note", {"words": "\u202eabc"}, {}),
    "a deep list": ("note", {"words": "x", "deep": None}, {}),
    "blocked for ever": ("done", {"what": "sprayed", "re_entry_until": "9999-12-31T23:59:59-12:00"}, {}),
    "a track of one place": ("walk", {"track": {"type": "LineString", "coordinates": [[0, 0], [0, 0]]}}, {}),
    "a site across the world": ("site", {"name": "x", "ground": "field", "boundary": {"type": "Polygon",
        "coordinates": [[[-179, -80], [179, -80], [179, 80], [-179, 80], [-179, -80]]]}}, {}),
    "a site of no area": ("site", {"name": "x", "ground": "field", "boundary": {"type": "Polygon",
        "coordinates": [[[-96.2, 41.5], [-96.2, 41.5], [-96.2, 41.5], [-96.2, 41.5]]]}}, {}),
    "a site of half a letter": ("site", {"name": "x\ud800", "ground": "field"}, {}),
    "many plants": ("stop", {"area_m2": 1e-9, "counts": [{"taxon": "AMAPA", "count": 1000000}]}, {}),
    "a taxon of its own": ("stop", {"area_m2": 1, "counts": [{"taxon": "X_" + "A" * 30, "count": 1}]}, {}),
    "a station of no name": ("site", {"name": "x", "ground": "field", "station": "../../etc"}, {}),
    "looks of nowhere": ("plant", {"stage": "vegetative", "looks": {"no_such_look": "none"}}, {}),
    "a look without end": ("plant", {"stage": "vegetative", "looks": {"petiole_blade_ratio_lower": 1e308}}, {}),
    "a place that is none": ("plant", {"stage": "vegetative", "looks": {}, "at": [-96.2, 90.0]}, {}),
    "a result of its own": ("sample", {"step": "made", "taxon": "AMAPA", "sure": 1, "of": "x"}, {}),
    "a region elsewhere": ("site", {"name": "x", "ground": "field", "region": "XX"}, {}),
    "an early crop": ("crop", {"year": 1800, "crop": "soybean"}, {}),
    "many cuts": ("done", {"what": "cut", "cut_height_cm": 500, "share": 1, "hours": 1e9}, {}),
}  # fmt: skip


@pytest.mark.slow
def test_nothing_that_a_scout_may_enter_breaks_what_others_read(county: World) -> None:
    taken = []
    for name, (kind, body, more) in POISON.items():
        site = f"draft-{len(taken)}" if kind == "site" else OWN
        deep: Any = "x"
        for _ in range(400):
            deep = [deep]
        said = body | ({"deep": deep} if "deep" in body else {})
        one, good = made(kind, said, site, **more), made("note", {"words": "good"})
        content = json.dumps({"entries": [one, good]})
        sent = county.ask(
            "Sam", "POST", "/entries", content=content.encode(), headers={"content-type": "application/json"}
        )
        assert sent.status_code in {200, 400}, (name, sent.text)
        if sent.status_code == 200:
            first, second = sent.json()["answers"]
            assert second["outcome"] == "added", name  # what one breaks harms no other
            if first["outcome"] == "added":
                taken.append(name)
    settle(county)
    pages = ("", "/why?of=/stand", "/letter.txt", "/letter.pdf")
    for path in ("/", "/calls", "/today", "/entries?limit=1000", "/letters", *(f"/sites/{OWN}{one}" for one in pages)):
        for who in ("Sam", "Cora"):
            answer = county.get(who, path)
            assert answer.status_code == 200, (path, who, answer.text[:500], taken)
    assert county.get("Gil", "/letters").status_code == 200
    assert 0 < len(taken) < len(POISON)


@pytest.mark.parametrize("depth", [50, 200, 900, 5_000, 100_000])
def test_however_deep_it_is_one_entry_harms_no_other(world: World, depth: int) -> None:
    bad = json.dumps(made("note", {"words": "x"})).replace('"words": "x"', '"words": ' + "[" * depth + "]" * depth)
    good = json.dumps(made("note", {"words": "good"}))
    sent = world.ask(
        "Sam", "POST", "/entries", content=f'{{"entries": [{bad}, {good}]}}'.encode(),
        headers={"content-type": "application/json"},
    )  # fmt: skip
    if sent.status_code == 200:
        assert [one["outcome"] for one in sent.json()["answers"]] == ["refused", "added"]
    else:
        assert sent.status_code in {400, 413, 422}, sent.text


# ---------------------------------------------------------------- limits


def test_a_body_of_unknown_length_is_cut_off_at_the_limit(world: World) -> None:
    sent = 0

    def endless() -> Iterator[bytes]:
        nonlocal sent
        yield b'{"entries": ["'
        while sent < 50_000_000:
            sent += 100_000
            yield b"x" * 100_000

    answer = world.ask("Sam", "POST", "/entries", content=endless(), headers={"content-type": "application/json"})
    assert answer.status_code == 413
    for path in ("/join", "/office/people", "/people", "/calls"):
        answer = world.ask("Cora", "POST", path, content=b"x" * 2_500_000, headers={"content-type": "application/json"})
        assert answer.status_code in {413, 422}, path


def test_a_cursor_beyond_the_end_starts_anew(world: World) -> None:
    # The record was restored from a backup that is older than what this device has seen.
    seen = world.get("Sam", "/entries").json()
    far = world.get("Sam", f"/entries?after={seen['next'] + 50}&view={seen['view']}").json()
    assert far["reset"] is True
    assert far["entries"] == seen["entries"]
    assert far["next"] == seen["next"]
    level = world.get("Sam", f"/entries?after={seen['next']}&view={seen['view']}").json()
    assert level["reset"] is False


# ---------------------------------------------------------------- names in pages and headers


@pytest.mark.parametrize(
    "site",
    [
        'a"; filename="x.exe',
        "ñandú 田 field",
        "a..etc",
        "?on=2020-01-01#x",
        "<script>alert(1)",
        "\u202efield",
        "a" * 200,
        "section 12/NE",
        "..",
        ".",
        "~2F~",
        "a/../../people",
        "/",
    ],
)
def test_a_site_of_any_id_has_pages_that_hold(county: World, site: str) -> None:
    from tepal.serve.desk._links import site_of, site_part

    draft = made("site", {"name": f"Name of {site}"[:200], "ground": "field", "region": "CB"}, site)
    answer = outcome(county, "Sam", draft)
    if answer["outcome"] == "refused":
        return
    settle(county)
    part = site_part(site)
    assert site_of(unquote(part)) == site
    assert f"/sites/{part}" in county.get("Cora", "/").text
    for path in (f"/sites/{part}", f"/sites/{part}/letter.txt", f"/sites/{part}/why?of=/taxa", "/", "/today"):
        found = county.get("Sam", path)
        assert found.status_code == 200, (path, found.text[:300])
        assert (
            "<script>alert" not in found.text
            or "json" in found.headers["content-type"]
            or "plain" in (found.headers["content-type"])
        )
        # What a browser makes of the address is what was asked for: no part of it leads elsewhere.
        assert urlsplit(urljoin("https://testserver/a/b", path)).path == urlsplit(path).path
        assert "set-cookie" not in found.headers
        assert ".exe" not in found.headers.get("content-disposition", "")


def test_only_an_address_of_the_office_may_be_made_the_devices_name(world: World) -> None:
    code = world.office.invite(world.ids["Sam"], now=world.clock(), lasts=timedelta(days=1)).code
    answer = world.ask(None, "POST", "/join", json={"code": code, "device": "<b>x</b>\r\nSet-Cookie: a=b"})
    assert answer.status_code in {201, 422}
    assert "a=b" not in answer.headers.get("set-cookie", "")
    page = world.get("Cora", "/people").text
    assert "<b>x</b>" not in page
