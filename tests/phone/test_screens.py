"""Each screen as it is read and tapped: nothing for axe to find, keys that a thumb hits, few taps, no others asked."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import pytest

from phone._office import MIDDLE, Office
from phone._readable import faults
from phone._steps import all_sent, has_worker, key, main_key, more, opened, settled
from phone.conftest import PATIENCE_MS, PROFILE, let_in

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page, Route

SCREENS = [
    "today", "site?site=north-eighty", "site?site=creek-bottom", "more", "settings", "unsent",
    "written?site=north-eighty", "walk?site=north-eighty", "place", "stop", "end",
]  # fmt: skip


def _set(page: Page, office: Office, *names: str) -> None:
    page.goto(f"{office.phone}#/settings")
    for name in names:
        key(page, name)
    settled(page)


@pytest.mark.parametrize(
    "look",
    [(), ("Español", "Left"), pytest.param(("Gloves: bigger keys", "Metres"), marks=pytest.mark.slow)],
    ids=["english", "spanish left", "gloves metric"],
)
def test_every_screen_can_be_read_and_hit(phone: BrowserContext, office: Office, look: tuple[str, ...]) -> None:
    page = opened(phone, office.phone)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    problems: list[str] = []
    page.on("pageerror", lambda error: problems.append(str(error)))
    if look:
        # In one go: the second name is already in the other language.
        page.goto(f"{office.phone}#/settings")
        for name in reversed(look):
            key(page, name)
            settled(page)
    found = {}
    for screen in SCREENS:
        page.goto(f"{office.phone}#/{screen}")
        page.locator("h1").wait_for()
        settled(page)
        if wrong := faults(page):
            found[screen] = wrong
    assert found == {}
    assert problems == []
    assert [url for url in asked if not url.startswith((office.url, "blob:", "data:"))] == []


def test_the_dark_look_has_contrast_enough(_chromium: Browser, office: Office, scout: str) -> None:
    context = _chromium.new_context(**PROFILE, color_scheme="dark")
    let_in(context, scout)
    page = opened(context, office.phone)
    for screen in ("today", "stop?site=north-eighty"):
        page.goto(f"{office.phone}#/{screen}")
        page.locator(".key.main").wait_for()
        assert faults(page) == {}
    context.close()


@pytest.mark.parametrize("language", ["English", "Español"])
def test_with_gloves_and_in_the_sun_every_count_is_in_sight(
    phone: BrowserContext, office: Office, language: str
) -> None:
    """Black on white on a phone that is dark; nobody scrolls to count, and the hand's side adds."""
    page = opened(phone, office.phone)
    page.emulate_media(color_scheme="dark")
    _set(page, office, "Left", "Gloves: bigger keys", "Black on white", language)
    page.goto(f"{office.phone}#/stop?site=north-eighty")
    page.locator(".count").first.wait_for()
    foot = page.locator("footer").bounding_box()
    assert foot is not None
    for count in page.locator(".count").all():
        fewer, more_ = (key.bounding_box() for key in count.locator("button").all())
        assert fewer and more_
        assert fewer["y"] + fewer["height"] <= foot["y"]
        assert more_["x"] < fewer["x"]
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
    assert faults(page) == {}


def test_a_stop_takes_few_taps(phone: BrowserContext, office: Office, capsys: pytest.CaptureFixture[str]) -> None:
    """Taps are counted in the page itself; the time is the machine's, from the first tap to the walk's screen again."""
    page = opened(phone, office.phone)
    key(page, "North Eighty", exact=False)
    main_key(page, "Walk it")
    page.locator(".key.main", has_text="Stop here").wait_for()
    page.evaluate("window.taps = 0; addEventListener('click', () => window.taps++, true)")

    def measured(counts: dict[str, int]) -> tuple[int, float]:
        page.evaluate("window.taps = 0")
        since = time.monotonic()
        main_key(page, "Stop here")
        for size, count in counts.items():
            more(page, size, count)
        main_key(page, "Keep" if counts else "None here")
        page.locator(".key.main", has_text="Stop here").wait_for()
        return page.evaluate("window.taps"), time.monotonic() - since

    none, some = measured({}), measured({"Seedlings": 3, "4 to 12 in": 1})
    assert (none[0], some[0]) == (2, 6)
    # A tap of a person takes about a second; what the app takes comes on top of it.
    assert none[0] + none[1] < 15
    assert some[0] + some[1] < 15
    all_sent(page)
    with capsys.disabled():
        print(
            f"\nstop with none: {none[0]} taps, {none[1]:.2f} s of machine; "
            f"with 4 plants in 2 sizes: {some[0]} taps, {some[1]:.2f} s"
        )


def test_it_can_be_installed_and_starts_without_signal(phone: BrowserContext, office: Office) -> None:
    page = opened(phone, office.phone)
    has_worker(page)
    session = phone.new_cdp_session(page)
    errors = session.send("Page.getInstallabilityErrors")["installabilityErrors"]
    assert [one["errorId"] for one in errors if one["errorId"] != "in-incognito"] == []
    office.kill()
    phone.set_offline(True)
    page.close()
    page = opened(phone, office.phone)
    assert page.evaluate("navigator.serviceWorker.controller !== null")
    page.get_by_text("No signal now").wait_for()


