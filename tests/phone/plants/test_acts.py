"""Done, a sample with its label, a call, letters: tapped on the phone, in the record once."""

from __future__ import annotations

import io
from datetime import date, timedelta
from typing import TYPE_CHECKING

import zxingcpp
from PIL import Image

from phone._office import Office
from phone._steps import all_sent, key, main_key, more, settled
from phone.plants.conftest import Since
from tepal.ledger import Ledger, entry

if TYPE_CHECKING:
    from playwright.sync_api import Page


def test_what_was_done_survives_a_reload_and_is_kept(page: Page, here: Office, since: Since) -> None:
    page.goto(f"{here.phone}#/done?site=north-eighty")
    key(page, "Pulled")
    key(page, "+10")
    more(page, "Plants", 2)
    more(page, "People")
    more(page, "Hours of all together", 3)
    key(page, "Nearly all")
    key(page, "None")
    page.get_by_label("Who did it").fill("the Saturday crew")
    settled(page)
    page.reload()
    page.get_by_text("12", exact=True).wait_for()
    page.get_by_text("Wear gloves").wait_for()
    main_key(page, "Keep it")
    page.get_by_role("heading", name="Kept on this phone.").wait_for()
    all_sent(page, 60)
    (made,) = since("done")
    body = made.body
    assert (body.what, body.plants, body.people, body.hours, body.share) == ("pulled", 12, 2, 0.75, 0.9)
    assert body.survivors is False
    assert body.words == "By the Saturday crew."
    assert made.site == "north-eighty"

    page.goto(f"{here.phone}#/done?amends={made.id}")
    page.get_by_role("heading", name="Correct what was done").wait_for()
    more(page, "Plants")
    main_key(page, "Keep it")
    page.get_by_role("heading", name="Kept on this phone.").wait_for()
    all_sent(page, 60)
    correction = since("done")[1]
    assert (correction.amends, correction.body.plants, correction.body.what) == (made.id, 13, "pulled")


def test_spraying_says_until_when_nobody_enters(page: Page, here: Office, since: Since) -> None:
    page.goto(f"{here.phone}#/done?site=north-eighty")
    key(page, "Sprayed")
    page.get_by_label("Nobody enters before").fill("2026-06-19T07:00")
    page.get_by_text("The label is the law").wait_for()
    main_key(page, "Keep it")
    page.get_by_role("heading", name="Kept on this phone.").wait_for()
    all_sent(page, 60)
    (made,) = since("done")
    # Central time, in summer.
    assert made.body.re_entry_until.isoformat() == "2026-06-19T07:00:00-05:00"


def test_where_nobody_may_be_it_is_said_on_every_screen_that_keeps_one_there(page: Page, here: Office) -> None:
    for screen in ("plant", "done", "sample"):
        page.goto(f"{here.phone}#/{screen}?site=creek-bottom")
        page.get_by_text("Nobody enters before Friday, June 19, 2099").wait_for()


def test_the_label_of_a_sample_is_read_off_the_screen(page: Page, here: Office, since: Since) -> None:
    page.goto(f"{here.phone}#/sample?site=north-eighty")
    key(page, "Young leaves")
    key(page, "Which pigweed it is")
    page.get_by_label("Laboratory").fill("State diagnostic laboratory")
    main_key(page, "Keep it and show the label")
    page.get_by_role("img", name="QR code of this sample").wait_for()
    sign = page.locator(".label_sign").inner_text()
    seen = page.inner_text("main")
    found = zxingcpp.read_barcodes(Image.open(io.BytesIO(page.screenshot())).convert("L"))
    all_sent(page, 60)
    (made,) = since("sample")
    assert [code.text for code in found] == [made.id]
    assert sign.replace(" ", "").lower() == made.id[-8:]
    assert "North Eighty" not in seen
    assert (made.body.step, made.body.what, made.body.test) == ("made", "leaf", "species")
    assert made.body.laboratory == "State diagnostic laboratory"
    # The next bag: another id, the laboratory as before.
    page.get_by_role("link", name="Another sample").click()
    assert page.get_by_label("Laboratory").input_value() == "State diagnostic laboratory"


def test_a_call_taken_at_the_pickup(page: Page, here: Office, since: Since) -> None:
    page.goto(f"{here.phone}#/report")
    page.get_by_label("What they said").fill("Red stalks over the beans,\nsouth fence.")
    page.get_by_label("Who", exact=True).fill("  a renter ")
    page.get_by_label("Where", exact=True).fill("SE 1/4 of section 9")
    key(page, "It is where I stand", exact=False)
    key(page, "Tomorrow")
    settled(page)
    page.reload()
    page.get_by_text("It is where I stand (tap to undo)").wait_for()
    main_key(page, "Keep it")
    page.get_by_role("link", name="Take a call").wait_for()
    all_sent(page, 60)
    (made,) = since("report")
    body = made.body
    assert (body.how, body.who, body.words) == ("call", "a renter", "Red stalks over the beans,\nsouth fence.")
    assert body.place.words == "SE 1/4 of section 9"
    assert body.place.error_m > 0
    today = page.evaluate("() => new Date().toLocaleDateString('sv')")
    assert body.answer_by == date.fromisoformat(today) + timedelta(days=1)


def test_letters_are_read_where_there_is_no_signal(page: Page, here: Office) -> None:
    with Ledger.open(str(here.ledger)) as ledger:
        body = {
            "to": "the owner",
            "signed_by": "the office",
            "as_of": "2026-06-18",
            "text": "Walk it again.\nBefore July.",
        }
        ledger.add([entry("letter", body, by="office", site="north-eighty", made_at="2026-06-18T12:00:00-05:00")])
    page.goto(f"{here.phone}#/letter?site=north-eighty")
    page.reload()
    page.get_by_text("Walk it again.").wait_for()
    page.context.set_offline(True)
    page.reload()
    page.get_by_text("Before July.").wait_for()
    assert "Thursday, June 18" in page.locator("h2").inner_text()
    page.context.set_offline(False)
