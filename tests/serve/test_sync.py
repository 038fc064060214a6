"""Entries in and out: answered one by one, in order, nothing twice, nothing lost, and only what is theirs."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest

from _served import MADE, OTHER, OWN, World, again
from tepal.ledger import new_id


def note(words: str, site: str | None = OWN, **more: Any) -> dict[str, Any]:
    return {"id": new_id(), "kind": "note", "site": site, "made_at": MADE, "body": {"words": words}} | more


def test_each_entry_is_answered_in_the_order_given_and_what_one_breaks_harms_no_other(either: World) -> None:
    good, late = note("one"), note("two")
    wrong_kind, no_site = note("x", kind="rumour"), note("x", site=OTHER)
    answers = either.hand_in("Sam", good, wrong_kind, late, good, no_site, {"id": 7}, {"id": good["id"]})
    outcomes = [answer["outcome"] for answer in answers]
    assert outcomes == ["added", "refused", "added", "already", "refused", "refused", "refused"]
    assert [answer["id"] for answer in answers[:5]] == [e["id"] for e in (good, wrong_kind, late, good, no_site)]
    assert answers[0]["seq"] == answers[3]["seq"] == answers[2]["seq"] - 1
    for answer in answers:
        problem = answer["problem"]
        assert (problem is None) == (answer["outcome"] != "refused")
        if problem is not None:
            assert {"type", "title", "status", "where", "rule", "step"} <= set(problem)
    again = either.hand_in("Sam", good, late)
    assert [(a["outcome"], a["seq"]) for a in again] == [("already", answers[0]["seq"]), ("already", answers[2]["seq"])]
    changed = either.hand_in("Sam", good | {"body": {"words": "otherwise"}})
    assert changed[0]["outcome"] == "refused"
    assert "never changed" in changed[0]["problem"]["rule"]


def test_who_says_it_is_who_holds_the_device(world: World) -> None:
    sent = note("mine") | {"by": "Cora", "seq": 1, "got_at": "2020-01-01T00:00:00Z"}
    assert world.hand_in("Sam", sent)[0]["outcome"] == "added"
    kept = world.ledger.get(sent["id"])
    assert kept is not None
    assert kept.by == "Sam"
    assert kept.got_at is not None
    assert kept.got_at.year > 2020


def test_what_comes_out_is_what_stands_in_the_ledger_in_order(world: World) -> None:
    seen = world.seen("Cora")
    kept = world.ledger.entries()
    assert [one["id"] for one in seen] == [e.id for e in kept]
    assert [one["seq"] for one in seen] == [e.seq for e in kept]
    for one, e in zip(seen, kept, strict=True):
        assert {key: value for key, value in one.items() if key not in {"seq", "got_at"}} == e.plain()


def test_a_cursor_in_small_steps_misses_nothing_and_repeats_nothing(either: World) -> None:
    either.hand_in("Sam", *[note(f"{n}") for n in range(25)])
    either.hand_in("Cora", *[note(f"{n}", site=OTHER) for n in range(25)])
    for who in ("Cora", "Sam", "Tess", "Gil", "Lena"):
        whole, found, after = either.seen(who), [], 0
        for _ in range(200):
            page = either.get(who, f"/entries?after={after}&limit=3").json()
            assert len(page["entries"]) <= 3
            assert page["next"] >= after
            found += page["entries"]
            after = page["next"]
            if not page["more"]:
                break
        assert found == whole
        assert after == either.ledger.last_seq
        assert either.get(who, f"/entries?after={after}").json()["entries"] == []


def test_what_a_scout_sees_is_of_their_sites_and_what_they_said_of_none(world: World) -> None:
    of_none = note("of nowhere yet", site=None)
    theirs = note("of nowhere of mine", site=None)
    assert world.hand_in("Sam", of_none)[0]["outcome"] == "added"
    assert world.hand_in("Tess", theirs)[0]["outcome"] == "added"
    for who, site, own in (("Sam", OWN, of_none), ("Tess", OTHER, theirs)):
        seen = world.seen(who)
        assert {one.get("site") for one in seen} == {site, None}
        assert [one["id"] for one in seen if "site" not in one] == [own["id"]]
    # Who farms there and who called is the office's to know.
    of_people = [e for e in world.ledger.entries(OWN) if e.kind in {"party", "report"}]
    assert len(of_people) == 2
    assert len(world.seen("Sam")) == 1 + len(world.ledger.entries(OWN)) - len(of_people)


def test_the_view_changes_with_what_is_assigned_and_the_device_starts_anew(either: World) -> None:
    first = either.get("Sam", "/entries").json()
    assert first["reset"] is False
    same = either.get("Sam", f"/entries?after={first['next']}&view={first['view']}").json()
    assert (same["reset"], same["view"], same["entries"]) == (False, first["view"], [])
    given = {"site": OTHER}
    assert either.ask("Cora", "POST", f"/office/people/{either.ids['Sam']}/assign", json=given).status_code == 204
    more = either.get("Sam", f"/entries?after={first['next']}&view={first['view']}").json()
    assert more["reset"] is True
    assert {one["site"] for one in more["entries"]} == {OWN, OTHER}
    assert either.ask("Cora", "POST", f"/office/people/{either.ids['Sam']}/unassign", json=given).status_code == 204
    back = either.get("Sam", f"/entries?after={more['next']}&view={more['view']}").json()
    assert back["reset"] is True
    assert back["view"] == first["view"]
    assert {one["site"] for one in back["entries"]} == {OWN}
    assert either.get("Sam", "/me").json()["view"] == either.get("Sam", "/today").json()["view"] == first["view"]


def test_what_was_forgotten_is_forgotten_on_the_devices_too(either: World) -> None:
    from tepal.ledger import forget

    told = {"id": new_id(), "kind": "party", "site": OWN, "made_at": MADE}
    either.hand_in("Sam", told | {"body": {"name": "Farmer of Creek Bottom", "roles": ["decides"]}})
    before = either.get("Sam", "/entries").json()
    assert "Farmer of Creek Bottom" in json.dumps(before)
    forget(either.ledger, "Farmer of Creek Bottom")
    after = either.get("Sam", f"/entries?after={before['next']}&view={before['view']}").json()
    assert after["reset"] is True
    assert "Farmer of Creek Bottom" not in json.dumps(after)


def test_a_record_that_came_back_from_a_copy_is_known_by_its_places(world: World, tmp_path: Path) -> None:
    """However far it has grown since: what stands at a device's place is not what stood there."""
    (tmp_path / "copy").mkdir()
    back = again(world, tmp_path / "copy")
    with back.ledger:
        world.hand_in("Sam", *[note(f"lost {n}") for n in range(3)])
        for who in ("Sam", "Cora"):
            had = world.get(who, "/entries").json()
            asked = f"/entries?after={had['next']}&view={had['view']}&mark={had['mark']}"
            same = world.get(who, asked).json()
            assert (same["restored"], same["reset"], same["entries"]) == (False, False, [])
            short = back.get(who, asked).json()
            assert (short["restored"], short["reset"]) == (True, True)
        back.hand_in("Sam", *[note(f"new {n}") for n in range(7)])
        for who in ("Sam", "Cora"):
            had = world.get(who, "/entries").json()
            found = back.get(who, f"/entries?after={had['next']}&view={had['view']}&mark={had['mark']}").json()
            assert (found["restored"], found["reset"]) == (True, True)
            assert found["entries"] == back.seen(who)
            on = back.get(who, f"/entries?after={found['next']}&view={found['view']}&mark={found['mark']}").json()
            assert (on["restored"], on["reset"], on["entries"]) == (False, False, [])
        back.close()


