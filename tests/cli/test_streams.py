"""What is printed, wherever it goes: other encodings, a reader that leaves, a full disk, a stream that is closed."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tepal.cli import main

TEPAL = [sys.executable, "-m", "tepal"]


def tepal(*arguments: str, to: int | None = subprocess.PIPE, **settings: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [*TEPAL, *arguments],
        stdout=to,
        stderr=subprocess.PIPE,
        # Printed when the buffer is full or the command ends, as for people; a machine of tests may be set otherwise.
        env={**os.environ, "PYTHONUNBUFFERED": "", **settings},
        timeout=120,
        check=False,
    )


def test_a_terminal_without_a_sign_gets_a_question_mark() -> None:
    done = tepal("plates", "nosuch–", PYTHONIOENCODING="ascii")
    assert (done.returncode, done.stderr.count(b"\n")) == (2, 1)
    assert b"nosuch?" in done.stderr


def test_json_is_utf_8_whatever_the_terminal_is(tmp_path: Path) -> None:
    done = tepal(
        "report", "--ledger", str(tmp_path / "a.ledger"), "--how", "call", "--who", "Ana Ñuñez", "--words", "tall",
        "--place", "NW¼ 12-34N-15W", "--json", PYTHONIOENCODING="cp1252",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "¼" in json.dumps(json.loads(done.stdout.decode("utf-8")), ensure_ascii=False)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_is_told_in_one_line() -> None:
    with Path("/dev/full").open("wb") as full:
        done = tepal("flora", to=full.fileno())
    assert (done.returncode, done.stderr.count(b"\n")) == (2, 1)
    assert b"No space left on device" in done.stderr


@pytest.mark.parametrize("arguments", [("flora",), ("--help",), ("plant", "--help")])
def test_a_reader_that_leaves_is_no_error(arguments: tuple[str, ...]) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        done = tepal(*arguments, to=writing)
    finally:
        os.close(writing)
    assert (done.returncode, done.stderr) == (0, b"")


@pytest.mark.parametrize(
    "arguments",
    [
        ("demo", "{file}/below"),
        ("plates", "leaf_outline", "--to", "{file}/below"),
        ("leaf", "--card", "{file}/below.pdf"),
        ("clock", "--lat", "41", "--as-of", "2026-06-01", "--taxon", "AMATU", "--draw", "{file}/below.svg"),
    ],
)
def test_a_place_that_cannot_be_written_is_refused(
    arguments: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "file"
    file.write_text("")
    assert main([part.format(file=file) for part in arguments]) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert [one.name for one in tmp_path.iterdir()] == ["file"]
