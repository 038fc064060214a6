"""What a test needs from the machine, and what happens where the machine has it not.

`require("Chromium", path)` skips the test, and the run names it at its end (see `conftest.py`). With
TEPAL_REQUIRE_ALL=1, as in `.ci/run`, the test fails instead: there a skip would hide that something was never tested.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import TypeVar

import pytest

T = TypeVar("T")
SAID = "not on this machine: "


def require(name: str, present: T | None) -> T:
    """`present` as it came when it is true (a path, a module, True); otherwise the test ends here.

    It skips with a reason that starts with `SAID`, or fails when TEPAL_REQUIRE_ALL=1.
    """
    __tracebackhide__ = True
    if present:
        return present
    if os.environ.get("TEPAL_REQUIRE_ALL") == "1":
        pytest.fail(f"{SAID}{name}, and TEPAL_REQUIRE_ALL=1 says that nothing may be left out", pytrace=False)
    pytest.skip(f"{SAID}{name}")


def program(*names: str, folders: tuple[str, ...] = ()) -> str | None:
    """The full path of the first of `names` found on PATH or in `folders` (glob patterns, the last match first)."""
    for name in names:
        if found := shutil.which(name):
            return found
        for pattern in folders:
            matches = sorted(Path("/").glob(f"{pattern.lstrip('/')}/{name}"), key=_by_number)
            if matches:
                return str(matches[-1])
    return None


def _by_number(path: Path) -> tuple[int, str]:
    """Order folders named by a version: 9 before 15."""
    numbers = [int(part) for part in path.parts if part.isdigit()]
    return (numbers[-1] if numbers else 0, str(path))
