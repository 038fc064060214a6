"""The page of worked cases is what the code says today; each holds what a practitioner looks for first."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "cases.md"
# Of each case: what must stand among the steps, and what must not stand anywhere in its advice.
SPRAY, MOW = "Ask your licensed applicator to spray", "Mow as low"
WANTED = {
    "Seedlings in soybean": (
        ["spray while the tallest are under 4 in", "Or cultivate between the rows instead", "Do not plan to pull"],
        ["Pull every", "heads"],
    ),
    "Escapes above": (["Sack the heads first", "this field is harvested last", "Clean the combine"], [SPRAY, MOW]),
    "A patch that was cut": (["Look at the stumps"], [SPRAY, "Decide about the thick patch"]),
    "Green heads": (["Sack the heads first", "Do not wait for the seed to turn dark"], [SPRAY, MOW]),
    "After the wheat": (["Undercut or till before any plant flowers"], [SPRAY, "Ask what seed was planted"]),
    "Hay from": (
        ["Call whoever got what left here (hay, 60 bales, on August 13)", "Do not bale, sell or feed", "horses"],
        [SPRAY, MOW, "insurance agent"],
    ),
    "A filter strip": (["Ask in writing for leave", "Do not mow or spray this planting before"], [SPRAY, MOW]),
    "One Palmer amaranth": (
        ["Flag the plant that may be Palmer amaranth", "WSSA group 14", "first Palmer amaranth"],
        [SPRAY, "first waterhemp"],
    ),
    "A first find": (["Press it whole", "Call the Minnesota Department of Agriculture"], [SPRAY, MOW]),
    "Cotton": (["Ask what seed was planted"], [SPRAY, "Start with single plants"]),
    "Sprayed yesterday": (
        ["Do not send anyone in before 6:00 a.m. on Saturday, June 20 (CDT)", "Nobody goes in before 6:00 a.m."],
        [SPRAY, "Measure the tallest", "fit to spray are left"],
    ),
    "The day of harvest": (
        ["Today: Clean the combine on harvest day", "where it cut next", "Walk where they stood, and mark it"],
        [SPRAY, MOW, "Pull every", "insurance agent"],
    ),
}  # fmt: skip


def _sections() -> dict[str, str]:
    parts = PAGE.read_text(encoding="utf-8").split("\n## ")[1:]
    # A sentence is wrapped on the page.
    return {part.partition("\n")[0]: " ".join(part.split()) for part in parts if "```text" in part}


@pytest.mark.slow
def test_the_page_is_what_the_code_says_today() -> None:
    run = subprocess.run(
        [sys.executable, ROOT / "tools" / "cases.py", "--check"], capture_output=True, text=True, check=False, cwd=ROOT
    )
    assert run.returncode == 0, run.stderr


@pytest.mark.parametrize("title", WANTED)
def test_a_case_says_what_a_practitioner_looks_for_and_nothing_that_would_harm(title: str) -> None:
    (text,) = [text for name, text in _sections().items() if name.startswith(title)]
    wanted, not_wanted = WANTED[title]
    advice = text.partition("What to do")[2]
    for words in wanted:
        assert words in advice, words
    for words in not_wanted:
        assert words not in advice, words


def test_there_are_twelve_cases() -> None:
    assert len(_sections()) == len(WANTED) == 12
