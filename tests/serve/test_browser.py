"""The plain pages in a real browser: an invitation is opened, a form is sent, nothing breaks the content policy."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import uvicorn
from playwright.sync_api import Page

from _axe import runs_over, violations
from _served import OWN, World
from tepal.ledger import Sample

pytestmark = pytest.mark.slow


@pytest.fixture
def address(world: World) -> Iterator[str]:
    """The office's server, on a port of this machine."""
    config = uvicorn.Config(world.client.app, host="127.0.0.1", port=0, log_level="error", lifespan="off")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    port = server.servers[0].sockets[0].getsockname()[1]
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join(30)


def link(world: World, address: str, name: str) -> str:
    made = world.office.invite(world.ids[name], now=world.clock(), lasts=timedelta(days=1))
    return f"{address}/join#{made.code}"


def come_in(page: Page, world: World, address: str, name: str) -> list[str]:
    """Open an invitation as that person; what the browser complains of."""
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto(link(world, address, name))
    page.get_by_label("This device").fill(f"{name}'s new phone")
    assert "#" not in page.url
    page.get_by_role("button").click()
    page.wait_for_url(lambda url: "/join" not in url)
    return said


def test_a_grower_opens_an_invitation_and_reads_the_letters(chromium_page: Page, world: World, address: str) -> None:
    said = come_in(chromium_page, world, address, "Gil")
    assert chromium_page.url == f"{address}/letters"
    assert chromium_page.get_by_text("About Creek Bottom.").is_visible()
    assert said == []
    assert chromium_page.evaluate("document.cookie") == ""
    assert {one.name for one in world.office.devices(world.ids["Gil"])} == {"Gil's device", "Gil's new phone"}
    wide = chromium_page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert wide


def test_a_laboratory_says_by_the_form_what_was_found(chromium_page: Page, world: World, address: str) -> None:
    said = come_in(chromium_page, world, address, "Lena")
    assert chromium_page.url == f"{address}/samples"
    chromium_page.get_by_role("button", name="It came").click()
    chromium_page.wait_for_load_state()
    chromium_page.get_by_text("Tell what was found").click()
    chromium_page.get_by_label("Which plant it is").select_option("AMAPA")
    chromium_page.get_by_label("How sure, of 100").fill("98")
    chromium_page.get_by_label("Group 9", exact=True).select_option("resistant")
    chromium_page.get_by_role("button", name="Send the result").click()
    chromium_page.wait_for_load_state()
    body = world.ledger.standing(OWN).of("sample")[0].body
    assert isinstance(body, Sample)
    assert (body.step, body.taxon, body.sure, body.resistant) == ("result", "AMAPA", 0.98, {"9": "resistant"})
    assert said == []


def test_an_invitation_that_does_not_work_says_so_and_what_to_do(
    chromium_page: Page, world: World, address: str
) -> None:
    chromium_page.goto(f"{address}/join#used-up")
    chromium_page.get_by_label("This device").fill("phone")
    chromium_page.get_by_role("button").click()
    chromium_page.get_by_text("Ask the office for a new one").wait_for()
    chromium_page.goto(f"{address}/join")
    assert chromium_page.get_by_text("holds no invitation").is_visible()
    assert not chromium_page.get_by_role("button").is_visible()


def test_another_page_cannot_act_with_the_cookie(chromium_page: Page, world: World, address: str) -> None:
    come_in(chromium_page, world, address, "Lena")
    before = world.ledger.last_seq
    elsewhere = address.replace("127.0.0.1", "localhost")
    chromium_page.goto(f"{elsewhere}/join")
    asked: Any = chromium_page.evaluate(
        """async (to) => {
            const form = new URLSearchParams({ step: "received" });
            const sent = await fetch(to, { method: "POST", body: form, credentials: "include", mode: "no-cors" })
                .then((answer) => answer.type, (error) => "kept back");
            return sent;
        }""",
        f"{address}/samples/{world.made['own sample']}",
    )
    assert asked in {"opaque", "kept back"}
    assert world.ledger.last_seq == before


@pytest.mark.parametrize(("wide", "scheme"), [(390, "dark"), (1440, "light")])
def test_axe_finds_nothing_on_the_plain_pages(
    chromium_page: Page, world: World, address: str, wide: int, scheme: Any
) -> None:
    chromium_page.set_viewport_size({"width": wide, "height": 844})
    chromium_page.emulate_media(color_scheme=scheme)
    for name, path in ((None, "/join#code"), ("Gil", "/letters"), ("Lena", "/samples")):
        if name is not None:
            token = f"Bearer {world.tokens[name]}"
            chromium_page.set_extra_http_headers({"authorization": token, "accept": "text/html"})
        chromium_page.goto(address + path)
        for summary in chromium_page.locator("summary").all():
            summary.click()
        assert violations(chromium_page) == []
        assert runs_over(chromium_page) == 0
