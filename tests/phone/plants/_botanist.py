"""A person who looks at a plant of a known kind and taps what such plants mostly show; and photos of drawn leaves."""

from __future__ import annotations

import io
import json
import re
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from PIL import Image, ImageDraw

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

Points = list[tuple[float, float]]


@dataclass
class Botanist:
    """Answers as plants of `kind` mostly look at `stage`; counts taps and how long the app takes for each."""

    page: Page
    tables: Path
    kind: str
    stage: str
    taps: int = 0
    times: list[float] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.told: dict[str, Any] = json.loads((self.tables / "tables.json").read_text(encoding="utf-8"))
        self.texts: dict[str, Any] = json.loads((self.tables / "texts.en.json").read_text(encoding="utf-8"))
        questions = {words["question"]: name for name, words in self.texts["characters"].items()}
        self.character_of = {**questions, "How far along is the plant?": "stage"}

    def tap(self, what: Locator) -> None:
        """One tap, and the time until the app has drawn what follows."""
        self.taps += 1
        since = time.monotonic()
        what.tap()
        self.page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
        self.times.append(time.monotonic() - since)

    def button(self, name: str) -> Locator:
        return self.page.get_by_role("button", name=name, exact=True)

    def look(self) -> str:
        """Answer until looking more would not change what to do; what the app then says."""
        heading = self.page.locator("h1")
        for _ in range(30):
            heading.wait_for()
            said = heading.inner_text()
            name = self.character_of.get(said)
            if name is None:
                return said
            self.asked.append(name)
            self._answer(name)
            self.page.wait_for_function("said => document.querySelector('h1')?.innerText !== said", arg=said)
        raise AssertionError("it went on asking")

    def _answer(self, name: str) -> None:
        if name == "stage":
            self._state(self.texts["stages"][self.stage])
            return
        row = self._row(name)
        states = self.told["characters"][name].get("states")
        if row is None:
            self.tap(self.button("I cannot tell"))
        elif states:
            best = max(range(len(states)), key=lambda at: row[1 + at])
            self._state(self.texts["characters"][name]["states"][states[best]])
        else:
            unit = self.told["characters"][name]["unit"]
            self.type(f"{row[0] / 2.54 if unit == 'cm' else row[0]:.2f}")

    def _state(self, words: str) -> None:
        self.tap(self.button(words[0].upper() + words[1:]))

    def type(self, number: str) -> None:
        for sign in number:
            self.tap(self.button("point" if sign == "." else sign))
        self.tap(self.button("That is it"))

    def _row(self, name: str) -> list[float] | None:
        """The kind's row, where what is told of the stage is its own."""
        at = self.told["stages"][self.stage]["from"].get(name)
        rows = self.told["rows"][name].get(at, {})
        rows = self.told["rows"][name][rows] if isinstance(rows, str) else rows
        found: list[float] | None = rows.get(self.kind)
        return found

    def photograph(self, photo: bytes, *, key: str = "Take a photo") -> None:
        """One tap on the key; the camera itself is the phone's."""
        self.taps += 1
        file = {"name": "plant.jpg", "mimeType": "image/jpeg", "buffer": photo}
        self.page.locator(".camera", has_text=key).last.locator("input").set_input_files([file])  # type: ignore[list-item]

    def touch(self, point: tuple[float, float], width: int, *, rest_ms: int = 0) -> None:
        """A finger on the photo (`width` pixels wide) at one of its pixels, resting there for a while."""
        self.taps += 1
        box = self.page.locator(".board img").bounding_box()
        assert box is not None
        scale = box["width"] / width
        x, y = box["x"] + point[0] * scale, box["y"] + point[1] * scale
        before = self.page.locator(".board circle").count()
        if rest_ms:
            self.page.mouse.move(x, y)
            self.page.mouse.down()
            self.page.wait_for_timeout(rest_ms)
            self.page.mouse.up()
        else:
            # Down and up in one go, however slow the machine is.
            self.page.touchscreen.tap(x, y)
        self.page.locator(".board circle").nth(min(before, 2)).wait_for()


def leaf_photo(
    ratio: float, *, seed: int, turn: float = 0.0, size: tuple[int, int] = (1500, 2000)
) -> tuple[bytes, Points]:
    """A drawn leaf on rough ground as JPEG, and where its foot, junction and tip lie (pixels). `turn` in degrees."""
    rng = np.random.default_rng(seed)
    ground = rng.normal(150, 16, (size[1] // 6, size[0] // 6)).clip(0, 255).astype(np.uint8)
    photo = Image.merge(
        "RGB", [Image.fromarray((ground * share).astype(np.uint8)) for share in (1, 0.88, 0.72)]
    ).resize(size)
    whole = 0.72 * min(size[1], size[0] * 1.3)
    blade = whole / (1 + ratio)
    along = np.array([np.sin(np.radians(turn)), -np.cos(np.radians(turn))])
    across = np.array([-along[1], along[0]])
    junction = np.array(size) / 2 + along * (ratio * blade - blade) / 2
    foot, tip = junction - along * ratio * blade, junction + along * blade
    t = np.linspace(0, 1, 60)
    half = 0.25 * blade * np.sin(np.pi * t**0.8)
    edge = [tuple(junction + along * blade * s + side * across * a)
            for side, order in ((1, 1), (-1, -1)) for a, s in zip(half[::order], t[::order], strict=True)]  # fmt: skip
    draw = ImageDraw.Draw(photo)
    draw.polygon(edge, fill=(74, 116, 52))
    draw.line([tuple(junction), tuple(tip)], fill=(190, 205, 150), width=8)
    draw.line([tuple(foot), tuple(junction)], fill=(168, 90, 84), width=16)
    out = io.BytesIO()
    photo.save(out, "JPEG", quality=85)
    return out.getvalue(), [tuple(point) for point in (foot, junction, tip)]


def ratio_said(heading: str) -> tuple[float, float]:
    """Value and error in a heading of the three points."""
    found = re.search(r"([\d.]+) ± ([\d.]+)", heading)
    assert found, heading
    return float(found[1]), float(found[2])
