"""How the tests start their real browser."""

from __future__ import annotations

from _require import program, require

ARGUMENTS = ["--no-sandbox", "--disable-quic", "--disable-background-networking"]


def executable() -> str:
    """Chromium's path on this machine; without one the test ends here."""
    return require("Chromium", program("chromium", "chromium-browser"))
