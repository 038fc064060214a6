"""The pages about the server name what is there: tests, routes, options, limits."""

from __future__ import annotations

import configparser
import re
import subprocess
import sys
from pathlib import Path

import pytest

from _require import SAID, program
from tepal.cli.serve import serve

ROOT = Path(__file__).resolve().parents[2]
ASVS, OFFICE, ROOM = (ROOT / "docs" / name for name in ("asvs.md", "office.md", "rooms/serve.md"))
TESTS = {
    name
    for path in (ROOT / "tests").rglob("test_*.py")
    for name in re.findall(r"^def (test_\w+)\(", path.read_text(encoding="utf-8"), re.MULTILINE)
}


def test_every_test_that_the_table_of_safety_names_exists() -> None:
    named = set(re.findall(r"`(test_\w+)`", ASVS.read_text(encoding="utf-8")))
    assert len(named) > 40
    assert named - TESTS == set()


def test_every_line_of_that_table_has_a_test_or_says_why_there_is_none() -> None:
    rows = [line for line in ASVS.read_text(encoding="utf-8").splitlines() if re.match(r"\| [\d,]+\.?\d* ", line)]
    assert len(rows) > 25
    for row in rows:
        cells = [cell.strip() for cell in row.strip("|").split("|")]
        assert len(cells) == 3, row
        # A reason is a sentence; "done" alone would be none.
        assert "`test_" in cells[2] or "](" in cells[2] or len(cells[1]) > 30, row


def test_the_page_of_the_room_names_every_route_of_the_api() -> None:
    text = ROOM.read_text(encoding="utf-8")
    source = "".join(path.read_text() for path in (ROOT / "src" / "tepal" / "serve").glob("_*.py"))
    paths = set(re.findall(r'^\s+"(/[^"{]*)["{]|routes\.\w+\(\s*"(/[^"{]*)', source, re.MULTILINE))
    told = {("".join(pair)).rstrip("/") for pair in paths} - {""}
    assert {"/entries", "/photos", "/today", "/join", "/samples", "/letters"} <= told
    assert [path for path in sorted(told) if path not in text] == []


def test_what_the_page_of_the_office_has_typed_can_be_typed() -> None:
    import inspect

    text = OFFICE.read_text(encoding="utf-8")
    known = {f"--{name.replace('_', '-')}" for name in inspect.signature(serve).parameters}
    lines = [line for line in re.findall(r"tepal serve(?:[^\n]|(?<=\\)\n)*", text) if "--" in line]
    assert len(lines) >= 3
    for line in lines:
        used = set(re.findall(r"(?<!\w)--[a-z-]+", line.split("`")[0]))
        assert used - known == set(), line


def test_systemd_has_nothing_to_say_of_the_unit(tmp_path: Path) -> None:
    systemd = program("systemd-analyze")
    if systemd is None:
        pytest.skip(f"{SAID}systemd-analyze")
    unit = re.search(r"```ini\n(\[Unit\].*?)```", OFFICE.read_text(encoding="utf-8"), re.DOTALL)
    assert unit is not None
    file = tmp_path / "tepal.service"
    # The program itself stands elsewhere on this machine.
    file.write_text(unit[1].replace("/opt/tepal/bin/tepal", sys.executable))
    done = subprocess.run([systemd, "verify", "--man=no", str(file)], capture_output=True, text=True, check=False)
    said = [line for line in done.stderr.splitlines() if "tepal.service" in line]
    assert (done.returncode, said) == (0, [])


def test_the_unit_is_one_and_leaves_the_process_little() -> None:
    unit = re.search(r"```ini\n(\[Unit\].*?)```", OFFICE.read_text(encoding="utf-8"), re.DOTALL)
    assert unit is not None
    parser = configparser.ConfigParser(strict=False, interpolation=None)
    parser.optionxform = str  # type: ignore[assignment,method-assign]
    parser.read_string(unit[1].replace("\\\n", " "))
    service = parser["Service"]
    assert service["User"] == "tepal"
    assert service["NoNewPrivileges"] == service["PrivateTmp"] == "yes"
    assert service["ProtectSystem"] == "strict"
    assert "--host" not in service["ExecStart"]


@pytest.mark.parametrize(
    ("told", "module", "name", "value"),
    [
        ("At most 500 entries", "_taking", "MOST_ENTRIES", 500),
        ("64 kB an entry", "_taking", "MOST_BYTES", 64_000),
        ("240, 480, 800 or 1600", "_photo_store", "WIDTHS", (240, 480, 800, 1600)),
    ],
)
def test_the_limits_are_those_of_the_page(told: str, module: str, name: str, value: object) -> None:
    import importlib

    assert told in ROOM.read_text(encoding="utf-8")
    assert getattr(importlib.import_module(f"tepal.serve.{module}"), name) == value


def test_the_sizes_are_those_of_the_page() -> None:
    from tepal.serve import Settings

    text = ROOM.read_text(encoding="utf-8")
    assert "2 MB a request" in text
    assert Settings().most_body == 2_000_000
    assert "At most 25 MB" in text
    assert Settings().most_photo == 25_000_000
