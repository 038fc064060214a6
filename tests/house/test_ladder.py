"""Imports go down a floor or stay in a room; and the demo's world is made without the rooms that are tried on it."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import grimp
import pytest

ROOT = Path(__file__).resolve().parents[2]
# What a world-maker may know of the house: plain values, the published tables, its own kind. Not one room that infers.
WORLD = "tepal.demo._world"
MAY_KNOW = ("tepal.tables", "tepal.doubt", "tepal.ground", "tepal.words", "tepal.flora", "tepal.ledger", WORLD)


def _ladder(folder: Path, source: Path) -> subprocess.CompletedProcess[str]:
    # As the command does it, but with `source` first on the path, so that a changed copy can be tried.
    command = "import sys; sys.path.insert(0, sys.argv.pop(1)); import importlinter.cli as c; c.lint_imports_command()"
    return subprocess.run(
        [sys.executable, "-c", command, str(source), "--no-logo", "--no-cache"],
        cwd=folder, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip


def test_imports_go_down_a_floor_or_stay_in_a_room() -> None:
    done = _ladder(ROOT, ROOT / "src")
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize(
    ("room", "line"),
    [("tables", "import tepal.flora"), ("walk", "import tepal.stand"), ("stand", "import tepal.ledger")],
)
def test_an_import_that_climbs_is_noticed(room: str, line: str, tmp_path: Path) -> None:
    shutil.copytree(ROOT / "src" / "tepal", tmp_path / "src" / "tepal", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    (tmp_path / "src" / "tepal" / room / "_climbs.py").write_text(f"{line}\n")
    done = _ladder(tmp_path, tmp_path / "src")
    assert done.returncode == 1
    assert f"tepal.{room}._climbs" in done.stdout


def test_the_world_of_the_demo_is_made_without_the_rooms_that_are_tried_on_it() -> None:
    graph = grimp.build_graph("tepal")
    makers = [module for module in graph.modules if module.startswith(WORLD)]
    assert makers, "the world of the demo has moved: change this test"
    known = {(maker, other) for maker in makers for other in graph.find_modules_directly_imported_by(maker)}
    assert {pair for pair in known if not pair[1].startswith(MAY_KNOW)} == set()
