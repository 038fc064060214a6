"""A plant on the phone, by taps in a real browser: named as the room names it, kept, and in the record once."""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from phone._office import Office
from phone._steps import all_sent, has_worker, opened, settled
from phone.conftest import PROFILE, let_in
from phone.plants._botanist import Botanist, leaf_photo, ratio_said
from phone.plants._node import PHONE, node
from phone.plants.conftest import Since
from tepal.flora import load
from tepal.plant import identify, sentence
from tepal.words import Words

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

FLORA = load()


PLANTS = [
    ("AMAPA", "vegetative"),
    ("AMATU", "vegetative"),
    ("AMASP", "vegetative"),
    ("AMARE", "reproductive"),
    ("CHEAL", "seedling_2-4_leaf"),
]


def begin(page: Page, office: Office) -> None:
    page.goto(f"{office.phone}#/plant?site=north-eighty")
    page.locator(".answers").wait_for()


def keep(person: Botanist) -> None:
    person.tap(person.button("Keep this plant"))
    person.page.get_by_text("Kept on this phone.").wait_for()


def named(looks: dict[str, Any], stage: str) -> str:
    return sentence(identify(looks, stage=stage), FLORA, Words())


@pytest.mark.slow
def test_five_plants_without_signal_are_in_the_record_once(
    page: Page,
    here: Office,
    since: Since,
    tables: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    has_worker(page)
    page.context.set_offline(True)
    slow = page.context.new_cdp_session(page)
    slow.send("Emulation.setCPUThrottlingRate", {"rate": 4})
    said: dict[tuple[str, str], str] = {}
    lines: list[str] = []
    times: list[list[float]] = []
    for number, (kind, stage) in enumerate(PLANTS):
        begin(page, here)
        person = Botanist(page, tables, kind, stage)
        person.photograph(leaf_photo(0.6 + 0.1 * number, seed=number)[0])
        page.get_by_role("img", name="Photo 1").wait_for()
        said[kind, stage] = person.look()
        keep(person)
        times.append(person.times)
        lines.append(
            f"{kind} {stage}: {person.taps} taps with the photo, {len(person.asked)} looks: {said[kind, stage]}"
        )
    slow.send("Emulation.setCPUThrottlingRate", {"rate": 1})
    page.context.set_offline(False)
    all_sent(page, 60)
    plants, photos = since("plant"), since("photo")
    assert len(plants) == len(photos) == len(PLANTS)
    for plant, photo, (kind, stage) in zip(plants, photos, PLANTS, strict=True):
        body = plant.body
        assert plant.site == "north-eighty"
        assert body.stage == stage  # type: ignore[union-attr]
        assert named(dict(body.looks), stage).startswith(said[kind, stage])  # type: ignore[union-attr]
        assert photo.body.of == plant.id  # type: ignore[union-attr]
        assert body.photos == (photo.body.sha256,)  # type: ignore[union-attr]
        assert body.at is not None and body.error_m is not None  # type: ignore[union-attr]
        answer = page.request.get(f"{here.url}/photos/{photo.body.sha256}?w=200")  # type: ignore[union-attr]
        assert answer.ok and answer.headers["content-type"] == "image/jpeg"
    with capsys.disabled():
        all_times = np.concatenate(times)
        told = f"{np.median(all_times):.2f} s, the slowest {all_times.max():.2f} s"
        print("\n".join(["", *lines, f"from a tap to the next screen, at a quarter of the machine's speed: {told}"]))


def test_three_points_on_a_photo_become_a_look(page: Page, here: Office, since: Since, tables: Path) -> None:
    rng = np.random.default_rng(3)
    off = []
    for number, truth in enumerate((0.5, 0.9, 1.3)):
        begin(page, here)
        person = Botanist(page, tables, "AMAPA", "vegetative")
        person._answer("stage")
        photo, points = leaf_photo(truth, seed=number, turn=20.0 * number)
        person.photograph(photo, key="Measure it on a photo")
        page.locator(".board img").wait_for()
        box = page.locator(".board img").bounding_box()
        assert box is not None
        # Half a millimetre of the glass, in pixels of the photo.
        noise = 3 * 1500 / box["width"]
        for x, y in points:
            person.touch((x + rng.normal(0, noise), y + rng.normal(0, noise)), 1500, rest_ms=400)
            # What is asked may not move the photo from under the finger.
            assert page.locator(".board img").bounding_box() == box
        value, error = ratio_said(page.locator("h1").inner_text())
        off.append((value - truth) / error)
        person.tap(person.button("Use it"))
        page.get_by_text(f"Leaf stalk over blade: {value:.2f} ± {error:.2f} by three points").wait_for()
        person.tap(person.button("What is it so far?"))
        keep(person)
    assert max(abs(z) for z in off) < 3, off
    all_sent(page, 60)
    looks = [dict(entry.body.looks) for entry in since("plant")]  # type: ignore[union-attr]
    assert all(look["petiole_blade_ratio_lower"] < 2 for look in looks)
    assert all("three points" in (entry.body.words or "") for entry in since("plant"))


def test_quick_taps_are_told_to_be_coarse_and_arrows_make_them_fine(
    page: Page,
    here: Office,
    since: Since,
    tables: Path,
) -> None:
    begin(page, here)
    person = Botanist(page, tables, "AMAPA", "vegetative")
    person._answer("stage")
    photo, points = leaf_photo(1.0, seed=5)
    person.photograph(photo, key="Measure it on a photo")
    page.locator(".board img").wait_for()
    for point in points:
        person.touch(point, 1500)
    _, coarse = ratio_said(page.locator("h1").inner_text())
    assert "longer or shorter only" in page.locator("[role=status]").inner_text()
    for which in ("Foot", "Blade begins", "Tip"):
        person.tap(person.button(which))
        person.tap(person.button("Up"))
        person.tap(person.button("Down"))
    value, fine = ratio_said(page.locator("h1").inner_text())
    assert "As good as with a ruler" in page.locator("[role=status]").inner_text()
    assert fine < coarse / 2
    assert value == pytest.approx(1.0, abs=0.02)


# A disk that takes nothing more.
FULL = """() => {
  const put = IDBObjectStore.prototype.put;
  window.full = true;
  IDBObjectStore.prototype.put = function (...given) {
    if (window.full) throw new DOMException("full", "QuotaExceededError");
    return put.apply(this, given);
  };
}"""


def test_a_photo_that_finds_no_room_is_not_pretended_to_be_kept(page: Page, here: Office, since: Since) -> None:
    begin(page, here)
    page.evaluate(FULL)
    photo = {"name": "plant.jpg", "mimeType": "image/jpeg", "buffer": leaf_photo(0.8, seed=9)[0]}
    page.locator(".camera input").last.set_input_files([photo])  # type: ignore[list-item]
    assert "full" in page.get_by_role("alert").inner_text()
    assert page.get_by_role("img", name="Photo 1").count() == 0
    page.evaluate("window.full = false")
    page.get_by_role("button", name="Try again").tap()
    page.get_by_role("img", name="Photo 1").wait_for()
    page.get_by_role("button", name="What is it so far?").tap()
    page.get_by_role("button", name="Keep this plant").tap()
    page.get_by_text("Kept on this phone.").wait_for()
    all_sent(page, 60)
    assert len(since("photo")) == 1


@pytest.mark.slow
def test_a_plant_half_looked_at_is_there_after_the_browser_was_killed(
    _chromium: Browser,
    here: Office,
    since: Since,
    tmp_path: Path,
    tables: Path,
) -> None:
    def up() -> BrowserContext:
        return _chromium.browser_type.launch_persistent_context(
            str(tmp_path / "profile"),
            executable_path="/usr/bin/chromium",
            args=["--no-sandbox", "--disable-quic", "--disable-background-networking"],
            **PROFILE,
        )

    second = here.invitation("Scout Two", "scout", "north-eighty", "creek-bottom")
    context = up()
    let_in(context, second)
    page = opened(context, here.phone)
    has_worker(page)
    begin(page, here)
    person = Botanist(page, tables, "AMAPA", "vegetative")
    person.photograph(leaf_photo(0.8, seed=1)[0])
    page.get_by_role("img", name="Photo 1").wait_for()
    for name in ("stage", "fold_test_lower_leaf"):
        assert person.character_of[page.locator("h1").inner_text()] == name
        person._answer(name)
        settled(page)
    before = page.locator("h1").inner_text()
    context.close()

    here.kill()
    context = up()
    page = context.new_page()
    # Begun from somewhere else: what is under way comes first.
    page.goto(f"{here.phone}#/plant?site=creek-bottom")
    page.locator(".answers").wait_for()
    assert page.locator("h1").inner_text() == before
    page.get_by_role("img", name="Photo 1").wait_for()
    person = Botanist(page, tables, "AMAPA", "vegetative")
    person.look()
    keep(person)
    here.start()
    page.reload()
    all_sent(page, 60)
    plants = since("plant")
    assert [plant.site for plant in plants] == ["north-eighty"]
    assert len(since("photo")) == 1
    context.close()


def test_an_answer_is_changed_by_one_tap_and_a_kept_plant_by_an_amendment(
    page: Page,
    here: Office,
    since: Since,
    tables: Path,
) -> None:
    begin(page, here)
    person = Botanist(page, tables, "AMAPA", "vegetative")
    palmer = person.look()
    page.get_by_role("button", name="The leaf stalk is longer than the blade change").tap()
    chosen = person.button("The leaf stalk is longer than the blade")
    assert chosen.get_attribute("aria-pressed") == "true"
    person.tap(person.button("The leaf stalk is shorter than the blade"))
    settled(page)
    other = person.look()
    assert other != palmer
    keep(person)
    page.get_by_role("link", name="Change an answer").tap()
    page.get_by_role("button", name="The leaf stalk is shorter than the blade change").tap()
    person.tap(person.button("The leaf stalk is longer than the blade"))
    settled(page)
    again = person.look()
    person.tap(person.button("Keep the correction"))
    page.get_by_text("Kept on this phone.").wait_for()
    all_sent(page, 60)
    first, second = since("plant")
    assert second.amends == first.id
    assert first.body.looks["fold_test_lower_leaf"] == "shorter"  # type: ignore[union-attr]
    assert second.body.looks["fold_test_lower_leaf"] == "longer"  # type: ignore[union-attr]
    assert named(dict(first.body.looks), "vegetative").startswith(other)  # type: ignore[union-attr]
    assert named(dict(second.body.looks), "vegetative").startswith(again)  # type: ignore[union-attr]


def test_a_picture_that_the_office_would_not_take_is_refused_in_words(page: Page, here: Office) -> None:
    begin(page, here)
    file = {"name": "plant.webp", "mimeType": "image/webp", "buffer": b"RIFF"}
    page.locator(".camera input").last.set_input_files([file])  # type: ignore[list-item]
    assert "JPEG, PNG or HEIC" in page.get_by_role("alert").inner_text()


BUNDLE = """
import * as esbuild from "esbuild";
const made = await esbuild.build({
  entryPoints: ["src/plant/engine.ts"], bundle: true, format: "iife", globalName: "engine", write: false,
});
console.log(made.outputFiles[0].text);
"""
WORST = """async (golden) => {
  const tables = await (await fetch("data/tables.json")).json();
  const worst = { cases: 0, posterior: 0, gain: 0, next: 0, enough: 0 };
  const most = (name, one, two) => one.forEach((v, k) => (worst[name] = Math.max(worst[name], Math.abs(v - two[k]))));
  for (const line of golden.trim().split("\\n")) {
    const wanted = JSON.parse(line);
    const call = engine.identify(tables, wanted.looks, wanted.stage, { region: wanted.region });
    const next = call.next.filter(({ gain }) => gain > 1e-9);
    worst.cases += 1;
    most("posterior", call.posterior, wanted.posterior);
    if (next.map(({ name }) => name).join() !== wanted.next.join()) worst.next += 1;
    else most("gain", next.map(({ gain }) => gain), wanted.gain);
    if (call.enough !== wanted.enough) worst.enough += 1;
  }
  return worst;
}"""


@pytest.mark.slow
def test_the_golden_cases_in_chromium(page: Page, tables: Path) -> None:
    """With the tables that the app itself was given."""
    done = subprocess.run(
        [node(), "--input-type=module", "-e", BUNDLE], cwd=PHONE, capture_output=True, text=True, check=True
    )
    page.evaluate(f"() => {{{done.stdout.replace('var engine', 'globalThis.engine', 1)}}}")
    worst = page.evaluate(WORST, (tables / "golden.jsonl").read_text(encoding="utf-8"))
    print(worst)
    assert (worst["cases"], worst["next"], worst["enough"]) == (500, 0, 0)
    assert worst["posterior"] <= 1e-9
    assert worst["gain"] <= 1e-9
