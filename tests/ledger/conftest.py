"""Ledgers to test on: the same claims are made of SQLite and of PostgreSQL."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tepal.ledger import Ledger


@pytest.fixture(params=["sqlite", "postgresql"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where an empty store can be made."""
    if request.param == "sqlite":
        return str(tmp_path / "county.ledger")
    url: str = request.getfixturevalue("postgresql_url")
    return url


@pytest.fixture
def ledger(store: str, tmp_path: Path) -> Iterator[Ledger]:
    """An empty ledger, on each kind of store."""
    with Ledger.open(store, create=True, photos=tmp_path / "photos") as found:
        yield found
