"""tools/setup.py: when .venv counts as finished, and what is left when making it fails."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

pytestmark = pytest.mark.slow

SCRIPT = Path(__file__).resolve().parents[2] / "tools" / "setup.py"


@pytest.fixture
def setup(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """The script as a module, working in an empty folder with a lock that asks for nothing."""
    spec = importlib.util.spec_from_file_location("setup_script", SCRIPT)
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    monkeypatch.setattr(module, "ROOT", tmp_path)
    monkeypatch.setattr(module, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(module, "BIN", tmp_path / ".venv" / "bin")
    monkeypatch.setattr(module, "PYTHON", tmp_path / ".venv" / "bin" / "python")
    monkeypatch.setattr(module, "LOCK", tmp_path / "requirements.lock")
    (tmp_path / "requirements.lock").write_text("# nothing\n")
    return module


@pytest.fixture
def without_packages(setup: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    """A pip that has success at once."""
    monkeypatch.setattr(setup, "find_installer", list)
    monkeypatch.setattr(setup, "run_installer", lambda command, what: None)


@pytest.mark.usefixtures("without_packages")
def test_a_finished_environment_is_made_once(setup: ModuleType, capsys: pytest.CaptureFixture[str]) -> None:
    setup.install()
    assert setup.is_finished()
    assert "Installed in" in capsys.readouterr().out
    setup.install()
    assert capsys.readouterr().out == ""


@pytest.mark.usefixtures("without_packages")
def test_a_new_lock_a_moved_folder_or_a_missing_python_is_noticed(setup: ModuleType) -> None:
    setup.install()
    stamp = setup.stamp()
    stamp.write_text("/elsewhere")
    assert not setup.is_finished()
    stamp.write_text(str(setup.ROOT))
    assert setup.is_finished()
    setup.LOCK.write_text("# another\n")
    assert not setup.is_finished()
    setup.LOCK.write_text("# nothing\n")
    setup.PYTHON.unlink()
    assert not setup.is_finished()


def test_a_failed_environment_is_removed_and_the_reason_told(setup: ModuleType) -> None:
    # A real pip with a real lock that it must refuse: a requirement without a hash.
    setup.LOCK.write_text("numpy==2.4.6\n")
    with pytest.raises(setup.Stop, match=r"(?s)hash.*Installing the packages in requirements\.lock failed"):
        setup.install()
    assert not setup.VENV.exists()


def test_an_interrupted_environment_is_removed(setup: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(command: list[str], what: str) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(setup, "find_installer", list)
    monkeypatch.setattr(setup, "run_installer", stop)
    with pytest.raises(KeyboardInterrupt):
        setup.install()
    assert not setup.VENV.exists()


def test_without_any_pip_the_remedy_is_told(setup: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(setup, "pip_wheels", list)
    monkeypatch.setattr(setup, "succeeds", lambda command: False)
    monkeypatch.setattr(setup.shutil, "which", lambda name: None)
    with pytest.raises(setup.Stop, match="has no pip and none was found"):
        setup.install()
    assert not setup.VENV.exists()


def test_the_newest_wheel_of_pip_is_tried_first(
    setup: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for version in ("9.0.1", "23.2.1", "24.0"):
        (tmp_path / f"pip-{version}-py3-none-any.whl").touch()
    monkeypatch.setattr(setup.sysconfig, "get_config_var", lambda name: str(tmp_path))
    monkeypatch.setattr(setup.importlib.util, "find_spec", lambda name: None)
    found = [wheel.name for wheel in setup.pip_wheels() if wheel.parent == tmp_path]
    assert found == [f"pip-{version}-py3-none-any.whl" for version in ("24.0", "23.2.1", "9.0.1")]


@pytest.mark.parametrize("words", [[], ["dance"], ["demo", "--fast"]])
def test_a_slip_on_the_command_line_is_told_without_a_traceback(words: list[str]) -> None:
    done = subprocess.run(
        [sys.executable, str(SCRIPT), *words], capture_output=True, text=True, check=False, timeout=60
    )
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert done.stderr.startswith("usage: tools/setup.py")


# One that always fails, one that fails in company only, and one that is good.
TESTS = """
import os
import pytest

def test_good():
    pass

def test_hurried():
    assert "PYTEST_XDIST_WORKER" not in os.environ

@pytest.mark.parametrize("number", range({faults}))
def test_wrong(number):
    assert number < 0
"""


@pytest.fixture
def tests_of(setup: ModuleType, monkeypatch: pytest.MonkeyPatch) -> Callable[[int], int]:
    """Writes tests with so many faults into the empty folder and runs them as `make test` does."""

    def run(faults: int) -> int:
        monkeypatch.setattr(setup, "PYTHON", Path(sys.executable))
        for name in ("PYTEST_XDIST_WORKER", "PYTEST_ADDOPTS"):
            monkeypatch.delenv(name, raising=False)
        (setup.ROOT / "pytest.ini").write_text("[pytest]\n")
        (setup.ROOT / "test_few.py").write_text(TESTS.format(faults=faults))
        code: int = setup.test([])
        return code

    return run


def test_what_fails_for_hurry_only_is_run_once_more_and_told(
    tests_of: Callable[[int], int], capfd: pytest.CaptureFixture[str]
) -> None:
    assert tests_of(0) == 0
    told = capfd.readouterr().out.splitlines()
    assert "passed alone" in told[-1]
    assert told[-1].endswith("test_few.py::test_hurried")


@pytest.mark.parametrize("faults", [1, 2, 7])
def test_a_fault_fails_again_and_many_are_not_tried(
    tests_of: Callable[[int], int], capfd: pytest.CaptureFixture[str], faults: int
) -> None:
    assert tests_of(faults) == 1
    assert ("once more, alone" in capfd.readouterr().out) == (faults < 3)
