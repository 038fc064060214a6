"""What axe-core finds on a page that stands in a browser, by the rules of the house."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from _require import require

if TYPE_CHECKING:
    from playwright.sync_api import Page

_AXE = Path(__file__).resolve().parents[1] / "phone" / "node_modules" / "axe-core" / "axe.min.js"
_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
# Our own rule is stricter than AA: text at 7:1 (look of the house), which is axe's enhanced contrast.
_OPTIONS = {"runOnly": _TAGS, "rules": {"color-contrast-enhanced": {"enabled": True}, "target-size": {"enabled": True}}}
_OVER = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


def violations(page: Page, options: dict[str, Any] | None = None) -> list[str]:
    """Each rule that is broken, with the first places where it is."""
    require("axe-core (npm ci in phone/)", _AXE.is_file())
    # Inside the page's own policy a script of ours could not be put in; the tool's is evaluated past it.
    page.evaluate(_AXE.read_text(encoding="utf-8"))
    told = page.evaluate("options => axe.run(document, options)", _OPTIONS if options is None else options)
    assert told["passes"], "axe looked at nothing"
    return [f"{one['id']} {[node['html'][:90] for node in one['nodes'][:2]]}" for one in told["violations"]]


def runs_over(page: Page) -> int:
    """By how many pixels the page is wider than its window."""
    over: int = page.evaluate(_OVER)
    return max(over, 0)
