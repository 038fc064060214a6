"""The pages build without a warning, ask nothing of the network, and leave out no room and no command."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
ROOMS = sorted(path.parent.name for path in (ROOT / "src" / "tepal").glob("*/__init__.py"))
COMMANDS = sorted(path.stem for path in (ROOT / "src" / "tepal" / "cli").glob("[a-z]*.py"))


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("site")
    done = subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--strict", "--site-dir", str(folder)],
        cwd=ROOT, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return folder


def test_the_pages_ask_nothing_of_the_network(site: Path) -> None:
    pages = [*site.rglob("*.html"), *site.rglob("*.css")]
    assert len(pages) > 5
    asked = re.compile(r"(?:src|href|url)\s*[=(]\s*[\"']?(?:https?:)?//[^\"')\s]+", re.IGNORECASE)
    # A link that a person may follow is no request; what a page loads by itself is.
    loads = [
        (page.name, found)
        for page in pages
        for found in asked.findall(re.sub(r"<a [^>]*>", "", page.read_text(encoding="utf-8")))
    ]
    assert loads == []
    assert {path.name for path in (site / "fonts").iterdir()} >= {"AtkinsonHyperlegible-Regular.ttf"}


@pytest.mark.parametrize("room", ROOMS)
def test_each_room_stands_in_the_plan_of_the_house(room: str) -> None:
    assert f"`{room}`" in (ROOT / "docs" / "house.md").read_text(encoding="utf-8")


def test_each_command_stands_in_the_reference(site: Path) -> None:
    page = (site / "commands.html").read_text(encoding="utf-8")
    told = set(re.findall(r"<h2[^>]*>(?:<code>)?tepal ([a-z]+)", page))
    assert set(COMMANDS) - told == set()


@pytest.mark.parametrize("page", ["README.md", "CONTRIBUTING.md"])
def test_links_and_pictures_beside_the_site_are_there(page: str) -> None:
    text = (ROOT / page).read_text(encoding="utf-8")
    targets = [target for target in re.findall(r"\]\(([^)#]+)\)", text) if "://" not in target]
    assert targets
    assert [target for target in targets if not (ROOT / target).exists()] == []
