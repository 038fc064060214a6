"""Addresses of the desk's pages, each part made safe to stand in one."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from urllib.parse import quote, urlencode


@dataclass(frozen=True, slots=True)
class Links:
    """Where the pages are. `on` is the day that is looked back at, None for today: every link keeps to it."""

    on: date | None = None

    def county(self) -> str:
        return self._to("/")

    def site(self, site: str, part: str = "") -> str:
        return self._to(f"/sites/{site_part(site)}") + part

    def why(self, site: str, pointer: str) -> str:
        return self._to(f"/sites/{site_part(site)}/why", of=pointer)

    def letter(self, site: str, form: str, reader: str = "tenant") -> str:
        return self._to(f"/sites/{site_part(site)}/letter.{form}", **{"for": reader})

    def people(self, site: str) -> str:
        return f"/sites/{site_part(site)}/people"

    def aerial(self, site: str) -> str:
        return self._to(f"/sites/{site_part(site)}/aerial")

    def plant(self, entry: str) -> str:
        return self._to(f"/plants/{_part(entry)}")

    def calls(self) -> str:
        return self._to("/calls")

    def call(self, entry: str, **more: str) -> str:
        return self._to(f"/calls/{_part(entry)}", **more)

    def photo(self, sha256: str, wide: int = 800) -> str:
        return f"/photos/{_part(sha256)}?w={wide}"

    def leaf(self, sha256: str) -> str:
        """The photo with the leaf on it measured and drawn."""
        return f"/photos/{_part(sha256)}/leaf"

    def sound(self, sha256: str) -> str:
        return f"/sounds/{_part(sha256)}"

    def _to(self, path: str, **more: str) -> str:
        asked = more | ({} if self.on is None else {"on": self.on.isoformat()})
        return path + (f"?{urlencode(asked)}" if asked else "")


def site_part(site: str) -> str:
    """A site's id as one part of an address: whatever people and files call a site, it has a page.

    A slash would end the part, encoded or not; a part of dots alone leads elsewhere in every browser. They are written
    with a tilde instead of the percent sign, which no proxy and no browser takes for more than it is.
    """
    dots = site.strip(".") == ""
    return quote(re.sub(r"[~/.]" if dots else r"[~/]", lambda sign: f"~{ord(sign[0]):02X}", site), safe="")


def site_of(part: str) -> str:
    """The site's id that `site_part` made a part of."""
    return re.sub(r"~(2E|2F|7E)", lambda told: chr(int(told[1], 16)), part)


def _part(text: str) -> str:
    return quote(text, safe="")
