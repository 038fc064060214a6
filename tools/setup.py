#!/usr/bin/env python3
"""Make the project's own Python environment and run the few things that are done with it.

    python3 tools/setup.py install     make .venv from requirements.lock, then the project in it
    python3 tools/setup.py demo        the demo county: its ledger and its letters, in demo/larkmoor
    python3 tools/setup.py test        all tests, on all cores (what follows goes to pytest instead)
    python3 tools/setup.py check       lint, format, types, house rules, fast tests
    python3 tools/setup.py phone       build the app for the field into the package
    python3 tools/setup.py lock        make requirements.lock anew from requirements.in (needs uv)

Standard library only, so that it runs before anything is installed. Needs Python 3.11 or newer; no make, no pip on
PATH, no ensurepip. `demo`, `test` and `check` install first, which takes no time when nothing has changed.
"""

from __future__ import annotations

import argparse
import hashlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys
import sysconfig
import time
import venv
from pathlib import Path

OLDEST = (3, 11)
ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
BIN = VENV / ("Scripts" if os.name == "nt" else "bin")
PYTHON = BIN / ("python.exe" if os.name == "nt" else "python")
LOCK = ROOT / "requirements.lock"


class Stop(Exception):
    """Something the person at the keyboard has to know; shown without a traceback."""


# Rooms whose tests need no store, no browser and no minute: what `check` runs; `test` runs everything.
QUICK = (
    *(f"tests/{room}" for room in ("tables", "doubt", "ground", "words", "flora", "plant", "reading", "advice")),
    *(f"tests/ledger/test_{part}.py" for part in ("standing", "entries", "formats")),
)

# On all cores; a file's tests stay together, since its browser, server or ledger is made once for them all.
AT_ONCE = ("-n", "auto", "--maxprocesses", "8", "--dist", "loadfile")
# So few that fail are run once more, alone: a browser, a terminal or a server may fail where every core is busy. A
# fault of the code fails again; which tests needed the second run is told, as they want mending too.
FEW = 3
FAILED = Path(".pytest_cache") / "v" / "cache" / "lastfailed"


def say(text: str) -> None:
    print(text, flush=True)


# --- install ---------------------------------------------------------------------------------------------------------


def stamp() -> Path:
    """The file that says "finished": its name holds the lock and the Python, so that a change of either is noticed."""
    lock = hashlib.sha256(LOCK.read_bytes()).hexdigest()
    return VENV / f"finished-{lock[:16]}-{sys.implementation.cache_tag}"


def is_finished() -> bool:
    """Whether .venv was finished from this lock, by this Python, in this place (a moved .venv does not work)."""
    return PYTHON.exists() and stamp().exists() and stamp().read_text(encoding="utf-8") == str(ROOT)


def install() -> None:
    if not LOCK.exists():
        raise Stop("requirements.lock is missing: this is not a whole copy of the project. Clone it again.")
    if is_finished():
        return
    started = time.monotonic()
    version = ".".join(map(str, sys.version_info[:3]))
    say(f"Making .venv with Python {version} (once; it takes a minute or two) …")
    remove_venv()
    try:
        venv.create(VENV, with_pip=False, symlinks=os.name != "nt")
        installer = find_installer()
        run_installer(
            [*installer, "install", "--require-hashes", "--only-binary", ":all:", "-r", str(LOCK)],
            "the packages in requirements.lock",
        )
        run_installer([*installer, "install", "--no-deps", "--no-build-isolation", "-e", str(ROOT)], "the project")
        stamp().write_text(str(ROOT), encoding="utf-8")
    except BaseException:
        # Half an environment looks like a whole one to everybody who comes later.
        remove_venv()
        raise
    say(f"Installed in {time.monotonic() - started:.0f} s.")


def remove_venv() -> None:
    if VENV.is_symlink():
        VENV.unlink()
    elif VENV.exists():
        shutil.rmtree(VENV)


