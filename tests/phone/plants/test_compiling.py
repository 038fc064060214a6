"""A wheel is built where nothing is installed but what the build hook names: compiling the tables must need no more."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tomllib
from importlib.metadata import PackageNotFoundError, packages_distributions, requires
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
LOADED = """
import contextlib, io, json, sys
from tepal.cli import main
with contextlib.redirect_stdout(io.StringIO()):
    assert main(["plant", "--compile", sys.argv[1]]) == 0
print(json.dumps(sorted({name.partition(".")[0] for name in sys.modules})))
"""


def _name(requirement: str) -> str:
    return re.split(r"[^A-Za-z0-9._-]", requirement, maxsplit=1)[0].lower().replace("_", "-")


def _with_what_they_need(names: set[str]) -> set[str]:
    found: set[str] = set()
    rest = set(names)
    while rest:
        name = rest.pop()
        found.add(name)
        try:
            needed = requires(name) or []
        except PackageNotFoundError:
            continue
        rest |= {_name(one) for one in needed if "extra ==" not in one} - found
    return found


def test_compiling_needs_no_more_than_the_build_hook_names(tmp_path: Path) -> None:
    command = [sys.executable, "-c", LOADED, str(tmp_path / "tables")]
    run = subprocess.run(command, capture_output=True, text=True, check=True)
    dists = packages_distributions()
    loaded = {_name(dist) for module in json.loads(run.stdout) for dist in dists.get(module, ())}
    build = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["hatch"]["build"]
    there = _with_what_they_need({_name(one) for one in build["hooks"]["custom"]["dependencies"]})
    assert loaded >= {"numpy", "cyclopts"}
    assert loaded - there - {"tepal"} == set()
