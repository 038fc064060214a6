"""The worked example of the docs is what the command says."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest

from tepal.cli import main

ROOT = Path(__file__).parent.parent.parent


@pytest.mark.slow
def test_the_page_shows_what_is_printed(capsys, monkeypatch):
    monkeypatch.chdir(ROOT)
    page = (ROOT / "docs" / "rooms" / "years.md").read_text()
    example = page.split("```text\n$ tepal ", 1)[1].split("\n```", 1)[0]
    command, shown = example.split("\n", 1)
    assert main(shlex.split(command)) == 0
    assert capsys.readouterr().out.strip() == shown.strip()


def test_both_programmes_can_be_run(capsys, monkeypatch):
    monkeypatch.chdir(ROOT / "docs" / "rooms" / "years")
    assert main(["years", "one-site.toml", "every-way.toml", "--years", "2", "--replicates", "20"]) == 0
    assert "leaves less seed in" in capsys.readouterr().out