def test_the_mark_of_a_place_stays_when_what_stands_there_is_forgotten(world: World) -> None:
    from tepal.ledger import forget

    told = {"id": new_id(), "kind": "party", "site": OWN, "made_at": MADE}
    world.hand_in("Cora", told | {"body": {"name": "Farmer of Creek Bottom", "roles": ["decides"]}})
    had = world.get("Sam", "/entries").json()
    forget(world.ledger, "Farmer of Creek Bottom")
    found = world.get("Sam", f"/entries?after={had['next']}&view={had['view']}&mark={had['mark']}").json()
    assert (found["reset"], found["restored"]) == (True, False)


def test_a_scout_drafts_a_new_site_and_sees_it_from_then_on(either: World) -> None:
    site = {"id": new_id(), "kind": "site", "site": "hay-road-3f2a", "made_at": MADE}
    site |= {"body": {"name": "Hay Road", "ground": "roadside"}}
    stop = {"id": new_id(), "kind": "stop", "site": "hay-road-3f2a", "made_at": MADE, "body": {"counts": []}}
    early = either.hand_in("Sam", stop)
    assert early[0]["outcome"] == "refused"
    assert [a["outcome"] for a in either.hand_in("Sam", site, stop)] == ["added", "added"]
    assert {one["id"] for one in either.get("Sam", "/today").json()["sites"]} == {OWN, "hay-road-3f2a"}
    assert {one["id"] for one in either.get("Tess", "/today").json()["sites"]} == {OTHER}
    taken = site | {"id": new_id()}
    assert either.hand_in("Tess", taken)[0]["outcome"] == "refused"


