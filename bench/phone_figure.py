"""The picture in docs/rooms/phone.md: four screens of the app, side by side, as Chromium shows them.

Run: python bench/phone_figure.py. Needs Chromium and the built app.
"""

from __future__ import annotations

import io
import sys
import tempfile
from pathlib import Path

from PIL import Image

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))

from _chromium import ARGUMENTS, executable  # noqa: E402
from phone._fake import RECEIVER, fix  # noqa: E402
from phone._office import MIDDLE, Office, fill  # noqa: E402
from phone._steps import key, main_key, more, opened, stop  # noqa: E402
from phone.conftest import PROFILE, let_in  # noqa: E402

TARGET = ROOT / "docs" / "rooms" / "phone-screens.png"
WIDE, GAP = 320, 12


def main() -> None:
    from playwright.sync_api import sync_playwright

    shots: list[bytes] = []
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        ledger = Path(folder) / "county.ledger"
        fill(ledger)
        office = Office(ledger)
        office.invitation("Coordinator", "coordinator")
        office.start()
        browser = driver.chromium.launch(executable_path=executable(), args=ARGUMENTS)
        try:
            context = browser.new_context(**PROFILE)
            context.add_init_script(RECEIVER)
            let_in(context, office.invitation("Scout One", "scout", "north-eighty", "creek-bottom", "gravel-pit-forty"))
            page = opened(context, office.phone)
            page.wait_for_timeout(1_500)
            shots.append(page.screenshot())
            key(page, "North Eighty", exact=False)
            main_key(page, "Walk it")
            page.get_by_text("Waiting for the place").wait_for()
            for second in range(240):
                along, row = second % 80, second // 80
                east = (along if row % 2 == 0 else 80 - along) * 3e-5 - 1.2e-3
                fix(page, MIDDLE[0] + east, MIDDLE[1] + row * 3e-4 - 3e-4, 5, second)
                if second in {40, 100, 160, 220}:
                    stop(page, {"Seedlings": 3} if second == 100 else {})
            page.wait_for_timeout(500)
            shots.append(page.screenshot())
            main_key(page, "Stop here")
            more(page, "Up to 4 in", 2)
            page.wait_for_timeout(300)
            shots.append(page.screenshot())
            main_key(page, "Keep")
            key(page, "Finish")
            page.wait_for_timeout(300)
            shots.append(page.screenshot())
        finally:
            browser.close()
            office.kill()
    pictures = [Image.open(io.BytesIO(shot)).convert("RGB") for shot in shots]
    tall = round(pictures[0].height * WIDE / pictures[0].width)
    sheet = Image.new("RGB", (len(pictures) * (WIDE + GAP) - GAP, tall), "#7d7463")
    for number, picture in enumerate(pictures):
        sheet.paste(picture.resize((WIDE, tall), Image.Resampling.LANCZOS), (number * (WIDE + GAP), 0))
    sheet.quantize(32).save(TARGET, optimize=True)
    print(TARGET.relative_to(ROOT), TARGET.stat().st_size)


if __name__ == "__main__":
    main()
