"""The office of `_served`, on a store of its own for each test."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from _served import World, again, build
from tepal.ledger import Ledger


@pytest.fixture(scope="session")
def template(tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    """The office once: `world` is a copy of it, which is quicker than to let everybody join again."""
    with Ledger.open(tmp_path_factory.mktemp("office") / "county.ledger", create=True) as ledger:
        found = build(ledger)
        yield found
        found.close()


@pytest.fixture
def world(template: World, tmp_path: Path) -> Iterator[World]:
    """The office on SQLite."""
    found = again(template, tmp_path)
    with found.ledger:
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
