"""The docs' table of rules is the rule book's own."""

from __future__ import annotations

from pathlib import Path

from tepal.advice import rules_for, rules_page
from tepal.flora import load

PAGE = Path(__file__).resolve().parents[2] / "docs" / "rooms" / "advice.md"


def test_the_table_in_the_docs_is_up_to_date() -> None:
    assert rules_page(rules_for(load())) in PAGE.read_text(encoding="utf-8"), "run python tools/rules_table.py"


def test_the_table_has_a_line_for_every_rule_condition_and_caution() -> None:
    book = rules_for(load())
    lines = rules_page(book).splitlines()
    for rule in book.rules:
        assert sum(line.startswith(f"| `{rule.id}`") for line in lines) == 1
    for name in book.conditions:
        assert any(line.startswith(f"| `{name}` |") for line in lines)
    for key in book.cautions:
        assert any(line.startswith(f"| {key} |") for line in lines)
    # Bars inside cells would break the table.
    assert len({line.count("|") for line in lines if line.startswith("| `pull_") or line.startswith("| `no_")}) == 1
