"""The page about the record says what the code does."""

from __future__ import annotations

from pathlib import Path

from tepal.ledger._describe import describe_kinds

PAGE = Path(__file__).resolve().parents[2] / "docs" / "rooms" / "ledger.md"
BEGIN, END = "<!-- kinds: made from the entry types -->", "<!-- end of kinds -->"


def test_the_list_of_kinds_and_fields_is_the_one_the_types_give() -> None:
    page = PAGE.read_text(encoding="utf-8")
    listed = page.partition(BEGIN)[2].partition(END)[0].strip()
    assert listed == describe_kinds().strip(), "write describe_kinds() between the two marks of the page"


def test_every_field_is_described() -> None:
    from tepal.ledger import BODIES

    for kind, model in BODIES.items():
        for name, field in model.model_fields.items():
            assert field.description, f"{kind}.{name}"
