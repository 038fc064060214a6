"""What must not slip into the repository, and what must not be forgotten in it."""

from __future__ import annotations

import re
import subprocess
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
# Put together here, so that this file does not hold what it looks for.
HOSTS = "|".join(
    first + second
    for first, second in (
        ("py", r"pi\.org"),
        ("python", r"hosted\.org"),
        ("registry.np", "mjs"),
        ("deb.deb", r"ian\.org"),
        ("cdn.js", "delivr"),
        ("un", r"pkg\.com"),
    )
)
PLACES = r"(^|[^A-Za-z0-9_.~-])/(wo" r"rk|ro" r"ot|ho" r"me|Us" r"ers)/[A-Za-z]"
ADDRESS = r"https?://"


def _grep(pattern: str, *where: str) -> list[str]:
    done = subprocess.run(
        ["git", "grep", "-nIE", pattern, "--", *where],
        cwd=ROOT, capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    if done.returncode > 1:
        pytest.skip("not a git work tree")
    return done.stdout.splitlines()


def test_no_registry_host_stands_in_a_tracked_file() -> None:
    assert _grep(HOSTS) == []


def test_no_path_of_one_machine_stands_in_a_tracked_file() -> None:
    assert _grep(PLACES) == []


def test_the_guards_would_see_what_they_look_for() -> None:
    assert re.search(HOSTS, "https://" + "files.python" + "hosted.org/x")
    assert re.search(PLACES, "see " + "/ro" + "ot/notes")
    assert _grep(r"^requires-python", "pyproject.toml")


def test_the_lock_has_hashes_and_no_addresses() -> None:
    text = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    assert not re.search(ADDRESS, text)
    assert not re.search(r"^\s*--(extra-)?index|^\s*--find-links", text, re.MULTILINE)
    pins = re.split(r"\n(?=\S)", text)
    assert len(pins) > 40
    assert [pin.split()[0] for pin in pins if pin[0] != "#" and "--hash=sha256:" not in pin] == []


def _name(requirement: str) -> str:
    return re.split(r"[\s\[<>=!~;]", requirement, maxsplit=1)[0].lower()


def _project() -> dict[str, list[str]]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = [name for group in project["optional-dependencies"].values() for name in group]
    return {"to run": project["dependencies"], "extra": extras}


def _asked() -> list[str]:
    lines = (ROOT / "requirements.in").read_text(encoding="utf-8").splitlines()
    return [_name(line) for line in lines if line.strip() and not line.startswith("#")]


def test_each_library_to_run_has_a_line_with_its_reason() -> None:
    table = (ROOT / "docs" / "dependencies.md").read_text(encoding="utf-8")
    reasons = dict(re.findall(r"^\| `([a-z0-9-]+)` \| (.+?) \| .+ \|$", table, re.MULTILINE))
    assert set(reasons) >= {_name(requirement) for requirement in _project()["to run"]}
    assert all(len(reason) > 10 or reason == "–" for reason in reasons.values())


def test_each_library_that_is_asked_for_is_in_the_lock_and_the_docs() -> None:
    lock = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    docs = (ROOT / "docs" / "dependencies.md").read_text(encoding="utf-8")
    pinned = set(re.findall(r"^([a-z0-9._-]+)(?:\[[a-z,]+\])?==", lock, re.MULTILINE))
    asked = set(_asked())
    assert asked - pinned == set()
    assert {name for name in asked if f"`{name}`" not in docs} == set()


def test_what_the_project_needs_is_what_is_asked_for() -> None:
    needed = {_name(requirement) for group in _project().values() for requirement in group}
    assert needed - set(_asked()) == set()


def test_no_tracked_file_is_larger_than_it_should_be() -> None:
    files = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False).stdout
    present = [ROOT / name for name in files.split("\0") if name and (ROOT / name).is_file()]
    assert len(present) > 20
    assert [path.name for path in present if path.stat().st_size > 1_500_000] == []