def find_installer() -> list[str]:
    """The first pip that runs and can install into .venv, whether or not this Python came with one.

    A pip wheel is run as it lies by .venv's own Python; a pip that belongs to another Python is told of .venv by
    `--python`. uv is the last resort, because it does not read pip's settings (a mirror, say).
    """
    ways = [[str(PYTHON), str(wheel / "pip")] for wheel in pip_wheels()]
    ways.append([sys.executable, "-m", "pip", "--python", str(PYTHON)])
    ways += [[found, "--python", str(PYTHON)] for name in ("pip3", "pip") if (found := shutil.which(name))]
    # Tried, not trusted: an old pip may lack --python, or may not run on a new Python.
    for way in ways:
        if succeeds([*way, "--version"]):
            return way
    uv = shutil.which("uv")
    if uv:
        os.environ["VIRTUAL_ENV"] = str(VENV)
        return [uv, "pip"]
    raise Stop(
        "This Python has no pip and none was found. Install one and try again: "
        "on Debian or Ubuntu `apt-get install python3-venv`, on Fedora `dnf install python3-pip`."
    )


def pip_wheels() -> list[Path]:
    """Wheels of pip that came with Python (ensurepip's own, or the distribution's), the newest first."""
    folders = [sysconfig.get_config_var("WHEEL_PKG_DIR"), "/usr/share/python-wheels"]
    ensurepip = importlib.util.find_spec("ensurepip")
    if ensurepip and ensurepip.origin:
        folders.append(str(Path(ensurepip.origin).parent / "_bundled"))
    wheels = {wheel for folder in folders if folder for wheel in Path(folder).glob("pip-*.whl")}
    return sorted(wheels, key=lambda wheel: numbers(wheel.name.split("-")[1]), reverse=True)


def numbers(version: str) -> list[int]:
    return [int(part) for part in version.split(".") if part.isdigit()]