def test_blocked_ground_is_last_and_says_until_when(phone: BrowserContext, office: Office) -> None:
    page = opened(phone, office.phone)
    lines = page.locator("ul.lines li").all_inner_texts()
    assert "Creek Bottom" in lines[-1]
    assert "Nobody enters before Friday, June 19, 2099" in lines[-1]
    key(page, "Creek Bottom", exact=False)
    page.get_by_role("button", name="Do not enter").wait_for()
    assert page.get_by_role("button", name="Do not enter").is_disabled()


def test_what_closes_first_stands_first_then_what_is_nearest(phone: BrowserContext, office: Office) -> None:
    """The office's answer is made up here; days count from the phone's own, which lies west of the machine's."""
    today = datetime.now(ZoneInfo(PROFILE["timezone_id"])).date()

    def site(name: str, east: float, days: int | None, **more: Any) -> dict[str, Any]:
        closes = None if days is None else {"what": "Pulling", "on": (today + timedelta(days)).isoformat()}
        point = [MIDDLE[0] + east, MIDDLE[1]]
        return {"id": name.lower(), "name": name, "kind": "field", "point": point, "closes": closes, **more}

    told = {
        "server_time": datetime.now(UTC).isoformat(),
        "as_of": today.isoformat(),
        "view": "v",
        "person": {"id": "p", "name": "Scout One", "role": "scout"},
        "sites": [
            site("Here", 0.0, None),
            site("Month", 0.001, 30),
            site("Far", 0.5, 1),
            site("Near", 0.1, 2),
            site("Barred", 0.0, 0, blocked_until="2099-01-01T00:00:00Z"),
        ],
        "calls": [{"entry": "c", "site": None, "who": "a neighbour", "words": "Red stalks.", "answer_by": str(today)}],
    }
    page = opened(phone, office.phone)
    page.route("**/today*", lambda route: route.fulfill(json=told))
    page.reload()
    page.get_by_text("Red stalks.").wait_for()
    names = [
        text.split("\n")[0].split(" · ")[0].split(",")[0] for text in page.locator("ul.lines li").all_inner_texts()
    ]
    assert names == ["Answer a neighbour", "Near", "Far", "Month", "Here", "Barred"]


CUT = """() => [...document.querySelectorAll(".key, .count span, header a, header button")]
  .filter((one) => one.offsetParent !== null && one.scrollWidth > one.clientWidth + 1)
  .map((one) => `${one.innerText}: ${one.scrollWidth} in ${one.clientWidth}`)"""


@pytest.mark.parametrize("language", ["English", "Español"])
def test_on_a_narrow_phone_no_word_is_cut_off(_chromium: Browser, office: Office, scout: str, language: str) -> None:
    context = _chromium.new_context(**{**PROFILE, "viewport": {"width": 320, "height": 568}})
    context.set_default_timeout(PATIENCE_MS)
    let_in(context, scout)
    page = opened(context, office.phone)
    _set(page, office, language)
    found = {}
    for screen in [*SCREENS, "done?site=north-eighty", "sample?site=north-eighty", "report", "plant?site=north-eighty"]:
        page.goto(f"{office.phone}#/{screen}")
        page.locator("h1").wait_for()
        page.wait_for_timeout(120)
        cut, wide = page.evaluate(CUT), page.evaluate("document.documentElement.scrollWidth - innerWidth")
        if cut or wide > 0:
            found[screen] = (cut, wide)
    assert found == {}
    context.close()


def test_steps_and_days_are_sentences_and_a_caution_is_said_once(phone: BrowserContext, office: Office) -> None:
    """In the office's units, until the person chooses others."""
    asked: list[str] = []
    soon = datetime.now(ZoneInfo(PROFILE["timezone_id"])).date() + timedelta(2)
    steps = [{"text": f"{verb} them.", "by": str(soon), "cautions": ["Heat kills.", verb]} for verb in ("Pull", "Burn")]
    site = {"id": "creek", "name": "Creek", "kind": "field", "units": "metric", "point": [MIDDLE[0] + 0.01, MIDDLE[1]]}
    site |= {"do": steps, "closes": {"what": "Seed ripens", "on": str(soon)}}
    told = {
        "server_time": datetime.now(UTC).isoformat(),
        "as_of": str(soon),
        "view": "v",
        "person": {"id": "p", "name": "Scout One", "role": "scout"},
        "sites": [site],
        "calls": [],
    }

    def answer(route: Route) -> None:
        asked.append(route.request.url)
        route.fulfill(json=told)

    phone.route("**/today?*", answer)
    page = phone.new_page()
    page.goto(office.phone)
    page.get_by_text("m away").or_(page.get_by_text("km away")).first.wait_for()
    assert "units=" not in asked[0]
    key(page, "Creek", exact=False)
    page.get_by_text("Heat kills.").first.wait_for()
    shown = page.locator("main").inner_text()
    assert shown.count("Heat kills.") == 1
    assert f"Pull them. By {soon:%A}" in shown
    assert "Seed ripens. By " in shown
    assert ".," not in shown


def test_the_scale_of_a_map_is_told_in_the_persons_language(phone: BrowserContext, office: Office) -> None:
    page = opened(phone, office.phone)
    _set(page, office, "Español")
    page.goto(f"{office.phone}#/site?site=north-eighty")
    scale = page.locator(".leaflet-control-scale-line")
    scale.get_by_text("pies").wait_for()
    page.goto(f"{office.phone}#/settings")
    key(page, "English")
    page.goto(f"{office.phone}#/site?site=north-eighty")
    scale.get_by_text("ft").wait_for()
