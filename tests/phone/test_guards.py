"""What the app must not do: grow, ask somebody else, depend on an address, say what no catalogue knows."""

from __future__ import annotations

import gzip
import json
import re
import subprocess
from pathlib import Path

import pytest

from phone.conftest import ROOT, builder

PHONE = ROOT / "phone"
MOST_SCRIPT = 120_000


def _gzipped(path: Path) -> int:
    return len(gzip.compress(path.read_bytes(), 9))


def test_the_script_is_small(built_app: Path) -> None:
    scripts = sorted(built_app.rglob("*.js"))
    assert {path.name for path in scripts} >= {"app.js", "worker.js"}
    assert sum(map(_gzipped, scripts)) <= MOST_SCRIPT


def test_nothing_in_the_app_names_another_server(built_app: Path) -> None:
    # Names of XML's own kinds and a line in a library's text are no requests; the policy in the page forbids them all.
    told = {"www.w3.org", "leafletjs.com", "openstreetmap.org", "www.openstreetmap.org"}
    found = set()
    for path in built_app.rglob("*"):
        if path.suffix in {".js", ".css", ".html", ".json", ".webmanifest", ".svg"}:
            found |= set(re.findall(r"https?://([a-z0-9.-]+)", path.read_text(encoding="utf-8")))
    assert found - told == set()
    assert "default-src 'self'" in (built_app / "index.html").read_text(encoding="utf-8")


def test_the_worker_holds_every_file(built_app: Path) -> None:
    worker = (built_app / "worker.js").read_text(encoding="utf-8")
    names = {path.relative_to(built_app).as_posix() for path in built_app.rglob("*") if path.is_file()}
    missing = {name for name in names - {"index.html", "worker.js", "version.json"} if f'"{name}"' not in worker}
    assert missing == set()


def test_the_lock_has_hashes_and_no_place_to_fetch_from() -> None:
    lock = json.loads((PHONE / "package-lock.json").read_text(encoding="utf-8"))
    packages = {name: one for name, one in lock["packages"].items() if name}
    assert len(packages) > 5
    assert [name for name, one in packages.items() if "resolved" in one] == []
    assert [name for name, one in packages.items() if not one.get("integrity", "").startswith("sha512-")] == []
    assert "omit-lockfile-registry-resolved=true" in (PHONE / ".npmrc").read_text(encoding="utf-8")


def test_versions_are_exact() -> None:
    package = json.loads((PHONE / "package.json").read_text(encoding="utf-8"))
    wanted = package["dependencies"] | package["devDependencies"]
    assert [name for name, version in wanted.items() if not re.fullmatch(r"\d+\.\d+\.\d+", version)] == []


def test_the_types_are_right() -> None:
    node = builder()._node()
    for project in ("tsconfig.json", "tsconfig.worker.json"):
        tsc = PHONE / "node_modules" / "typescript" / "bin" / "tsc"
        if not tsc.is_file():
            pytest.skip("phone/node_modules is not there: the app was built elsewhere")
        done = subprocess.run(
            [str(node), str(tsc), "--noEmit", "-p", project], cwd=PHONE, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stdout


def test_every_word_of_the_shell_is_in_spanish() -> None:
    """What a person reads on the shell's screens; the plant's own tables are the catalogue's business."""
    spanish = json.loads((PHONE / "src" / "words" / "es.json").read_text(encoding="utf-8"))
    asked = set()
    for folder in ("shell", "walk"):
        for path in (PHONE / "src" / folder).glob("*.ts*"):
            text = path.read_text(encoding="utf-8")
            asked |= {re.sub(r'\\"', '"', one) for one in re.findall(r'\bt\(\s*"((?:[^"\\]|\\.)*)"', text)}
            asked |= set(re.findall(r'\bplural\(\s*"((?:[^"\\]|\\.)*)"', text))
    assert len(asked) > 200
    assert sorted(asked - set(spanish)) == []
