"""A day in the field: no signal, a dead battery, a noisy receiver; all of it is in the record once, with a letter."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from phone._fake import RECEIVER, stored
from phone._office import MIDDLE, Office
from phone._steps import all_sent, has_worker, key, main_key, more, opened, settled, stop
from phone._walker import EAST, M, Receiver
from phone.conftest import PROFILE, let_in, restarted

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext

STOPS: list[dict[str, int]] = [
    {}, {"Seedlings": 3}, {}, {"Up to 4 in": 2, "4 to 12 in": 1}, {}, {},
    {"Over 3 ft": 1}, {}, {"Seedlings": 1}, {}, {}, {},
]  # fmt: skip


def _again(browser: Browser, folder: Path) -> BrowserContext:
    context = restarted(browser, folder)
    context.add_init_script(RECEIVER)
    return context


def test_a_day_without_signal_is_in_the_record_once(
    _chromium: Browser, office: Office, scout: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "profile"
    context = _again(_chromium, folder)
    let_in(context, scout)
    page = opened(context, office.phone)
    has_worker(page)
    context.close()

    # No signal, no server, a browser that was closed meanwhile.
    office.kill()
    context = _again(_chromium, folder)
    context.set_offline(True)
    page = opened(context, office.phone)
    main_key(page, "Start walking")
    receiver = Receiver()
    page.wait_for_function("'__fix' in window")
    receiver.walk(page, 3)
    key(page, "Yes, I am")
    page.get_by_role("heading", name="North Eighty").wait_for()
    truths = []
    for number, counts in enumerate(STOPS):
        receiver.walk(page, 15)
        if number == 3:
            key(page, "Rest")
            page.get_by_role("button", name="Go on").wait_for()
            receiver.walk(page, 5)  # to the truck and back: not part of the walk
            key(page, "Go on")
            page.get_by_role("button", name="Rest").wait_for()
        if number == 6:
            receiver.lose_sight(90)
            receiver.walk(page, 5)
        if number == 8:
            # Everything dies in the middle of a stop.
            main_key(page, "Stop here")
            more(page, "Seedlings")
            settled(page)
            context.close()
            context = _again(_chromium, folder)
            context.set_offline(True)
            page = context.new_page()
            page.goto(f"{office.phone}#/stop")
            assert page.get_by_role("group", name="Seedlings").locator("output").inner_text() == "1"
            receiver.walk(page, 1)
            main_key(page, "Keep 1 plant")
            page.locator(".key.main", has_text="Stop here").wait_for()
        else:
            stop(page, counts)
        truths.append(receiver.truth)
    receiver.walk(page, 10)
    key(page, "Finish")
    main_key(page, "No, only the 8 that I counted")
    page.get_by_role("textbox").fill("every tenth row from the gate on")
    main_key(page, "Good")
    main_key(page, "Keep this walk")
    page.get_by_role("link", name="13 to send").wait_for()
    assert office.process is None

    office.start()
    context.set_offline(False)
    all_sent(page)
    context.close()

    stops = office.entries("stop")
    assert [sum(t["count"] for t in e.plain()["body"]["counts"]) for e in stops] == [sum(c.values()) for c in STOPS]
    assert stops[3].plain()["body"]["counts"] == [
        {"taxon": "pigweed", "size": "under_10_cm", "count": 2},
        {"taxon": "pigweed", "size": "10_30_cm", "count": 1},
    ]
    (walk,) = office.entries("walk")
    body = walk.plain()["body"]
    assert {e.plain()["body"]["walk"] for e in stops} == {walk.id}
    assert (walk.by, walk.site, body["found"]) == ("Scout One", "north-eighty", 8)
    assert body["rows_marked"] == "every tenth row from the gate on"
    off = [_metres(truth, e.plain()["body"]["at"]) for truth, e in zip(truths, stops, strict=True)]
    told = [e.plain()["body"]["error_m"] for e in stops]
    # The told error is one sd of each axis: nearly all within three of them.
    assert sum(one <= 3 * sd for one, sd in zip(off, told, strict=True)) >= len(stops) - 1
    # Rest, lost sight and restart part the track, and what lies between is not said to be walked.
    lines = body["track"]["coordinates"]
    assert body["track"]["type"] == "MultiLineString"
    assert len(lines) == 4
    assert np.mean(off) < 8
    north = np.array([abs(lat - MIDDLE[1]) / M for line in lines for _, lat in line])
    assert north.mean() < 3.2  # 4 m of noise has a mean of 3.2 m; smoothed it is less
    made = _tepal(
        "letter",
        "north-eighty",
        "--ledger",
        str(office.ledger),
        "--as-of",
        _day(stops[0].made_at),
        "--out",
        str(tmp_path / "out"),
    )
    assert Path(made["pdf"]).read_bytes().startswith(b"%PDF")
    read = _tepal("reading", "north-eighty", "--ledger", str(office.ledger), "--as-of", _day(stops[0].made_at))
    assert read["stand"]["counted_plants"] == 8
    with capsys.disabled():
        print(
            f"\n12 stops, places off by {np.mean(off):.1f} m on average; told sd {np.mean(told):.1f} m; "
            f"track off by {north.mean():.1f} m"
        )


def _day(moment: Any) -> str:
    return str(moment.date().isoformat())


def _metres(a: tuple[float, float], b: list[float]) -> float:
    return math.hypot((b[0] - a[0]) / EAST, (b[1] - a[1]) / M)


def _tepal(*arguments: str) -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, "-m", "tepal", *arguments, "--json"], capture_output=True, text=True, check=True
    )
    return dict(json.loads(done.stdout))


def test_a_walk_on_ground_that_nobody_has_on_record(_chromium: Browser, office: Office, scout: str) -> None:
    """One tap, no boundary: the place is named afterwards, and its stops and walk stand on it."""
    context = _chromium.new_context(**{**PROFILE, "geolocation": {"longitude": -97.0, "latitude": 41.5, "accuracy": 9}})
    let_in(context, scout)
    page = opened(context, office.phone)
    main_key(page, "Start walking")
    page.get_by_text("walked since").wait_for()
    stop(page, {"1 to 3 ft": 1})
    key(page, "Finish")
    key(page, "Yes, more than I counted")
    page.get_by_text("There is no track").wait_for()
    main_key(page, "None, or I do not know")
    page.get_by_label("Name").fill("Mill Race")
    key(page, "Ditch")
    main_key(page, "Good")
    main_key(page, "Keep this walk")
    page.get_by_role("link", name="Mill Race").wait_for()
    all_sent(page)
    sites = [e for e in office.entries("site") if e.by == "Scout One"]
    assert [e.plain()["body"]["name"] for e in sites][-1] == "Mill Race"
    assert sites[-1].amends == sites[0].id
    assert sites[-1].plain()["body"]["ground"] == "ditch"
    assert {e.site for e in (*office.entries("stop"), *office.entries("walk"))} == {sites[0].site}
    assert "found" not in office.entries("walk")[0].plain()["body"]
    context.close()


def test_where_the_phone_may_not_tell_its_place(_chromium: Browser, office: Office, scout: str) -> None:
    """A stop can be kept without a place, or with a tapped one; it never gets one that nobody gave."""
    context = _chromium.new_context(**{**PROFILE, "permissions": []})
    let_in(context, scout)
    page = opened(context, office.phone)
    key(page, "North Eighty", exact=False)
    main_key(page, "Walk it")
    page.get_by_text("may not tell where it is").wait_for()
    stop(page, {})
    main_key(page, "Stop here")
    key(page, "No place: the phone may not tell it")
    page.locator(".map").click(position={"x": 180, "y": 160})
    main_key(page, "Good")
    main_key(page, "None here")
    page.locator(".key.main", has_text="Stop here").wait_for()
    all_sent(page)
    first, second = (e.plain()["body"] for e in office.entries("stop"))
    assert "at" not in first
    assert "error_m" not in first
    assert _metres(MIDDLE, second["at"]) < 150
    assert second["error_m"] == pytest.approx(15.2)
    context.close()


def test_every_tap_is_on_the_disk_before_the_next(phone: BrowserContext, office: Office) -> None:
    page = opened(phone, office.phone)
    page.goto(f"{office.phone}#/stop?site=north-eighty")
    more(page, "Seedlings", 4)
    (draft,) = [one for one in stored(page, "drafts") if one["key"] == "stop"]
    assert draft["value"]["counts"] == {"seedling": 4}
    key(page, "Not a stop")
    page.get_by_role("heading", name="North Eighty").wait_for()
    assert [one for one in stored(page, "drafts") if one["key"] == "stop"] == []
