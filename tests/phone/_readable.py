"""Whether a screen can be read and hit: what axe finds, keys that are too small, what is wider than the glass."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from _require import require
from phone.plants._node import PHONE

if TYPE_CHECKING:
    from playwright.sync_api import Page

_AXE = PHONE / "node_modules" / "axe-core" / "axe.min.js"
_LEAST_PX = 55.5  # 56, less what the screen's own pixels round away
_SMALL = """(least) => [...document.querySelectorAll("button, a[href], input, select, textarea, label.key")]
  .filter((one) => one.offsetParent !== null && !one.matches(".unseen, .leaflet-control-attribution *"))
  .map((one) => [one, one.getBoundingClientRect()])
  .filter(([one, box]) => box.height < least || (one.matches(".key") && box.width < least))
  .map(([one, box]) => `${one.outerHTML.slice(0, 80)} ${box.width}x${box.height}`)"""


def faults(page: Page) -> dict[str, Any]:
    """By kind; nothing where there is none."""
    require("axe-core (npm ci in phone/)", _AXE.is_file())
    page.evaluate(_AXE.read_text(encoding="utf-8"))
    violations = page.evaluate("async () => (await axe.run(document)).violations")
    found = {
        "axe": [(one["id"], [node["html"][:160] for node in one["nodes"]]) for one in violations],
        "small": page.evaluate(_SMALL, _LEAST_PX),
        "wide": page.evaluate("Math.max(0, document.documentElement.scrollWidth - screen.width)"),
    }
    return {kind: what for kind, what in found.items() if what}
