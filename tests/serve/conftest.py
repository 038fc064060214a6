"""The office of `_served`, on a store of its own for each test."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from _served import World, build
from tepal.ledger import Ledger


@pytest.fixture
def world(tmp_path: Path) -> Iterator[World]:
    """The office on SQLite."""
    with Ledger.open(tmp_path / "county.ledger", create=True) as ledger:
        found = build(ledger)
        yield found
        found.close()


@pytest.fixture(params=["sqlite", "postgresql"])
def either(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[World]:
    """The office, on each kind of store."""
    where = str(tmp_path / "county.ledger")
    if request.param == "postgresql":
        where = request.getfixturevalue("postgresql_url")
    with Ledger.open(where, create=True, photos=tmp_path / "photos") as ledger:
        found = build(ledger)
        yield found
        found.close()
