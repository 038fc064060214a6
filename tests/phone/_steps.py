"""What a person does on the phone, by what they read and tap."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Page


def opened(context: BrowserContext, address: str) -> Page:
    """The app on its first screen, with what the office had for it."""
    page = context.new_page()
    page.goto(address)
    page.get_by_role("link", name="North Eighty").wait_for()
    return page


def has_worker(page: Page) -> None:
    """Wait until the app is on the phone for good: its worker is in charge and holds every file."""
    page.wait_for_function(
        """async () => (await navigator.serviceWorker.ready).active?.state === "activated"
          && (await caches.keys()).length === 1"""
    )


def settled(page: Page) -> None:
    """Wait until what was tapped is drawn and written: two frames, then a turn in the store behind all others."""
    page.evaluate(
        """async () => {
          for (let n = 0; n < 2; n++) await new Promise((next) => requestAnimationFrame(() => setTimeout(next)));
          const db = await new Promise((done, fail) => {
            const asked = indexedDB.open("tepal");
            asked.onsuccess = () => done(asked.result);
            asked.onerror = fail;
          });
          await new Promise((done) => {
            const turn = db.transaction([...db.objectStoreNames], "readwrite");
            turn.oncomplete = turn.onabort = done;
          });
          db.close();
        }"""
    )


def main_key(page: Page, name: str) -> None:
    page.locator(".key.main", has_text=name).click()


def key(page: Page, name: str, *, exact: bool = True) -> None:
    page.get_by_role("button", name=name, exact=exact).or_(
        page.get_by_role("link", name=name, exact=exact)
    ).first.click()


def more(page: Page, size: str, times: int = 1) -> None:
    for _ in range(times):
        page.get_by_role("button", name=f"more: {size}").click()


def stop(page: Page, counts: dict[str, int]) -> None:
    """From the walk to the walk."""
    main_key(page, "Stop here")
    page.get_by_role("heading", name="How many stand here?").wait_for()
    for size, count in counts.items():
        more(page, size, count)
    main_key(page, "Keep" if sum(counts.values()) else "None here")
    page.locator(".key.main", has_text="Stop here").wait_for()


def all_sent(page: Page, timeout_s: float = 20) -> None:
    page.get_by_role("link", name="All sent").wait_for(timeout=timeout_s * 1000)
