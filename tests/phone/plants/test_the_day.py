"""A scout's day in one go: installed, without signal, restarted, and every tap of it in the record once."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from _chromium import ARGUMENTS, executable
from phone._fake import RECEIVER, stored
from phone._office import Office
from phone._steps import all_sent, has_worker, key, main_key, more, opened, stop
from phone._walker import Receiver
from phone.conftest import PATIENCE_MS, PROFILE, let_in
from phone.plants._botanist import Botanist, leaf_photo
from tepal.ledger.formats._sounds import read_sound

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

# A microphone that hears a beep, in place of the machine's.
MICROPHONE = ["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"]
COUNT_TAPS = "addEventListener('click', () => (window.taps = (window.taps ?? 0) + 1), true)"
STOPS: list[dict[str, int]] = [
    {}, {"Seedlings": 3}, {}, {"Up to 4 in": 2, "4 to 12 in": 1}, {}, {},
    {"Over 3 ft": 1}, {}, {"Seedlings": 1}, {}, {}, {},
]  # fmt: skip
PLANTS = {
    1: ("AMAPA", "vegetative"),
    3: ("AMATU", "vegetative"),
    6: ("AMARE", "reproductive"),
    8: ("CHEAL", "seedling_2-4_leaf"),
    10: ("AMAPA", "reproductive"),
}
SAID_AT = 1


def _browser(chromium: Browser, folder: Path) -> BrowserContext:
    profile = {**PROFILE, "permissions": ["geolocation", "microphone"]}
    arguments = [*ARGUMENTS, *MICROPHONE]
    kind = chromium.browser_type
    context = kind.launch_persistent_context(str(folder), executable_path=executable(), args=arguments, **profile)
    context.set_default_timeout(PATIENCE_MS)
    context.add_init_script(RECEIVER)
    context.add_init_script(COUNT_TAPS)
    return context


def _taps(page: Page) -> int:
    return int(page.evaluate("window.taps ?? 0"))


def _look_at_a_plant(page: Page, tables: Path, kind: str, stage: str, number: int) -> Botanist:
    """From the walk to the walk: a photo, looks until it says what to do, kept."""
    key(page, "A plant")
    page.locator(".answers").wait_for()
    person = Botanist(page, tables, kind, stage)
    person.photograph(leaf_photo(0.6 + 0.1 * number, seed=number, size=(600, 800))[0])
    page.get_by_role("img", name="Photo 1").wait_for()
    person.look()
    person.tap(person.button("Keep this plant"))
    page.get_by_text("Kept on this phone.").wait_for()
    key(page, "Back")
    page.locator(".key.main", has_text="Stop here").wait_for()
    return person


def _stop_with_words(page: Page, counts: dict[str, int]) -> None:
    """Counts, and what there is to say of them, spoken."""
    main_key(page, "Stop here")
    for size, count in counts.items():
        more(page, size, count)
    key(page, "Say it")
    key(page, "Record what you say")
    page.wait_for_timeout(2_600)
    # Who goes on has said what there was to say; the last second is kept all the same.
    main_key(page, "Good")
    main_key(page, "Keep")
    page.locator(".key.main", has_text="Stop here").wait_for()


@pytest.mark.slow
def test_a_scouts_day_is_in_the_record_once_and_a_letter_is_made_of_it(
    _chromium: Browser, office: Office, scout: str, tables: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "profile"
    context = _browser(_chromium, folder)
    let_in(context, scout)
    page = opened(context, office.phone)
    has_worker(page)
    session = context.new_cdp_session(page)
    errors = session.send("Page.getInstallabilityErrors")["installabilityErrors"]
    assert [one["errorId"] for one in errors if one["errorId"] != "in-incognito"] == []
    context.close()

    office.kill()
    context = _browser(_chromium, folder)
    context.set_offline(True)
    page = opened(context, office.phone)
    main_key(page, "Start walking")
    receiver = Receiver()
    page.wait_for_function("'__fix' in window")
    receiver.walk(page, 3)
    key(page, "Yes, I am")
    page.get_by_role("heading", name="North Eighty").wait_for()
    stop_times: list[float] = []
    stop_taps: list[int] = []
    looked: list[tuple[str, str, int, int, float]] = []
    for number, counts in enumerate(STOPS):
        receiver.walk(page, 12)
        if number == 3:
            key(page, "Rest")
            page.get_by_role("button", name="Go on").wait_for()
            receiver.walk(page, 5)
            key(page, "Go on")
            page.get_by_role("button", name="Rest").wait_for()
        if number == 6:
            receiver.lose_sight(90)
            receiver.walk(page, 5)
        if number == 9:
            # The battery is dead; the phone comes up again where it was.
            context.close()
            context = _browser(_chromium, folder)
            context.set_offline(True)
            page = context.new_page()
            page.goto(f"{office.phone}#/walk")
            page.locator(".key.main", has_text="Stop here").wait_for()
            receiver.walk(page, 2)
        before, since = _taps(page), time.monotonic()
        if number == SAID_AT:
            _stop_with_words(page, counts)
        else:
            stop(page, counts)
            stop_times.append(time.monotonic() - since)
            stop_taps.append(_taps(page) - before)
        if number in PLANTS:
            since = time.monotonic()
            person = _look_at_a_plant(page, tables, *PLANTS[number], number)
            looked.append((*PLANTS[number], person.taps, len(person.asked), time.monotonic() - since))
    receiver.walk(page, 10)
    key(page, "Finish")
    main_key(page, "No, only the 8 that I counted")
    main_key(page, "None, or I do not know")
    main_key(page, "Keep this walk")
    # 12 stops, a walk, 5 plants, 5 photos and a voice note as entries; 6 originals.
    page.get_by_role("link", name="30 to send").wait_for()
    (voice,) = [one for one in stored(page, "entries") if one["entry"]["kind"] == "sound"]

    office.start()
    context.set_offline(False)
    all_sent(page, 60)
    assert stored(page, "photos") == stored(page, "voices") == stored(page, "outbox") == []

    made = [one for one in office.entries() if one.by == "Scout One"]
    assert Counter(one.kind for one in made) == {"stop": 12, "walk": 1, "plant": 5, "photo": 5, "sound": 1}
    stops = [one for one in made if one.kind == "stop"]
    plain = [one.plain()["body"] for one in stops]
    assert [sum(tally["count"] for tally in body["counts"]) for body in plain] == [sum(c.values()) for c in STOPS]
    (walk,) = [one for one in made if one.kind == "walk"]
    assert {body["walk"] for body in plain} == {walk.id}
    # Rest, lost sight and the restart part the track.
    assert len(walk.plain()["body"]["track"]["coordinates"]) == 4
    plants = [one.plain()["body"] for one in made if one.kind == "plant"]
    assert [body["stage"] for body in plants] == [stage for _, stage in PLANTS.values()]
    originals = office.ledger.with_name(f"{office.ledger.name}.photos")
    for body in plants:
        (digest,) = body["photos"]
        assert hashlib.sha256((originals / f"{digest}.jpg").read_bytes()).hexdigest() == digest
    (sound,) = [one for one in made if one.kind == "sound"]
    body = sound.plain()["body"]
    assert (sound.id, body["of"], sound.site) == (voice["id"], stops[SAID_AT].id, "north-eighty")
    recording = (originals / f"{body['sha256']}.webm").read_bytes()
    assert (len(recording), read_sound(recording, file="it")) == (body["size_bytes"], body["media_type"])
    assert body["seconds"] >= 2
    context.close()
    _hear(_chromium, office, body["sha256"])

    day = stops[0].made_at.date().isoformat()
    letter = _tepal(
        "letter", "north-eighty", "--ledger", str(office.ledger), "--as-of", day, "--out", str(tmp_path / "o")
    )
    assert Path(letter["pdf"]).read_bytes().startswith(b"%PDF")
    read = _tepal("reading", "north-eighty", "--ledger", str(office.ledger), "--as-of", day)
    assert read["stand"]["counted_plants"] == 8
    assert read["taxa"]
    with capsys.disabled():
        print(f"\na stop: {min(stop_taps)} to {max(stop_taps)} taps, {np.median(stop_times):.2f} s of machine")
        for kind, stage, taps, looks, seconds in looked:
            print(f"{kind} {stage}: {taps} taps, {looks} looks, {seconds:.1f} s of machine, the photo among them")


def _hear(chromium: Browser, office: Office, sha256: str) -> None:
    """The office plays it on the site's page, under the page's own policy."""
    context = chromium.new_context()
    sent = {"code": office.codes["coordinator"], "device": "Desk", "hold": "cookie"}
    assert context.request.post(f"{office.url}/join", data=sent, headers={"Tepal-Request": "1"}).status == 201
    page = context.new_page()
    said: list[str] = []
    page.on("console", lambda one: said.append(one.text) if one.type == "error" else None)
    page.goto(f"{office.url}/sites/north-eighty")
    player = page.locator(f"audio[src='/sounds/{sha256}']")
    length = player.evaluate(
        """async (one) => { one.preload = "auto"; one.load();
          await new Promise((done, fail) => { one.onloadeddata = done; one.onerror = () => fail(one.error.message); });
          one.muted = true; await one.play(); one.pause(); return one.readyState; }"""
    )
    assert length >= 2
    assert said == []
    context.close()


def _tepal(*arguments: str) -> dict[str, Any]:
    command = [sys.executable, "-m", "tepal", *arguments, "--json"]
    return dict(json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout))
