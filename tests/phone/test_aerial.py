"""A picture from above that the office put in lies under the map where there is no signal, and lies right."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from PIL import Image, ImageDraw

from phone._office import NORTH_EIGHTY, SOUTH, WEST, Office
from phone._steps import has_worker, key, main_key, opened
from phone.conftest import let_in, restarted

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

# More ground than the field, and not the same on all sides: a picture that is turned or stretched is seen to be.
EDGES = {"west": WEST - 0.0012, "south": SOUTH - 0.0003, "east": WEST + 0.0060, "north": SOUTH + 0.0042}
CORNERS = {"nw": (200, 30, 30), "ne": (30, 160, 30), "sw": (30, 60, 200), "se": (200, 180, 20)}


def _picture() -> bytes:
    """Four quarters in four colours."""
    picture = Image.new("RGB", (720, 600))
    draw = ImageDraw.Draw(picture)
    for name, colour in CORNERS.items():
        x, y = 360 * name.endswith("e"), 300 * name.startswith("s")
        draw.rectangle((x, y, x + 359, y + 299), fill=colour)
    out = io.BytesIO()
    picture.save(out, "PNG")
    return out.getvalue()


def _put_in(chromium: Browser, office: Office) -> None:
    context = chromium.new_context()
    own = {"Tepal-Request": "1"}
    sent = {"code": office.codes["coordinator"], "device": "Desk", "hold": "cookie"}
    assert context.request.post(f"{office.url}/join", data=sent, headers=own).status == 201
    page = context.new_page()
    page.goto(f"{office.url}/sites/north-eighty/aerial")
    file: Any = {"name": "above.png", "mimeType": "image/png", "buffer": _picture()}
    page.set_input_files("#picture", [file])
    for edge, degrees in EDGES.items():
        page.fill(f"#{edge}", f"{degrees:.6f}")
    page.get_by_role("button", name="Put it in").click()
    page.wait_for_url("**/sites/north-eighty**")
    context.close()


def _where(page: Page) -> dict[str, list[float]]:
    """Left, top, right and bottom of the picture and of the field's boundary on the glass, in CSS pixels."""
    page.locator(".leaflet-image-layer").wait_for()
    found: dict[str, list[float]] = page.evaluate(
        """async () => {
          const image = document.querySelector(".leaflet-image-layer"); await image.decode();
          const path = document.querySelector("path.boundary"), box = path.getBBox(), to = path.getScreenCTM();
          const corner = (x, y) => new DOMPoint(x, y).matrixTransform(to);
          const [one, two] = [corner(box.x, box.y), corner(box.x + box.width, box.y + box.height)];
          const it = image.getBoundingClientRect();
          return { picture: [it.left, it.top, it.right, it.bottom], field: [one.x, one.y, two.x, two.y] }; }"""
    )
    return found


def _lies_right(page: Page) -> None:
    """Where the field lies on the glass says where each edge of the picture must lie."""
    found = _where(page)
    left, top, right, bottom = found["field"]
    across = (right - left) / (NORTH_EIGHTY[1][0] - NORTH_EIGHTY[0][0])
    down = (bottom - top) / (NORTH_EIGHTY[2][1] - NORTH_EIGHTY[1][1])
    north = NORTH_EIGHTY[2][1]
    wanted = [
        left + (EDGES["west"] - WEST) * across,
        top + (north - EDGES["north"]) * down,
        left + (EDGES["east"] - WEST) * across,
        top + (north - EDGES["south"]) * down,
    ]
    assert found["picture"] == pytest.approx(wanted, abs=1.5)


def _colours(page: Page) -> dict[str, tuple[int, ...]]:
    """What is to be seen inside the field near each of its corners, off the boundary's own line."""
    left, top, right, bottom = _where(page)["field"]
    shot = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    scale = shot.width / page.evaluate("innerWidth")
    places = {
        "nw": (left + 0.2 * (right - left), top + 0.2 * (bottom - top)),
        "ne": (right - 0.2 * (right - left), top + 0.2 * (bottom - top)),
        "sw": (left + 0.2 * (right - left), bottom - 0.2 * (bottom - top)),
        "se": (right - 0.2 * (right - left), bottom - 0.2 * (bottom - top)),
    }
    return {name: shot.getpixel((round(x * scale), round(y * scale))) for name, (x, y) in places.items()}  # type: ignore[misc]


def test_a_picture_from_above_lies_under_the_map_without_signal(
    _chromium: Browser, office: Office, scout: str, tmp_path: Path
) -> None:
    _put_in(_chromium, office)
    context = restarted(_chromium, tmp_path / "profile")
    let_in(context, scout)
    page = opened(context, office.phone)
    has_worker(page)
    page.wait_for_function(
        """() => new Promise((done) => { const r = indexedDB.open("tepal"); r.onsuccess = () => {
          const keys = r.result.transaction("today").objectStore("today").getAllKeys();
          keys.onsuccess = () => { r.result.close(); done(keys.result.some((one) => /^aerial:/.test(one))); }; }; })"""
    )
    context.close()
    office.kill()

    context = restarted(_chromium, tmp_path / "profile")
    context.set_offline(True)
    page = opened(context, office.phone)
    key(page, "North Eighty", exact=False)
    page.locator(".map").scroll_into_view_if_needed()
    _lies_right(page)
    for name, seen in _colours(page).items():
        # The boundary's wash and JPEG change a colour a little, never to that of another quarter.
        assert min(CORNERS, key=lambda one: sum(abs(a - b) for a, b in zip(CORNERS[one], seen, strict=True))) == name, (
            seen
        )
    # Under the walk's map and where a stop's place is tapped, too.
    main_key(page, "Walk it")
    page.locator(".key.main", has_text="Stop here").wait_for()
    _lies_right(page)
    main_key(page, "Stop here")
    key(page, "Place within", exact=False)
    _lies_right(page)
    context.close()
