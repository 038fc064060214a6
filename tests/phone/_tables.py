"""The compiled tables as a fixture: import `tables` where a test needs them."""

from __future__ import annotations

from pathlib import Path

import pytest

from tepal.cli import main


@pytest.fixture(scope="session")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder as `tepal plant --compile` writes it."""
    folder = tmp_path_factory.mktemp("tables") / "new"
    assert main(["plant", "--compile", str(folder)]) == 0
    return folder
