"""Entries as a phone or a desk would send them: plain dicts in the form of `entries.jsonl`."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import numpy as np

from tepal.ground import Frame


@dataclass
class Notebook:
    """Collects the entries of one site, in the order in which they were made."""

    site: str
    frame: Frame
    entries: list[dict[str, Any]] = field(default_factory=list)
    _moment: datetime | None = None

    def write(self, kind: str, by: str, on: date, body: dict[str, Any], *, hour: float = 10.0) -> str:
        """Add an entry made on a day at about an hour (UTC); gives back its id."""
        moment = datetime.combine(on, time(), UTC) + timedelta(hours=hour)
        if self._moment is not None and moment <= self._moment:
            moment = self._moment + timedelta(seconds=40)
        self._moment = moment
        key = uuid7(moment, f"{self.site}|{kind}|{len(self.entries)}")
        clean = {name: value for name, value in body.items() if value is not None}
        self.entries.append(
            {
                "id": key,
                "kind": kind,
                "site": self.site,
                "by": by,
                "made_at": moment.isoformat().replace("+00:00", "Z"),
                "body": {"on": on.isoformat(), **clean},
            }
        )
        return key

    def lonlat(self, east: float, north: float) -> list[float]:
        """A place of the site's own frame as [lon, lat], to about a centimetre."""
        return [round(float(v), 7) for v in self.frame.to_lonlat([east, north])]

    def ring(self, corners: np.ndarray) -> list[list[float]]:
        """Corners (shape = (n, 2), metres) as a closed ring of [lon, lat]."""
        ring = [self.lonlat(*corner) for corner in corners]
        return [*ring, ring[0]]

    def line(self, points: np.ndarray) -> dict[str, Any]:
        return {"type": "LineString", "coordinates": [self.lonlat(*point) for point in points]}


def uuid7(moment: datetime, text: str) -> str:
    """A version 7 id: the moment in milliseconds, then bits that follow from `text` (RFC 9562), the same every run."""
    milliseconds = int(moment.timestamp() * 1000)
    tail = int.from_bytes(hashlib.blake2b(text.encode(), digest_size=10).digest(), "big")
    number = milliseconds << 80 | tail
    number = number & ~(0xF << 76) | 0x7 << 76
    number = number & ~(0x3 << 62) | 0x2 << 62
    digits = f"{number:032x}"
    return "-".join((digits[:8], digits[8:12], digits[12:16], digits[16:20], digits[20:]))
