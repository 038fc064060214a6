"""`tepal --version` loads no library that only some commands need."""

from __future__ import annotations

import re
import subprocess
import sys

# Each costs 50 to 500 ms, which a person would wait for at every command.
HEAVY = {"numpy", "scipy", "matplotlib", "shapely", "pyproj", "sqlalchemy", "alembic", "pydantic", "fastapi", "typst"}


def _loaded(*arguments: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-X", "importtime", *arguments], capture_output=True, text=True, check=True, timeout=60
    )
    return set(re.findall(r"\|\s*([a-z_0-9]+)(?:\.\S+)?$", done.stderr, re.MULTILINE | re.IGNORECASE))


def test_version_loads_nothing_heavy() -> None:
    loaded = _loaded("-m", "tepal", "--version")
    assert "tepal" in loaded
    assert loaded & HEAVY == set()


def test_a_heavy_import_would_be_noticed() -> None:
    assert "numpy" in _loaded("-c", "import numpy")
