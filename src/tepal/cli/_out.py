"""What a command may print: JSON objects for programs, sentences for people, one line for a refusal."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any, TextIO

DONE, IN_PART, REFUSED, FAULT = 0, 1, 2, 70


def emit(value: Mapping[str, Any], stream: TextIO | None = None) -> None:
    """Print one JSON object on one line. Dates become ISO text; a number that is not finite is a bug, not "NaN"."""
    text = json.dumps(plain(value), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    print(text, file=stream or sys.stdout)


def say(text: str = "") -> None:
    """Print a line for people."""
    print(text, file=sys.stdout)


def warn(text: str) -> None:
    """Print one line on stderr, whatever the text holds."""
    print(" ".join(text.split()), file=sys.stderr)


def plain(value: Any) -> Any:
    """Numpy scalars and arrays, dates, tuples and mappings as plain JSON values."""
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, (str, bool, int)) or value is None:
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, (datetime, date)):
        return value.isoformat()
    if hasattr(value, "tolist"):  # numpy, without importing it
        return plain(value.tolist())
    if isinstance(value, Sequence):
        return [plain(item) for item in value]
    raise TypeError(f"no JSON form for {type(value).__name__}")
