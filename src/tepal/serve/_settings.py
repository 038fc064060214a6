"""How an office runs its server."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Literal
from zoneinfo import ZoneInfo

from tepal.words import Units


def _now() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class Settings:
    """What is the office's to choose. Sizes in bytes.

    `hosts` are the names under which the server answers; a request for another is refused, so that a page elsewhere
    cannot make a browser speak to it under its own name. `proxies` are the addresses of proxies that are believed for
    whom they ask ("*": whoever reaches the port). `now` is the clock; `zone` names the office's zone
    (America/Chicago), the machine's own if not given.
    """

    office: str = ""
    public_url: str | None = None
    hosts: tuple[str, ...] = ("127.0.0.1", "localhost", "::1")
    proxies: tuple[str, ...] = ()
    units: Units = "us"
    language: Literal["en", "es"] = "en"
    zone: str | None = None
    law: Path | None = None
    invitation_lasts: timedelta = timedelta(days=7)
    most_body: int = 2_000_000
    most_photo: int = 25_000_000
    now: Callable[[], datetime] = _now

    def here(self) -> datetime:
        """The clock on the office's wall. What is entered at the desk carries it: its day is then the office's day."""
        return self.now().astimezone(None if self.zone is None else ZoneInfo(self.zone))

    def today(self) -> date:
        """The day at the office."""
        return self.here().date()
