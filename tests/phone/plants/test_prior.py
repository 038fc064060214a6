"""Where something was found before, the phone begins from the office's prior of the place and ends with the room's."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from phone._office import Office
from phone._steps import all_sent, has_worker, opened
from phone.plants._botanist import Botanist
from tepal.cli import main
from tepal.ledger import Ledger, entry
from tepal.plant import identify

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Page

AS_GOOD_AS_EQUAL = 1e-9
FIGURES = """() => Object.fromEntries([...document.querySelectorAll(".figures tr")].map((row) =>
  [row.querySelector("em").innerText, [...row.querySelectorAll("data")].map((one) => Number(one.value))]))"""


def _found_before(path: Path) -> None:
    """A laboratory found waterhemp in North Eighty, and somebody saw it in Creek Bottom."""
    made = []
    for site in ("north-eighty", "creek-bottom"):
        plant = entry("plant", {"stage": "vegetative", "looks": {"stem_hair_upper": "none"}}, by="office", site=site)
        body = {"step": "result", "test": "species", "taxon": "AMATU", "sure": 0.99, "of": plant.id}
        made += [plant, entry("sample", body, by="office", site=site)]
    with Ledger.open(str(path)) as ledger:
        assert not ledger.add(made).refused


def _prior_told(phone: BrowserContext, office: Office) -> dict[str, float]:
    """As soon as the desk has made its readings."""
    end = time.monotonic() + 120
    while time.monotonic() < end:
        today: dict[str, Any] = phone.request.get(f"{office.url}/today").json()
        (site,) = [one for one in today["sites"] if one["id"] == "north-eighty"]
        if site["prior"]:
            return dict(site["prior"])
        time.sleep(0.2)
    raise AssertionError("no prior was told")


def _figures(page: Page) -> dict[str, list[float]]:
    page.get_by_role("button", name="Figures", exact=True).click()
    page.locator(".figures table").wait_for()
    found: dict[str, list[float]] = page.evaluate(FIGURES)
    return found


@pytest.mark.slow
def test_the_phone_reckons_from_the_offices_prior_as_the_room_does(
    phone: BrowserContext, office: Office, tables: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    office.kill()
    _found_before(office.ledger)
    office.reckons = True
    office.start()
    told = _prior_told(phone, office)
    page = opened(phone, office.phone)
    has_worker(page)
    page.wait_for_function(
        """() => new Promise((done) => { const asked = indexedDB.open("tepal"); asked.onsuccess = () => {
          const got = asked.result.transaction("today").objectStore("today").get("today");
          got.onsuccess = () => { asked.result.close();
            done(!!got.result?.value.sites.some((one) => one.prior)); }; }; })"""
    )
    phone.set_offline(True)
    page.goto(f"{office.phone}#/plant?site=north-eighty")
    page.locator(".answers").wait_for()
    person = Botanist(page, tables, "AMAPA", "vegetative")
    person.look()
    figures = _figures(page)
    person.tap(person.button("Keep this plant"))
    page.get_by_text("Kept on this phone.").wait_for()
    phone.set_offline(False)
    all_sent(page)
    (kept,) = [one.plain()["body"] for one in office.entries("plant") if one.by == "Scout One"]

    (tmp_path / "prior.csv").write_text("code,weight\n" + "".join(f"{code},{w!r}\n" for code, w in told.items()))
    line = {"id": "it", "stage": kept["stage"], "looks": kept["looks"]}
    (tmp_path / "plant.jsonl").write_text(json.dumps(line))
    capsys.readouterr()
    asked = ["plant", "--from", str(tmp_path / "plant.jsonl"), "--prior", str(tmp_path / "prior.csv"), "--json"]
    assert main(asked) == 0
    posterior = json.loads(capsys.readouterr().out)["posterior"]
    call = identify(kept["looks"], stage=kept["stage"], prior=told)
    before = dict(zip(call.taxa, call.prior.tolist(), strict=True))
    usual = identify(kept["looks"], stage=kept["stage"])
    names = {told_of["scientific"]: code for code, told_of in person.texts["names"].items()}
    shown = {names[name]: values for name, values in figures.items() if name in names}
    assert set(shown) == {code for code, p in posterior.items() if p >= 0.01}
    for code, (after, first) in shown.items():
        assert after == pytest.approx(posterior[code], abs=AS_GOOD_AS_EQUAL)
        assert first == pytest.approx(before[code], abs=AS_GOOD_AS_EQUAL)
    # It is the place's own: waterhemp was found, and counts for more before any look than in the mean of all regions.
    assert before["AMATU"] > 1.5 * float(usual.prior[usual.taxa.index("AMATU")])
    off = max(abs(after - posterior[code]) for code, (after, _) in shown.items())
    with capsys.disabled():
        print(f"\nphone against room, with a prior of the place: {off:.1e} apart at most, {len(shown)} names shown")
