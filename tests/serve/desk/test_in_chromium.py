"""The desk's pages in a real browser: axe-core finds nothing, nothing runs over, the keyboard suffices, pages renew."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from _axe import runs_over, violations
from _desk_world import desk_of, settle
from _served import OWN, World
from tepal.serve import app

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.slow
SIZES = {"desk": (1440, 900, "light"), "phone": (390, 844, "dark")}


@contextmanager
def served(world: World) -> Iterator[tuple[str, Any]]:
    """A server of the same ledger on loopback: its address and its application. Kept readings are there at once."""
    import uvicorn

    made = app(world.ledger, replace(world.settings, hosts=("127.0.0.1",)))
    server = uvicorn.Server(uvicorn.Config(made, host="127.0.0.1", port=0, log_level="error", lifespan="off"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    for _ in range(500):
        if server.started:
            break
        time.sleep(0.02)
    port = server.servers[0].sockets[0].getsockname()[1]
    try:
        yield f"http://127.0.0.1:{port}", made
    finally:
        server.should_exit = True
        thread.join(10)
        made.state.desk.close()


def pages(world: World) -> list[str]:
    call = world.add("waiting", "report", {"how": "text", "words": "Is this it?", "who": "a neighbor"})
    return [
        "/",
        "/?on=2026-06-18",
        f"/sites/{OWN}",
        f"/sites/{OWN}/why?of=/taxa",
        f"/plants/{world.made['own plant']}",
        "/calls",
        "/calls/new",
        f"/calls/{call}",
        f"/calls/{call}?step=2",
        f"/calls/{call}?step=2&stage=vegetative",
        f"/calls/{call}?step=3",
        "/people",
        "/leave",
        f"/sites/{OWN}/aerial",
        "/sites/nowhere",
    ]


def opened(page: Page, world: World, size: str) -> Page:
    """A page of a coordinator's browser, in one of the sizes; what scripts complain of fails the test."""
    wide, high, scheme = SIZES[size]
    browser = page.context.browser
    assert browser is not None
    context = browser.new_context(
        viewport={"width": wide, "height": high},
        color_scheme=scheme,  # type: ignore[arg-type]
        extra_http_headers={"authorization": f"Bearer {world.tokens['Cora']}"},
    )
    made = context.new_page()
    # Much else may run on the machine, and cutting the typefaces takes a second of it.
    made.set_default_timeout(120_000)
    return made


@pytest.mark.parametrize("size", SIZES)
def test_axe_finds_nothing_and_nothing_runs_over(county: World, chromium_page: Page, size: str) -> None:
    found: list[str] = []
    with served(county) as (base, _):
        page = opened(chromium_page, county, size)
        refused: list[str] = []
        page.on("console", lambda told: refused.append(told.text) if "Content Security Policy" in told.text else None)
        for path in pages(county):
            page.goto(base + path)
            found += [f"{path}: {one}" for one in violations(page)]
            over = runs_over(page)
            found += [f"{path}: runs over by {over} px"] if over else []
            faces = page.evaluate(
                "document.fonts.ready.then(() => [...document.fonts].filter(f => f.status === 'loaded').length)"
            )
            found += [] if faces else [f"{path}: without its typefaces"]
        page.context.close()
    assert found == []
    assert refused == []


def test_the_keyboard_reaches_the_page_and_opens_a_site(county: World, chromium_page: Page) -> None:
    with served(county) as (base, _):
        page = opened(chromium_page, county, "desk")
        page.goto(base + "/")
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.className") == "skip"
        page.keyboard.press("Enter")
        page.keyboard.press("Tab")
        # The first thing to be reached in the page is the first line of the list.
        assert page.evaluate("document.activeElement.closest('li').value") == 1
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert outline != "none"
        page.keyboard.press("Enter")
        page.wait_for_url("**/sites/**")
        page.context.close()


def test_a_page_shows_the_old_reading_at_once_and_takes_the_new_one_when_it_is_there(
    county: World, chromium_page: Page
) -> None:
    desk_of(county).close()
    with served(county) as (base, made):
        page = opened(chromium_page, county, "desk")
        county.add(
            "more", "stop", {"counts": [{"taxon": "pigweed", "count": 900}], "area_m2": 1.0, "at": [-96.196, 41.504]}
        )
        # Nothing is made yet: the page stands there with what was known, and says so.
        page.goto(f"{base}/sites/{OWN}")
        assert "it is being reckoned anew" in page.inner_text("main")
        before = page.inner_text("main")
        made.state.desk.readings.start(workers=0)
        for _ in range(600):
            if "being reckoned anew" not in page.inner_text("main"):
                break
            page.wait_for_timeout(100)
        assert "being reckoned anew" not in page.inner_text("main")
        assert page.inner_text("main") != before
        page.context.close()


LONG = {
    "note": {"words": "W" * 10_000},
    "party": {"name": "P" * 200, "roles": ["owner"], "contact": "9" * 500, "consent_to_enter": True},
    "report": {"how": "call", "words": "V" * 9_000, "who": "Q" * 200, "place": {"words": "Z" * 3_000}},
    "site": {"name": "N" * 200, "ground": "field", "point": [-96.21, 41.52], "region": "CB"},
}
TWICE = "(() => { const s = new CSSStyleSheet(); s.replaceSync('html{font-size:36px!important}'); "
TWICE += "document.adoptedStyleSheets = [s]; })()"


def test_the_longest_words_and_text_of_twice_the_size_run_over_nothing(county: World, chromium_page: Page) -> None:
    made = {kind: county.add(f"long {kind}", kind, body) for kind, body in LONG.items() if kind != "site"}
    county.add("long site", "site", LONG["site"], site="long")
    county.add("site of the other way", "site", LONG["site"] | {"name": "حقل الشمال 80"}, site="other-way")
    settle(county)
    paths = [*pages(county), f"/calls/{made['report']}", f"/calls/{made['report']}?step=3", "/sites/long"]
    found = []
    with served(county) as (base, _):
        page = opened(chromium_page, county, "phone")
        for path in paths:
            page.goto(base + path)
            found += [f"{path}: by {over} px" for over in [runs_over(page)] if over]
            page.evaluate(TWICE)
            found += [f"{path}, text twice as large: by {over} px" for over in [runs_over(page)] if over]
        page.context.close()
    assert found == []


def test_what_is_folded_is_printed_open(county: World, chromium_page: Page) -> None:
    with served(county) as (base, _):
        page = opened(chromium_page, county, "desk")
        page.goto(f"{base}/sites/{OWN}")
        closed = "document.querySelectorAll('details:not([open])').length"
        before = page.evaluate(closed)
        assert before > 0
        page.evaluate("dispatchEvent(new Event('beforeprint'))")
        assert page.evaluate(closed) == 0
        page.evaluate("dispatchEvent(new Event('afterprint'))")
        assert page.evaluate(closed) == before
        page.context.close()
