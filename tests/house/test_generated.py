"""What is generated is current: each tool says so itself when asked to check."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize("tool", ["messages.py", "pages.py", "plates.py", "rules_table.py"])
def test_a_generated_file_is_what_its_tool_would_write_today(tool):
    run = subprocess.run(
        [sys.executable, ROOT / "tools" / tool, "--check"], capture_output=True, text=True, check=False, cwd=ROOT
    )
    assert run.returncode == 0, run.stderr
