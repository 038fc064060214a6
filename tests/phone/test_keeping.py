"""Nothing is lost: a server that dies, a phone that is full, emptied or wrong about the day, two phones at odds."""

from __future__ import annotations

import hashlib
import io
import json
import subprocess
import time
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from phone._fake import FILL_THE_DISK, FULL, clock_off, lay_in, stored
from phone._office import MIDDLE, Office
from phone._steps import all_sent, has_worker, key, main_key, more, opened, settled
from phone.conftest import PROFILE, let_in, restarted
from tepal.ledger import Ledger, entry, new_id

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page


def _stops(number: int, site: str = "north-eighty") -> list[dict[str, Any]]:
    made = "2026-06-18T14:00:00-05:00"
    body = {"at": list(MIDDLE), "error_m": 4.0, "row_m": 5.0, "row_cm": 76.2}
    tallies = [{"taxon": "pigweed", "size": "seedling", "count": n} for n in range(1, number + 1)]
    return [
        {"id": new_id(), "kind": "stop", "site": site, "made_at": made, "body": {**body, "counts": [tally]}}
        for tally in tallies
    ]


def _send(page: Page) -> None:
    """As the key "Send now" does; whether it worked is told by what is left."""
    page.get_by_role("button", name="Send now").click()


@pytest.mark.slow
def test_a_server_that_is_killed_twenty_times_has_everything_once(phone: BrowserContext, office: Office) -> None:
    page = opened(phone, office.phone)
    has_worker(page)  # or there is nothing to load anew from
    page.goto(f"{office.phone}#/unsent")
    page.get_by_role("heading", name="Everything has been sent").wait_for()
    office.kill()
    entries = _stops(400)
    hashes = lay_in(page, entries, photos=4, photo_bytes=6_000_000)
    page.reload()
    rng = np.random.default_rng(7)
    left = []
    for _ in range(20):
        office.start()
        _send(page)
        # From before the first answer to the middle of the photos.
        time.sleep(float(rng.uniform(0.0, 0.35)))
        office.kill()
        left.append(len(stored(page, "outbox")) + len(stored(page, "photos")))
        page.get_by_role("button", name="Send now").wait_for()
    assert left[0] > left[-1], "the kills came too early to be in the middle of anything"
    office.start()
    _send(page)
    all_sent(page, 60)
    assert sorted(e.plain()["body"]["counts"][0]["count"] for e in office.entries("stop")) == list(range(1, 401))
    assert {e.plain()["body"]["sha256"] for e in office.entries("photo")} == set(hashes)
    kept = {hashlib.sha256(path.read_bytes()).hexdigest() for path in office.ledger.parent.rglob("*") if path.is_file()}
    assert set(hashes) <= kept
    print(f"left on the phone after each kill: {left}")


def _full(page: Page, office: Office, make_room: Callable[[], None]) -> None:
    """From a screen with two seedlings on a phone that has just run full, to the record."""
    more(page, "Seedlings")
    page.get_by_role("alert").get_by_text("This phone is full").wait_for()
    assert page.get_by_role("group", name="Seedlings").locator("output").inner_text() == "3"
    # The words are there already, from the tap before: that this one failed too stands in the console.
    with page.expect_console_message(lambda said: said.type == "error"):
        main_key(page, "Keep 3 plants")
    page.get_by_role("alert").get_by_text("last tap is not kept").wait_for()
    assert office.entries("stop") == []
    make_room()
    key(page, "Try again")
    page.get_by_role("heading", name="North Eighty").wait_for()
    all_sent(page)
    (stop,) = office.entries("stop")
    assert stop.plain()["body"]["counts"] == [{"taxon": "pigweed", "size": "seedling", "count": 3}]


def test_a_full_phone_says_so_and_keeps_what_was_tapped(phone: BrowserContext, office: Office) -> None:
    """The browser's refusal is made up here: that it is the real one, the next test shows where it can."""
    phone.add_init_script(FULL)
    page = opened(phone, office.phone)
    page.goto(f"{office.phone}#/stop?site=north-eighty")
    more(page, "Seedlings", 2)
    settled(page)
    page.evaluate("window.__full = true")
    _full(page, office, lambda: page.evaluate("window.__full = false"))


