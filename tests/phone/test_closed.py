"""With the app closed: where a browser wakes the worker when there is signal again, the worker sends what waits."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Any

import pytest

from phone._fake import lay_in, stored
from phone._office import Office
from phone._steps import all_sent, has_worker, main_key, more, opened

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, CDPSession, Page

TAG = "tepal-outbox"
TAGS = "async () => (await navigator.serviceWorker.ready).sync.getTags()"


def _stop(page: Page, office: Office) -> None:
    page.goto(f"{office.phone}#/stop?site=north-eighty")
    more(page, "Seedlings", 2)
    main_key(page, "Keep 2 plants")
    page.get_by_role("link", name="1 to send").wait_for()


def _watch(page: Page) -> tuple[CDPSession, list[dict[str, Any]]]:
    """The browser's own side of workers; it has to be on a page of the same browser."""
    session = page.context.new_cdp_session(page)
    told: list[dict[str, Any]] = []
    session.on("ServiceWorker.workerRegistrationUpdated", lambda event: told.extend(event["registrations"]))
    session.send("ServiceWorker.enable")
    for _ in range(200):
        if told:
            return session, told
        page.wait_for_timeout(50)
    raise AssertionError("no worker")


def _wake(session: CDPSession, told: list[dict[str, Any]], office: Office) -> None:
    """What the browser does when it is back in a network."""
    (id,) = {one["registrationId"] for one in told if one["scopeURL"] == office.phone}
    session.send(
        "ServiceWorker.dispatchSyncEvent",
        {"origin": office.url, "registrationId": id, "tag": TAG, "lastChance": False},
    )


def _until(what: Any, page: Page, seconds: float = 60) -> None:
    end = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < end
        page.wait_for_timeout(100)


def test_what_waits_is_sent_though_the_app_is_closed(phone: BrowserContext, office: Office) -> None:
    page = opened(phone, office.phone)
    has_worker(page)
    office.kill()
    _stop(page, office)
    (sha,) = lay_in(page, [], photos=1, photo_bytes=600_000)
    page.wait_for_function(f"async () => (await ({TAGS})()).includes('{TAG}')")
    # Somewhere else in the browser; the app itself is gone.
    other = phone.new_page()
    page.close()
    session, told = _watch(other)
    _wake(session, told, office)  # too early: nobody answers, and nothing is lost
    other.wait_for_timeout(500)
    assert all("/phone/" not in one.url for one in phone.pages)
    office.start()
    _wake(session, told, office)
    _until(lambda: len(office.entries("stop")) == 1 and len(office.entries("photo")) == 1, other)
    originals = office.ledger.with_name(f"{office.ledger.name}.photos")
    _until((originals / f"{sha}.jpg").is_file, other)
    # The app, opened again, knows that it is done.
    page = opened(phone, office.phone)
    all_sent(page)
    assert stored(page, "outbox") == stored(page, "photos") == []


def test_the_worker_and_the_app_send_one_at_a_time(phone: BrowserContext, office: Office) -> None:
    """Both are woken at once; by the lock that they share, what is sent is sent once."""
    page = opened(phone, office.phone)
    has_worker(page)
    office.kill()
    _stop(page, office)
    taken: list[str] = []
    phone.on("response", lambda answer: taken.append(answer.url) if answer.request.method == "POST" else None)
    session, told = _watch(page)
    page.goto(f"{office.phone}#/unsent")
    page.evaluate(
        """() => new Promise((held) => navigator.locks.request("tepal-outbox",
          () => new Promise((done) => { window.__let = done; held(); })) && 0)"""
    )
    office.start()
    _wake(session, told, office)
    page.get_by_role("button", name="Send now").click()
    page.wait_for_timeout(700)
    # Somebody else is at it: neither sends.
    assert office.entries("stop") == []
    page.evaluate("window.__let()")
    page.get_by_role("button", name="Send now").click()
    _wake(session, told, office)
    all_sent(page)
    assert len(office.entries("stop")) == 1
    assert len([url for url in taken if url.endswith("/entries")]) <= 1


@pytest.mark.parametrize("language", ["en", "es"])
def test_where_a_browser_wakes_nobody_it_is_said(phone: BrowserContext, office: Office, language: str) -> None:
    phone.add_init_script("delete ServiceWorkerRegistration.prototype.sync; delete window.SyncManager")
    phone.add_init_script(f"Object.defineProperty(navigator, 'language', {{ value: '{language}-US' }})")
    page = opened(phone, office.phone)
    has_worker(page)
    office.kill()
    page.goto(f"{office.phone}#/stop?site=north-eighty")
    page.locator(".key.main").click()
    page.wait_for_url("**#/site?**")
    page.goto(f"{office.phone}#/unsent")
    said = {"en": "only while the app is open", "es": "solo mientras la aplicación está abierta"}[language]
    page.get_by_text(said).wait_for()
