"""The pictures of the desk's pages in the docs: the demo county on a day in July, as Chromium shows them.

    python tools/desk_pictures.py

Writes docs/pictures/desk-*.png. Needs Chromium.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import threading
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import uvicorn
from PIL import Image
from playwright.sync_api import Browser, sync_playwright

from tepal import demo
from tepal.ledger import Ledger
from tepal.serve import Settings, app

ROOT = Path(__file__).resolve().parent.parent
TO = ROOT / "docs" / "pictures"
NOW = datetime(2026, 7, 16, 15, 2, tzinfo=UTC)
ARGUMENTS = ["--no-sandbox", "--disable-quic", "--disable-background-networking"]
DESK, PHONE = (1280, 860), (390, 844)
_GAP = 24


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        ledger = demo.make(Path(folder) / "larkmoor").ledger
        with Ledger.open(ledger) as book:
            made = app(book, Settings(office="Larkmoor County Extension", now=lambda: NOW, hosts=("127.0.0.1",)))
            desk = made.state.desk
            desk.readings.start()
            desk.readings.settled(made.state.settings.today(), seconds=600)
            server = uvicorn.Server(uvicorn.Config(made, port=0, log_level="error", lifespan="off"))
            thread = threading.Thread(target=server.run, daemon=True)
            thread.start()
            while not server.started:
                time.sleep(0.05)
            port = server.servers[0].sockets[0].getsockname()[1]
            try:
                draw(f"http://127.0.0.1:{port}", people(made), book)
            finally:
                server.should_exit = True
                thread.join()
                desk.close()


def people(made: Any) -> str:
    """An office of three; the coordinator's token."""
    office = made.state.office
    tokens = []
    for name, role, device in (("Ada Finch", "coordinator", "desk by the window"), ("Ben Ruiz", "scout", "phone")):
        person = office.add_person(name, role, now=NOW)
        code = office.invite(person.id, now=NOW, lasts=timedelta(days=7)).code
        tokens.append(office.join(code, device, now=NOW)[0])
    return str(tokens[0])


def draw(base: str, token: str, book: Ledger) -> None:
    call = next(one for one in book.entries(kinds=("report",)) if one.site == "roads-12-and-k")
    plant = next(one for one in book.entries(kinds=("plant",)) if one.site == "north-eighty")
    pages = {
        "county": "/",
        "site": "/sites/creek-bottom",
        "call": f"/calls/{call.id}?step=2&stage=vegetative",
        "plant": f"/plants/{plant.id}",
    }
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    if program is None:
        sys.exit("Chromium is needed for this.")
    with sync_playwright() as driver, tempfile.TemporaryDirectory() as folder:
        browser = driver.chromium.launch(executable_path=program, args=ARGUMENTS)
        shot = Path(folder) / "shot.png"
        for name, path in pages.items():
            take(browser, base + path, token, size=DESK, scheme="light", to=shot)
            save(Image.open(shot), f"desk-{name}.png")
        small = []
        for name, scheme in (("county", "light"), ("site", "dark"), ("plant", "dark")):
            take(browser, base + pages[name], token, size=PHONE, scheme=scheme, to=shot)
            small.append(Image.open(shot).convert("RGB"))
        browser.close()
    wide = sum(one.width for one in small) + _GAP * (len(small) - 1)
    whole = Image.new("RGB", (wide, PHONE[1]), "#cfc7b8")
    for i, one in enumerate(small):
        whole.paste(one, (i * (PHONE[0] + _GAP), 0))
    save(whole, "desk-phone.png")


def take(browser: Browser, address: str, token: str, *, size: tuple[int, int], scheme: Any, to: Path) -> None:
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme=scheme,
        extra_http_headers={"authorization": f"Bearer {token}"},
    )
    page = context.new_page()
    page.goto(address, wait_until="networkidle")
    page.screenshot(path=to)
    context.close()


def save(picture: Image.Image, name: str) -> None:
    # Ink on paper needs few shades: a fifth of the size.
    picture.convert("RGB").quantize(64, dither=Image.Dither.NONE).save(TO / name, optimize=True)
    print(f"docs/pictures/{name}")


if __name__ == "__main__":
    main()