def run_installer(command: list[str], what: str) -> None:
    """Run it quietly (pip warns about much that is no trouble); if it fails, show all that it said."""
    done = subprocess.run(
        command,
        cwd=ROOT,
        env=installer_environment(),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        said = (done.stdout + done.stderr).strip()
        raise Stop(f"{said}\n\nInstalling {what} failed, as told above; .venv was removed. {advice(said)}")


def advice(said: str) -> str:
    if "No space left" in said:
        return "Make room on the disk and try again."
    if "hash" in said.lower() and "match" in said.lower():
        return "A download is not what the lock expects: try again, and if it stays so, tell the maintainers."
    if "No matching distribution" in said or "Could not find a version" in said:
        return "No ready-made package for this Python and machine, or no network: see which package is named above."
    return "Check the network and try again."


def installer_environment() -> dict[str, str]:
    """The caller's environment (a mirror or a certificate may be set there) without what would lead pip astray."""
    kept = {key: value for key, value in os.environ.items() if key not in ("PYTHONPATH", "PYTHONHOME", "PIP_TARGET")}
    return kept | {
        "PIP_USER": "0",
        "PIP_NO_INPUT": "1",
        "PIP_PROGRESS_BAR": "off",
        "PIP_ROOT_USER_ACTION": "ignore",
        "PIP_DISABLE_PIP_VERSION_CHECK": "1",
        # The machine's own certificates, which pip takes by itself: an office's proxy may have one.
        "UV_SYSTEM_CERTS": "1",
    }


def succeeds(command: list[str]) -> bool:
    try:
        done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, timeout=60, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return False
    return done.returncode == 0


# --- what is done with it --------------------------------------------------------------------------------------------


def demo() -> int:
    return run([str(BIN / "tepal"), "demo", str(Path("demo") / "larkmoor")])


def test(arguments: list[str]) -> int:
    """All tests; tests/conftest.py names at the end those that the machine has no program for."""
    pytest = [str(PYTHON), "-m", "pytest"]
    if arguments:
        return run([*pytest, *arguments])
    code = run([*pytest, "--cache-clear", *AT_ONCE])
    failed = [] if code != 1 else sorted(json.loads((ROOT / FAILED).read_text(encoding="utf-8")))
    if not 0 < len(failed) <= FEW:
        return code
    say("\n".join(["== failed while all cores were at work; once more, alone:", *failed]))
    code = run([*pytest, *failed])
    say(f"== {'failed again' if code else 'passed alone, and want mending all the same'}: {', '.join(failed)}")
    return code


def check(*, tests: bool) -> int:
    """Each check in turn, also after one has failed, so that one run tells all."""
    module = [str(PYTHON), "-m"]
    steps = [
        ("lint", [*module, "ruff", "check", "."]),
        ("format", [*module, "ruff", "format", "--check", "."]),
        ("types", [*module, "mypy"]),
    ]
    if tests:
        # The import ladder, the start-time guard, the pages and the other guards are tests of their own folder.
        steps += [
            ("house rules", [*module, "pytest", "-m", "not slow", "tests/house"]),
            ("fast tests", [*module, "pytest", *AT_ONCE, "-m", "not slow", *QUICK]),
        ]
    lines: list[str] = []
    failed = False
    started = time.monotonic()
    for name, command in steps:
        say(f"== {name}")
        since = time.monotonic()
        code = run(command)
        failed = failed or code != 0
        lines.append(f"{'failed' if code else 'good':7}{time.monotonic() - since:6.1f} s  {name}")
    say("\n".join(["", *lines, f"{'':7}{time.monotonic() - started:6.1f} s  in all"]))
    return int(failed)


def lock(upgrade: bool) -> int:
    uv = shutil.which("uv")
    if not uv:
        raise Stop("uv is needed to make the lock. Install it, or change the lock on a machine that has it.")
    command = [
        uv, "pip", "compile", "requirements.in", "--universal", "--python-version", ".".join(map(str, OLDEST)),
        "--generate-hashes", "--no-emit-index-url", "--no-emit-find-links", "--no-header", "--quiet",
        "--output-file", LOCK.name,
    ]  # fmt: skip
    return run([*command, "--upgrade"] if upgrade else command)


def run(command: list[str]) -> int:
    try:
        return subprocess.run(command, cwd=ROOT, check=False).returncode
    except OSError as problem:
        raise Stop(f"{command[0]} did not start: {problem.strerror or problem}") from None


# --- the command line ------------------------------------------------------------------------------------------------


def use_a_newer_python() -> None:
    """Hand over to a newer Python where this one is too old and PATH has one."""
    for minor in range(20, OLDEST[1] - 1, -1):
        newer = shutil.which(f"python3.{minor}")
        if newer and succeeds([newer, "-c", "import venv"]):
            sys.exit(subprocess.call([newer, *sys.argv]))
    wanted, here = ".".join(map(str, OLDEST)), ".".join(map(str, sys.version_info[:3]))
    raise Stop(f"Python {wanted} or newer is needed; this is {here} and no newer one was found on PATH.")


def do(asked: argparse.Namespace, rest: list[str]) -> int:
    if asked.todo == "lock":
        return lock(asked.upgrade)
    install()
    if asked.todo == "demo":
        return demo()
    if asked.todo == "phone":
        return run([str(PYTHON), str(ROOT / "hatch_build.py")])
    if asked.todo == "test":
        return test([argument for argument in rest if argument != "--"])
    if asked.todo == "check":
        return check(tests=not asked.no_tests)
    say(f".venv is ready: {BIN.relative_to(ROOT) / 'tepal'} --help")
    return 0


def main() -> int:
    parser = argparse.ArgumentParser(prog="tools/setup.py", description=__doc__.splitlines()[0])
    todo = parser.add_subparsers(dest="todo", required=True, metavar="install | demo | test | check | phone | lock")
    todo.add_parser("install", help="make .venv from requirements.lock, then the project in it")
    todo.add_parser("demo", help="make the demo county and its letters in demo/larkmoor")
    todo.add_parser("test", help="run all tests; what follows is handed to pytest")
    checks = todo.add_parser("check", help="lint, format, types, house rules, fast tests")
    checks.add_argument("--no-tests", action="store_true", help="only lint, format and types")
    todo.add_parser("phone", help="build the app for the field (phone/) into the package")
    todo.add_parser("lock", help="make requirements.lock anew").add_argument("--upgrade", action="store_true")
    asked, rest = parser.parse_known_args()
    if rest and asked.todo != "test":
        parser.error(f"{asked.todo} takes nothing like {' '.join(rest)}")
    try:
        if sys.version_info < OLDEST:
            use_a_newer_python()
        return do(asked, rest)
    except Stop as problem:
        print(problem, file=sys.stderr)
        return 1
    except OSError as problem:
        print(f"{problem.filename or ''}: {problem.strerror or problem}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nStopped.", file=sys.stderr)
        return 130


if __name__ == "__main__":
    sys.exit(main())
