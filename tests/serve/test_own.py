"""What is somebody's own: told by who held the device, where two people have one name and where one comes back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from _served import MADE, OTHER, OWN, World, picture
from tepal.ledger import Ledger, entry, forget, new_id
from tepal.ledger._engine import engine_on, take_lock, writing
from tepal.ledger._migrating import migrate
from tepal.serve import Office
from tepal.tables import Refused


def made(kind: str, body: dict[str, Any], site: str | None = OWN, **more: Any) -> dict[str, Any]:
    return {"id": new_id(), "kind": kind, "site": site, "made_at": MADE, "body": body} | more


def outcome(world: World, who: str, one: dict[str, Any]) -> str:
    (answer,) = world.hand_in(who, one)
    found: str = answer["outcome"]
    return found


def ids(world: World, who: str) -> set[str]:
    return {one["id"] for one in world.seen(who)}


def test_what_a_file_brought_under_ones_name_is_not_ones_own(either: World) -> None:
    # Another Sam walks another county; the file that holds what he saw is taken in at the office.
    party = either.add("his party", "party", {"name": "Somebody", "roles": ["owner"]}, by="Sam")
    nowhere = either.add("his note", "note", {"words": "private"}, by="Sam", site=None)
    stop = either.add("his stop", "stop", {"counts": [{"taxon": "pigweed", "count": 7}]}, by="Sam")
    assert {party, nowhere} & ids(either, "Sam") == set()
    assert stop in ids(either, "Sam")  # of a site that is theirs to see
    for amends in (party, nowhere, stop):
        correction = made("withdraw", {}, site=None if amends == nowhere else OWN, amends=amends)
        assert outcome(either, "Sam", correction) == "refused"
    # What their own device hands in is theirs, under the same name.
    mine = made("stop", {"counts": [{"taxon": "pigweed", "count": 1}]})
    assert outcome(either, "Sam", mine) == "added"
    assert outcome(either, "Sam", mine) == "already"
    assert outcome(either, "Sam", made("withdraw", {}, amends=mine["id"])) == "added"


def test_a_photo_that_a_file_names_under_ones_name_is_shown_by_its_site_alone(world: World) -> None:
    digest, raw = picture(77)
    world.ledger.photos.joinpath(f"{digest}.jpg").write_bytes(raw)
    body = {"sha256": digest, "media_type": "image/jpeg", "size_bytes": len(raw)}
    world.add("theirs", "photo", body, by="Sam", site=OTHER)
    assert world.get("Sam", f"/photos/{digest}").status_code == 404
    assert outcome(world, "Sam", made("photo", body)) == "added"
    assert world.get("Sam", f"/photos/{digest}").status_code == 404  # to name it is not to have it


def test_what_the_phone_exported_and_the_office_took_in_is_theirs_once_the_phone_hands_it_in(world: World) -> None:
    note = made("note", {"words": "from the phone"}, site=None)
    taken = entry("note", note["body"], by="Sam", site=None, made_at=MADE, id=note["id"])
    assert world.ledger.add([taken]).added == 1
    assert note["id"] not in ids(world, "Sam")
    assert outcome(world, "Sam", note) == "already"
    assert note["id"] in ids(world, "Sam")
    assert outcome(world, "Tess", note) == "refused"
    assert note["id"] not in ids(world, "Tess")


def test_names_that_read_alike_are_one_name(either: World) -> None:
    for name in ("Sam", "SAM", "  sam ", "Ｓam"):
        with pytest.raises(Refused, match="already"):
            either.office.add_person(name, "scout", now=either.clock())
    assert either.office.add_person("Sam of Heron Creek", "scout", now=either.clock()).name == "Sam of Heron Creek"


def test_who_left_comes_back_with_what_was_theirs_and_sees_nothing_before_it_is_given(either: World) -> None:
    stop = made("stop", {"counts": [{"taxon": "pigweed", "count": 1}]})
    note = made("note", {"words": "of no site"}, site=None)
    assert (outcome(either, "Sam", stop), outcome(either, "Sam", note)) == ("added", "added")
    sam = either.ids["Sam"]
    assert either.ask("Cora", "POST", f"/office/people/{sam}/leave").status_code == 204
    assert either.get("Sam", "/me").status_code == 401
    assert either.ask("Cora", "POST", f"/office/people/{sam}/invitations", json={"days": 1}).status_code == 422
    assert either.ask("Cora", "POST", f"/office/people/{sam}/return").status_code == 204
    assert either.get("Sam", "/me").status_code == 401  # the old device stays out
    code = either.ask("Cora", "POST", f"/office/people/{sam}/invitations", json={"days": 1}).json()["code"]
    either.tokens["Sam"] = either.office.join(code, "a new phone", now=either.clock())[0]
    assert ids(either, "Sam") == {note["id"]}
    either.office.assign(sam, site=OWN, now=either.clock())
    assert outcome(either, "Sam", made("withdraw", {}, amends=stop["id"])) == "added"


def test_who_was_forgotten_is_told_by_no_device_either(either: World) -> None:
    stop = made("stop", {"counts": [{"taxon": "pigweed", "count": 1}]})
    assert outcome(either, "Sam", stop) == "added"
    forget(either.ledger, "Sam")
    with either.ledger.connected() as connection:
        assert connection.execute(text("SELECT count(*) FROM office_entry")).scalar() == 0
    assert outcome(either, "Sam", made("withdraw", {}, amends=stop["id"])) == "refused"


@pytest.mark.parametrize("store", ["sqlite", "postgresql"])
def test_of_an_older_ledger_what_came_in_under_a_name_since_it_is_in_the_book_is_theirs(
    store: str, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    where = request.getfixturevalue("postgresql_url") if store == "postgresql" else str(tmp_path / "old.ledger")
    engine = engine_on(where, create=True)
    come = [("2026-03-01T08:00:00+00:00", "Sam"), ("2026-05-01T08:00:00.123456+00:00", "Sam")]
    come += [("2026-05-02T08:00:00+00:00", "Sam Other"), ("2026-05-03T08:00:00+00:00", "SAM")]
    notes = [entry("note", {"words": str(n)}, by=by, site=None, made_at=MADE) for n, (_, by) in enumerate(come)]
    with writing(engine) as connection, connection.begin():
        take_lock(connection)
        migrate(connection, "0006")
        if store == "sqlite":
            connection.exec_driver_sql(f"PRAGMA application_id={0x54657061}")
        connection.execute(
            text("INSERT INTO office_person (id, name, role, made_at) VALUES ('p', 'Sam', 'scout', :at)"),
            {"at": "2026-04-01T08:00:00.000000+00:00"},
        )
        for seq, (one, (got_at, by)) in enumerate(zip(notes, come, strict=True), 1):
            connection.execute(
                text(
                    'INSERT INTO entry (seq, id, kind, "by", made_at, got_at, body, hash) VALUES '
                    "(:seq, :id, 'note', :by, :made_at, :got_at, :body, :hash)"
                ),
                {"seq": seq, "id": one.id, "by": by, "made_at": MADE, "got_at": got_at,
                 "body": json.dumps(one.plain()["body"]), "hash": one.content_hash()},
            )  # fmt: skip
    engine.dispose()
    with Ledger.open(where) as ledger:
        with ledger.connected() as connection:
            found = connection.execute(text("SELECT entry, person FROM office_entry")).all()
        assert [tuple(row) for row in found] == [(notes[1].id, "p")]
        assert Office(ledger).person("p").name == "Sam"


# ------------------------------------------------------------------------------------------- who let the office in


def permission(world: World, who: str) -> dict[str, Any]:
    told = world.get(who, "/today").json()["sites"]
    found: dict[str, Any] = next(site for site in told if site["id"] == OWN)["permission"]
    return found


def page(world: World, who: str) -> str:
    text_: str = world.get(who, f"/sites/{OWN}").text
    return text_


def test_a_scout_is_told_who_let_us_in_and_nothing_else_of_people(either: World) -> None:
    assert permission(either, "Sam")["given"] is None
    assert "Nobody has said yet whether we may go in" in page(either, "Sam")
    yes = {"name": "Hal Moss", "roles": ["farms", "pays"], "contact": "555-0104", "consent_to_enter": True,
           "consent_on": "2026-06-01"}  # fmt: skip
    either.add("yes", "party", yes)
    either.add("owner", "party", {"name": "Ida Quill", "roles": ["owner"], "contact": "555-0199"})
    told = permission(either, "Sam")
    assert (told["given"], told["by"], told["reach"], told["on"]) == (True, "Hal Moss", "555-0104", "2026-06-01")
    text_ = page(either, "Sam")
    assert "Hal Moss" in text_ and "555-0104" in text_
    everything = json.dumps([either.get("Sam", path).text for path in ("/today", "/entries", "/", f"/sites/{OWN}")])
    for hidden in ("Ida Quill", "555-0199", "Farmer of Creek Bottom", "pays"):
        assert hidden not in everything
    # Another's scout is told nothing; nor is who gets letters or samples.
    for who in ("Tess", "Gil", "Lena"):
        for path in ("/today", "/entries", f"/sites/{OWN}", "/", "/letters", "/samples"):
            assert "Hal Moss" not in either.get(who, path).text
            assert "555-0104" not in either.get(who, path).text
    assert "Ida Quill" in page(either, "Cora")


def test_the_last_word_counts_and_who_said_no_is_named_to_nobody_in_the_field(world: World) -> None:
    yes = {"name": "Hal Moss", "roles": ["farms"], "contact": "555-0104", "consent_to_enter": True}
    world.add("yes", "party", yes | {"consent_on": "2026-05-01"})
    world.add("no", "party", {"name": "Ida Quill", "roles": ["owner"], "contact": "555-0199",
              "consent_to_enter": False, "consent_on": "2026-06-10"})  # fmt: skip
    told = permission(world, "Sam")
    assert told["given"] is False
    assert "refused" in told["text"]
    text_ = page(world, "Sam") + world.get("Sam", "/today").text
    for hidden in ("Ida Quill", "555-0199", "Hal Moss", "555-0104"):
        assert hidden not in text_
    assert "Do not go in" in page(world, "Sam")
    # A yes of a day that is still to come is none yet; one that came after the no is the last word.
    world.add("later", "party", yes | {"consent_on": "2026-06-19", "consent_to_enter": True, "name": "Hal Moss jr."})
    assert permission(world, "Sam")["given"] is False
    world.clock.pass_(days=2)
    assert permission(world, "Sam")["by"] == "Hal Moss jr."


def test_a_permission_that_was_taken_back_or_forgotten_is_gone(world: World) -> None:
    body = {"name": "Hal Moss", "roles": ["farms"], "contact": "555-0104", "consent_to_enter": True}
    world.add("yes", "party", body)
    assert permission(world, "Sam")["by"] == "Hal Moss"
    world.add("not so", "withdraw", {}, amends=world.made["yes"])
    assert permission(world, "Sam")["given"] is None
    world.add("again", "party", body)
    forget(world.ledger, "Hal Moss")
    assert permission(world, "Sam")["given"] is None
    assert "Hal Moss" not in page(world, "Sam")
