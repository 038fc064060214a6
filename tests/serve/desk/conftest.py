"""The office of `_served` with a desk that makes its readings in a thread of the test."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from _desk_world import desk_of, follow, open_county
from _served import World, again, build
from tepal.ledger import Ledger


@pytest.fixture(scope="session")
def _made_once(tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    """Two sites with a boundary, plants with looks, and readings of both, kept in the store."""
    with Ledger.open(tmp_path_factory.mktemp("desk") / "county.ledger", create=True) as ledger:
        world = build(ledger)
        open_county(world)
        desk_of(world).close()
        yield world


@pytest.fixture
def county(_made_once: World, tmp_path: Path) -> Iterator[World]:
    """A copy of it, of which the test may do what it likes."""
    copy = again(_made_once, tmp_path)
    world = replace(copy, tokens=dict(copy.tokens), ids=dict(copy.ids), made=dict(copy.made))
    with world.ledger:
        follow(world)
        yield world
        desk_of(world).close()
