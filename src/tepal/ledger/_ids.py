"""Canonical text; ids by time where a person makes an entry, by content where a row comes from a file (RFC 9562)."""

from __future__ import annotations

import hashlib
import json
import os
import time
import uuid
from typing import Any

_VARIANT = 0b10 << 62


def canonical(value: Any) -> str:
    """JSON with sorted keys and no spaces."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":"))


def new_id(*, unix_ms: int | None = None) -> str:
    """A UUIDv7: 48 bits of milliseconds, 74 random bits; ids made later sort later."""
    stamp = time.time_ns() // 1_000_000 if unix_ms is None else unix_ms
    noise = int.from_bytes(os.urandom(10), "big")
    high = (stamp & (1 << 48) - 1) << 16 | 7 << 12 | noise >> 68
    low = _VARIANT | noise & (1 << 62) - 1
    return str(uuid.UUID(int=high << 64 | low))


def row_id(kind: str, site: str | None, row: str, ordinal: int = 0) -> str:
    """A UUIDv8 from what a row says: the same row of the same site has the same id on every machine.

    `row` is the row's canonical text; `ordinal` counts rows that say the same in one file (0 for the first), so that
    two equal counts in one file are two entries and taking the file again adds neither.
    """
    return content_id(kind, site or "", row, str(ordinal))


def content_id(*parts: str) -> str:
    """A UUIDv8 from texts."""
    digest = hashlib.sha256()
    for part in parts:
        raw = part.encode()
        # Lengths in front: ("ab", "c") and ("a", "bc") must differ.
        digest.update(len(raw).to_bytes(8, "big") + raw)
    value = int.from_bytes(digest.digest()[:16], "big")
    high = (value >> 64) & ~(0xF << 12) | 8 << 12
    low = value & (1 << 62) - 1 | _VARIANT
    return str(uuid.UUID(int=high << 64 | low))
