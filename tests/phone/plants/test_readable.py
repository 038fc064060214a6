"""Every screen of a plant can be read and hit: in both languages, the dark, the sun, in gloves, in either hand."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pytest

from phone._office import Office
from phone._readable import faults
from phone._steps import opened, settled
from phone.conftest import PROFILE, let_in
from phone.plants._botanist import leaf_photo

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

LOOKS: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
    "english": ({}, {}),
    "spanish, left, in the dark": ({"color_scheme": "dark"}, {"language": "es", "hand": "left"}),
    "gloves, in the sun": ({"contrast": "more"}, {"gloves": True, "units": "metric"}),
}
KEEP_SETTINGS = """(change) => new Promise((done) => {
  const asked = indexedDB.open("tepal");
  asked.onsuccess = () => {
    const tx = asked.result.transaction("settings", "readwrite");
    tx.objectStore("settings").put({ key: "settings", value: change });
    tx.oncomplete = () => { asked.result.close(); done(); };
  };
})"""


def screens(page: Page, office: Office) -> Iterator[str]:
    """One screen after the other, by what it shows."""

    def at(address: str, wait: str) -> None:
        page.goto(f"{office.phone}#/{address}")
        page.locator(wait).first.wait_for()

    def tap(selector: str, wait: str) -> None:
        page.locator(selector).first.tap()
        page.locator(wait).first.wait_for()

    at("plant?site=north-eighty", ".answers")
    yield "stage"
    tap(".answer:nth-child(3)", ".answers:not(.many)")
    yield "states"
    file = {"name": "plant.jpg", "mimeType": "image/jpeg", "buffer": leaf_photo(0.9, seed=2)[0]}
    page.locator(".camera input").first.set_input_files([file])  # type: ignore[list-item]
    page.locator(".board img").wait_for()
    for x, y in ((0.5, 0.85), (0.5, 0.5), (0.5, 0.15)):
        box = page.locator(".board img").bounding_box()
        assert box is not None
        page.mouse.click(box["x"] + x * box["width"], box["y"] + y * box["height"])
    page.locator(".key.main:not([disabled])").wait_for()
    yield "three points"
    tap(".key.main", ".answers, .keypad")
    for _ in range(25):
        if page.locator(".keypad, ol").count():
            break
        page.locator(".page > footer .key").last.tap()
        settled(page)
    if page.locator(".keypad").count():
        page.locator(".keypad .key").nth(2).tap()
        yield "a number"
        page.locator("main > .key:not(.camera)").first.tap()
    page.locator("ol").wait_for()
    page.locator(".figures .key").tap()
    page.locator("table").wait_for()
    yield "result with figures"
    tap("ul.said li:nth-child(2) button", ".answers, .keypad")
    yield "an answer that is changed"
    page.locator(".page > footer .key, main > .key").first.tap()
    at("plant", ".answers, .keypad, ol")
    while not page.locator("ol").count():
        page.locator(".page > footer .key").first.tap()
        settled(page)
    tap(".key.main", ".told")
    yield "a plant that was kept"
    at("done?site=north-eighty", "fieldset")
    page.locator("fieldset .key").first.tap()
    yield "done"
    tap(".key.main", "footer .key:nth-child(2)")
    yield "done and kept"
    at("sample?site=north-eighty", "fieldset")
    page.locator("fieldset .key").first.tap()
    page.locator("fieldset").nth(1).locator(".key").first.tap()
    yield "a sample"
    tap(".key.main", ".code")
    yield "a label"
    at("report", "textarea")
    yield "a call"
    at("letter?site=north-eighty", "h1")
    yield "letters"


@pytest.mark.slow
@pytest.mark.parametrize("look", LOOKS)
def test_every_screen_can_be_read_and_hit(_chromium: Browser, here: Office, look: str) -> None:
    of_browser, settings = LOOKS[look]
    context = _chromium.new_context(**{**PROFILE, **of_browser})
    let_in(context, here.invitation(f"Scout, {look}", "scout", "north-eighty"))
    page = opened(context, here.phone)
    page.evaluate(KEEP_SETTINGS, settings)
    page.reload()
    trouble: list[str] = []
    page.on("pageerror", lambda error: trouble.append(str(error)))
    found = {}
    for name in screens(page, here):
        settled(page)
        wrong = faults(page)
        if wrong:
            found[name] = wrong
    context.close()
    assert found == {}
    assert trouble == []


def test_what_is_wrong_is_found(page: Page) -> None:
    # Set by script: the page's policy takes no styles that are written in.
    page.evaluate("""() => {
      const add = (name, text, style) => {
        const one = Object.assign(document.createElement(name), { textContent: text });
        Object.assign(one.style, style);
        document.querySelector("main").append(one);
      };
      add("button", "", { width: "20px", height: "20px" });
      add("p", "grey", { color: "#bbb", background: "#fff" });
      add("div", "wide", { width: "900px" });
    }""")
    found = faults(page)
    assert set(found) == {"axe", "small", "wide"}
    assert {rule for rule, _ in found["axe"]} >= {"button-name", "color-contrast"}
