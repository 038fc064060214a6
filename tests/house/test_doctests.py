"""Every example in a docstring does what it says."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

import pytest

SOURCE = Path(__file__).resolve().parents[2] / "src"
# Only modules with an example are imported: a migration, say, cannot be imported alone.
MODULES = sorted(
    ".".join(path.relative_to(SOURCE).with_suffix("").parts).removesuffix(".__init__")
    for path in SOURCE.rglob("*.py")
    if ">>> " in path.read_text(encoding="utf-8")
)


@pytest.mark.parametrize("name", MODULES)
def test_examples_in_docstrings_are_true(name: str) -> None:
    result = doctest.testmod(importlib.import_module(name))
    assert result.attempted > 0
    assert result.failed == 0


def test_examples_are_found() -> None:
    assert {"tepal.doubt._seeds", "tepal.words._words"} <= set(MODULES)
