"""The office of `_served` with a desk that makes its readings in a thread of the test."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from _desk_world import desk_of, open_county
from _served import World


@pytest.fixture
def county(world: World) -> Iterator[World]:
    """Two sites with a boundary, plants with looks, and readings of both."""
    open_county(world)
    yield world
    desk_of(world).close()