@pytest.mark.slow
def test_a_disk_that_is_really_full(_chromium: Browser, office: Office, tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=64m", "tmpfs", str(disk)]
    if subprocess.run(mount, check=False, capture_output=True).returncode:
        pytest.skip("a small disk cannot be mounted here")
    context = None
    try:
        context = restarted(_chromium, disk / "profile")
        let_in(context, office.link("scout"))
        page = opened(context, office.phone)
        page.goto(f"{office.phone}#/stop?site=north-eighty")
        more(page, "Seedlings", 2)
        settled(page)
        told = page.evaluate(FILL_THE_DISK)
        assert told == "QuotaExceededError"
        _full(page, office, lambda: page.evaluate("indexedDB.deleteDatabase('ballast')"))
    finally:
        if context is not None:
            context.close()
        subprocess.run(["umount", "-l", str(disk)], check=False)


def test_a_phone_that_its_system_has_emptied_says_what_is_lost(phone: BrowserContext, office: Office) -> None:
    page = opened(phone, office.phone)
    has_worker(page)
    page.goto(f"{office.phone}#/stop?site=north-eighty")
    more(page, "Seedlings")
    main_key(page, "Keep 1 plant")
    page.get_by_role("heading", name="North Eighty").wait_for()
    all_sent(page)
    phone.set_offline(True)
    page.goto(f"{office.phone}#/stop?site=north-eighty")
    main_key(page, "None here")
    page.get_by_role("link", name="1 to send").wait_for()
    page.goto("about:blank")
    phone.new_cdp_session(page).send(
        "Storage.clearDataForOrigin",
        {"origin": office.url, "storageTypes": "indexeddb,cache_storage,service_workers,local_storage"},
    )
    phone.set_offline(False)
    page = opened(phone, office.phone)
    page.get_by_text("1 entry had not been sent and is lost").wait_for()
    key(page, "I have read this")
    page.get_by_text("is lost").wait_for(state="detached")
    # What had been sent comes back from the office.
    page.goto(f"{office.phone}#/written?site=north-eighty")
    page.get_by_text("Stop: 1 × pigweed, not named (seedlings)").wait_for()
    assert len(office.entries("stop")) == 1


def test_a_record_that_came_back_from_yesterdays_copy_gets_again_what_was_handed_in_since(
    phone: BrowserContext, office: Office, tmp_path: Path
) -> None:
    """And though others wrote in it meanwhile, so that it is longer than the one that was lost."""
    from tepal.cli import main

    page = opened(phone, office.phone)
    lay_in(page, _stops(2))
    page.reload()
    all_sent(page)
    copy = str(tmp_path / "yesterday.tepal")
    assert main(["backup", copy, "--ledger", str(office.ledger)]) == 0
    later = _stops(4)[2:]
    correction = later[0] | {"id": new_id(), "amends": later[0]["id"], "body": later[0]["body"] | {"words": "again"}}
    lay_in(page, [*later, correction])
    page.reload()
    all_sent(page)
    # Seen, so that the phone's cursor stands behind what is going to be lost.
    page.wait_for_function(
        """async () => {
          const opening = indexedDB.open("tepal");
          const db = await new Promise((done) => { opening.onsuccess = () => done(opening.result); });
          const asked = db.transaction("today").objectStore("today").get("cursor");
          const cursor = await new Promise((done) => { asked.onsuccess = () => done(asked.result); });
          db.close();
          return cursor?.value.after >= 10;
        }"""
    )
    office.kill()
    for path in office.ledger.parent.glob(f"{office.ledger.name}*"):
        if path.is_file():
            path.unlink()
    assert main(["restore", copy, "--ledger", str(office.ledger)]) == 0
    assert len(office.entries("stop")) == 2
    with Ledger.open(str(office.ledger)) as ledger:
        ledger.add(entry("note", {"words": f"note {n}"}, by="office", site="north-eighty") for n in range(9))
    office.start()
    page.goto(f"{office.phone}#/unsent")
    _send(page)
    for _ in range(300):
        if len(stops := office.entries("stop")) == 5:
            break
        page.wait_for_timeout(100)
    assert [e.id for e in stops[2:]] == [one["id"] for one in (*later, correction)]
    assert {e.by for e in stops} == {"Scout One"}
    all_sent(page)
    page.goto(f"{office.phone}#/written?site=north-eighty")
    page.get_by_text("note 8").wait_for()


def test_a_clock_that_is_a_day_ahead_is_shown_and_its_days_corrected(
    _chromium: Browser, office: Office, scout: str
) -> None:
    context = _chromium.new_context(**PROFILE)
    let_in(context, scout)
    context.add_init_script(clock_off(86_400))
    page = context.new_page()
    context.set_offline(False)
    page.goto(office.phone)
    page.get_by_text("1 day ahead").or_(page.get_by_text("24 hours ahead")).wait_for()
    # Known to be wrong: the office's own time goes into the entry.
    page.goto(f"{office.phone}#/stop?site=north-eighty")
    main_key(page, "None here")
    page.get_by_role("heading", name="North Eighty").wait_for()
    all_sent(page)
    (stop,) = office.entries("stop")
    assert stop.got_at is not None
    assert abs(stop.got_at - stop.made_at).total_seconds() < 3_600
    context.close()


def test_days_written_before_the_clock_was_known_to_be_wrong_are_corrected_by_one_tap(
    _chromium: Browser, office: Office, scout: str
) -> None:
    context = _chromium.new_context(**PROFILE)
    let_in(context, scout)
    page = opened(context, office.phone)
    has_worker(page)
    page.close()
    context.set_offline(True)
    context.add_init_script(clock_off(-2 * 86_400))
    page = opened(context, office.phone)
    page.goto(f"{office.phone}#/stop?site=north-eighty")
    more(page, "Seedlings")
    main_key(page, "Keep 1 plant")
    page.get_by_role("heading", name="North Eighty").wait_for()
    context.set_offline(False)
    all_sent(page)
    page.goto(f"{office.phone}#/today")
    page.get_by_text("2 days behind").wait_for()
    key(page, "Correct the day of 1 entry")
    page.get_by_role("button", name="Correct the day").wait_for(state="detached")
    all_sent(page)
    first, second = office.entries("stop")
    assert second.amends == first.id
    assert str(second.plain()["body"]["on"]) > first.made_at.date().isoformat()
    context.close()


def test_two_phones_that_amend_one_entry_are_both_heard(_chromium: Browser, office: Office, scout: str) -> None:
    one, two = _chromium.new_context(**PROFILE), _chromium.new_context(**PROFILE)
    let_in(one, scout, "First")
    let_in(two, office.link("again"), "Second")
    page = opened(one, office.phone)
    page.goto(f"{office.phone}#/stop?site=north-eighty")
    more(page, "Seedlings")
    main_key(page, "Keep 1 plant")
    page.get_by_role("heading", name="North Eighty").wait_for()
    all_sent(page)
    other = opened(two, office.phone)
    for phone, times in ((page, 1), (other, 3)):
        phone.goto(f"{office.phone}#/written?site=north-eighty")
        phone.get_by_text("Stop: 1 × pigweed").wait_for()
        phone.context.set_offline(True)
        key(phone, "Correct or take back")
        key(phone, "Correct it")
        more(phone, "Seedlings", times)
        main_key(phone, f"Keep {times + 1} plants")
        phone.get_by_role("link", name="1 to send").wait_for()
    for phone in (page, other):
        phone.context.set_offline(False)
        all_sent(phone)
    stops = office.entries("stop")
    assert sorted(e.plain()["body"]["counts"][0]["count"] for e in stops) == [1, 2, 4]
    assert {e.amends for e in stops[1:]} == {stops[0].id}
    page.goto(f"{office.phone}#/unsent")
    _send(page)
    page.goto(f"{office.phone}#/written?site=north-eighty")
    page.get_by_text("Corrected twice, differently").first.wait_for()
    assert page.get_by_text("Corrected twice, differently").count() == 2
    one.close()
    two.close()


def test_what_the_office_refuses_is_shown_kept_and_can_be_set_right(phone: BrowserContext, office: Office) -> None:
    page = opened(phone, office.phone)
    good, bad = _stops(2)
    bad["body"]["row_m"] = -1.0
    lay_in(page, [good, bad])
    page.goto(f"{office.phone}#/unsent")
    page.reload()
    _send(page)
    page.get_by_role("link", name="1 refused").wait_for()
    page.get_by_role("heading", name="The office did not take these").wait_for()
    assert [e.id for e in office.entries("stop")] == [good["id"]]
    key(page, "Correct it")
    key(page, "ft of row", exact=False)
    key(page, "10 ft of row")
    main_key(page, "Good")
    main_key(page, "Keep 2 plants")
    all_sent(page)
    assert [e.plain()["body"]["counts"][0]["count"] for e in office.entries("stop")] == [1, 2]
    (aside,) = stored(page, "outbox")
    assert (aside["id"], aside["state"]) == (bad["id"], "aside")


def test_the_file_of_what_was_not_sent_is_taken_by_the_ledger(
    phone: BrowserContext, office: Office, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from tepal.cli import main

    page = opened(phone, office.phone)
    phone.set_offline(True)
    page.evaluate("delete Navigator.prototype.canShare")
    (sha,) = lay_in(page, _stops(3), photos=1, photo_bytes=50_000)
    page.goto(f"{office.phone}#/unsent")
    with page.expect_download() as waiting:
        key(page, "Save it as a file")
    raw = Path(waiting.value.path()).read_bytes()
    with zipfile.ZipFile(io.BytesIO(raw)) as packed:
        assert packed.testzip() is None
        packed.extractall(tmp_path / "unsent")
    assert [path.stem for path in (tmp_path / "unsent" / "photos").iterdir()] == [sha]
    office.kill()
    assert main(["take", str(tmp_path / "unsent"), "--ledger", str(office.ledger), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["added"], told["refused"]) == (4, [])
    assert {e.by for e in office.entries("stop")} == {"Scout One"}
    # Sent later all the same, nothing is there twice.
    office.start()
    phone.set_offline(False)
    all_sent(page)
    assert len(office.entries("stop")) == 3


def test_an_older_store_is_carried_over_with_all_that_was_in_it(phone: BrowserContext, office: Office) -> None:
    """The store as its first version made it, with an entry that has not been sent."""
    page = phone.new_page()
    page.goto(f"{office.phone}icon.svg")
    (entry,) = _stops(1)
    page.evaluate(
        """async (entry) => {
          await new Promise((done) => { indexedDB.deleteDatabase("tepal").onsuccess = done; });
          const db = await new Promise((done, fail) => { const r = indexedDB.open("tepal", 1);
            r.onupgradeneeded = () => { const db = r.result;
              const entries = db.createObjectStore("entries", { keyPath: "id" });
              entries.createIndex("site", "entry.site"); entries.createIndex("seq", "seq");
              const outbox = db.createObjectStore("outbox", { keyPath: "n", autoIncrement: true });
              outbox.createIndex("id", "id", { unique: true });
              db.createObjectStore("photos", { keyPath: "sha256" });
              db.createObjectStore("track", { keyPath: "n", autoIncrement: true }).createIndex("walk", "walk");
              for (const name of ["drafts", "today", "settings"]) db.createObjectStore(name, { keyPath: "key" }); };
            r.onsuccess = () => done(r.result); r.onerror = () => fail(r.error); });
          const tx = db.transaction(["entries", "outbox", "drafts"], "readwrite");
          tx.objectStore("entries").put({ id: entry.id, entry, here: true });
          tx.objectStore("outbox").put({ id: entry.id, entry, state: "unsent", tries: 0 });
          tx.objectStore("drafts").put({ key: "walk", at: entry.made_at, value: { id: crypto.randomUUID(),
            site: "north-eighty", started: entry.made_at, paused: false, rested: 0 } });
          await new Promise((done) => { tx.oncomplete = done; });
          db.close(); }""",
        entry,
    )
    page = opened(phone, office.phone)
    main_key(page, "Back to the walk")
    page.get_by_role("heading", name="North Eighty").wait_for()
    all_sent(page)
    assert [e.id for e in office.entries("stop")] == [entry["id"]]


def test_two_tabs_send_one_entry_once(phone: BrowserContext, office: Office) -> None:
    first, second = opened(phone, office.phone), opened(phone, office.phone)
    sent: list[str] = []
    phone.on("request", lambda request: sent.append(request.url) if request.method == "POST" else None)
    lay_in(first, _stops(5))
    for page in (first, second):
        page.goto(f"{office.phone}#/unsent")
        page.reload()
    for page in (first, second):
        _send(page)
    for page in (first, second):
        all_sent(page)
    assert len(office.entries("stop")) == 5
    assert len([url for url in sent if url.endswith("/entries")]) == 1