@pytest.mark.parametrize("what", ["own party", "other stop"])
def test_a_scout_corrects_what_they_entered_and_nothing_else(world: World, what: str) -> None:
    old = world.ledger.get(world.made[what])
    assert old is not None
    withdrawn = {"id": new_id(), "kind": "withdraw", "site": old.site, "made_at": MADE, "amends": old.id, "body": {}}
    assert world.hand_in("Sam", withdrawn)[0]["outcome"] == "refused"
    mine = note("mine")
    undo = {"id": new_id(), "kind": "withdraw", "site": OWN, "made_at": MADE, "amends": mine["id"], "body": {}}
    assert [a["outcome"] for a in world.hand_in("Sam", mine, undo)] == ["added", "added"]


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("letter", {"text": "All is well."}),
        ("sample", {"step": "result", "taxon": "AMAPA", "sure": 1.0}),
        ("forgotten", {"was": "note"}),
    ],
)
def test_some_things_are_not_a_scouts_to_say(world: World, kind: str, body: dict[str, Any]) -> None:
    sent = {"id": new_id(), "kind": kind, "site": OWN, "made_at": MADE, "body": body}
    sent |= {"forgotten": "ab" * 32} if kind == "forgotten" else {}
    assert world.hand_in("Sam", sent)[0]["outcome"] == "refused"
    assert world.hand_in("Cora", sent)[0]["outcome"] == ("refused" if kind == "forgotten" else "added")


def test_a_call_that_is_handed_over_is_seen_and_no_more_of_its_site(world: World) -> None:
    call = world.made["other report"]
    digest = world.made["other picture"]
    of_call = world.add("call photo", "photo", {
        "sha256": digest, "media_type": "image/jpeg", "size_bytes": 5, "of": call,
    }, site=OTHER)  # fmt: skip
    assert world.get("Sam", "/today").json()["calls"] == []
    world.office.assign(world.ids["Sam"], entry=call, now=world.clock())
    told = world.get("Sam", "/today").json()
    assert [one["entry"] for one in told["calls"]] == [call]
    assert [one["id"] for one in told["sites"]] == [OWN]
    strange = [one["id"] for one in world.seen("Sam") if one["site"] == OTHER]
    assert strange == [call, of_call]
    assert world.get("Sam", f"/photos/{digest}").status_code == 200


def test_the_clocks_are_compared_at_the_moment_of_sending(world: World) -> None:
    def skew(device_time: Any) -> Any:
        return world.ask("Sam", "POST", "/entries", json={"device_time": device_time, "entries": []})

    # The server's clock stands at 19:00:00 UTC, which is 14:00:00 in Larkmoor.
    assert skew("2026-06-18T14:00:00-05:00").json()["skew_s"] == 0
    assert skew("2026-06-18T14:02:30.5-05:00").json()["skew_s"] == 150.5
    assert skew("2026-06-18T18:59:00Z").json()["skew_s"] == -60
    assert skew(None).json()["skew_s"] is None
    assert skew("2026-06-18T14:00:00-05:00").json()["server_time"] == "2026-06-18T19:00:00.000Z"
    for wrong in ("2026-06-18T14:00:00", "yesterday", 5):
        assert skew(wrong).status_code == 422


def test_too_many_or_too_large_is_refused_and_nothing_of_it_is_kept(world: World) -> None:
    before = world.ledger.last_seq
    many = {"entries": [note("x") for _ in range(501)]}
    assert world.ask("Sam", "POST", "/entries", json=many).status_code == 422
    huge = {"entries": [note("x" * 19_000) for _ in range(120)]}
    assert world.ask("Sam", "POST", "/entries", json=huge).status_code == 413
    assert world.ledger.last_seq == before
    track = [[-96 + n / 1e5, 41.5] for n in range(9000)]
    long = {"id": new_id(), "kind": "walk", "site": OWN, "made_at": MADE}
    long |= {"body": {"track": {"type": "LineString", "coordinates": track}}}
    answers = world.hand_in("Sam", long, note("short"))
    assert [a["outcome"] for a in answers] == ["refused", "added"]
    assert "64,000 bytes" in answers[0]["problem"]["rule"]


def test_sent_often_in_any_order_and_by_several_at_once_all_is_there_once(either: World) -> None:
    from concurrent.futures import ThreadPoolExecutor

    entries = [note(f"{n}") for n in range(60)]
    rng = random.Random(6)
    batches = [rng.sample(entries, 20) for _ in range(24)] + [entries]
    with ThreadPoolExecutor(6) as pool:
        answers = list(pool.map(lambda batch: either.hand_in("Sam", *batch), batches))
    added = [a["id"] for batch in answers for a in batch if a["outcome"] == "added"]
    assert sorted(added) == sorted(e["id"] for e in entries)
    assert {a["outcome"] for batch in answers for a in batch} == {"added", "already"}
    seqs = [e.seq for e in either.ledger.entries()]
    assert seqs == list(range(1, len(seqs) + 1))
