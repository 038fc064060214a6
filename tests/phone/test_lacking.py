"""A phone that lacks what Chromium has: no wake-up, no promise to keep, no lock of the screen, no buzz, no microphone.

So Safari on a telephone is said to be. It is Chromium with these taken away: what else differs there is not shown.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from phone._office import Office
from phone._readable import faults
from phone._steps import all_sent, has_worker, key, main_key, opened, stop
from phone.conftest import PATIENCE_MS, PROFILE, let_in

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, BrowserContext

WITHOUT = """
(() => {
  delete ServiceWorkerRegistration.prototype.sync; delete window.SyncManager;
  delete Navigator.prototype.wakeLock; delete window.WakeLock;
  delete Navigator.prototype.vibrate;
  delete Navigator.prototype.permissions; delete window.Permissions;
  delete window.MediaRecorder;
  delete Navigator.prototype.canShare; delete Navigator.prototype.share;
  StorageManager.prototype.persist = async () => false;
  StorageManager.prototype.persisted = async () => false;
})();
"""


@pytest.fixture
def lacking(_chromium: Browser, office: Office, scout: str) -> Iterator[BrowserContext]:
    context = _chromium.new_context(**PROFILE)
    context.set_default_timeout(PATIENCE_MS)
    context.add_init_script(WITHOUT)
    let_in(context, scout)
    yield context
    context.close()


def test_a_walk_on_a_phone_that_lacks_nearly_all(lacking: BrowserContext, office: Office) -> None:
    page = opened(lacking, office.phone)
    problems: list[str] = []
    page.on("pageerror", lambda error: problems.append(str(error)))
    has_worker(page)
    office.kill()
    key(page, "North Eighty", exact=False)
    main_key(page, "Walk it")
    page.get_by_text("cannot keep its screen on").wait_for()
    stop(page, {"Seedlings": 1})
    main_key(page, "Stop here")
    key(page, "Say it")
    page.get_by_text("does not let the app hear you").wait_for()
    page.get_by_label("Or in writing").fill("by the gate")
    main_key(page, "Good")
    main_key(page, "None here")
    page.locator(".key.main", has_text="Stop here").wait_for()
    page.goto(f"{office.phone}#/unsent")
    page.get_by_text("only while the app is open").wait_for()
    assert faults(page) == {}
    page.goto(f"{office.phone}#/settings")
    page.get_by_text("has not promised to keep").wait_for()
    key(page, "Ask the phone to keep it")
    page.get_by_text("has not promised to keep").wait_for()
    assert faults(page) == {}
    page.goto(f"{office.phone}#/walk")
    key(page, "Finish")
    main_key(page, "No, only the 1 that I counted")
    main_key(page, "None, or I do not know")
    main_key(page, "Keep this walk")
    office.start()
    page.goto(f"{office.phone}#/unsent")
    key(page, "Send now")
    all_sent(page)
    assert [e.kind for e in office.entries() if e.by == "Scout One"] == ["stop", "stop", "walk"]
    assert problems == []


def test_a_phone_that_does_not_tell_how_much_room_it_has(lacking: BrowserContext, office: Office) -> None:
    lacking.add_init_script("delete StorageManager.prototype.estimate")
    page = opened(lacking, office.phone)
    page.goto(f"{office.phone}#/settings")
    page.get_by_text("does not tell how much room").wait_for()


def test_a_screen_lock_that_is_refused_is_told(lacking: BrowserContext, office: Office) -> None:
    """As by a phone that is low on battery."""
    lacking.add_init_script(
        "Object.defineProperty(navigator, 'wakeLock', { value: { request: () => Promise.reject(new Error('low')) } })"
    )
    page = opened(lacking, office.phone)
    main_key(page, "Start walking")
    page.get_by_text("cannot keep its screen on").wait_for()
