"""A second store of each kind, a full ledger, and a process that forks commands and kills them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from ledger.keeping.full import Forks, fill
from tepal.ledger import Ledger


@pytest.fixture
def another(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Callable[[str], str]]:
    """Where another empty store of a kind can be made."""
    made: list[str] = []

    def make(kind: str) -> str:
        if kind == "sqlite":
            return str(tmp_path / f"another-{len(list(tmp_path.iterdir()))}.ledger")
        import psycopg

        socket = request.getfixturevalue("_postgresql_socket")
        with psycopg.connect(host=socket, user="tepal", dbname="postgres", autocommit=True) as server:
            name = f"tepal_other_{len(made)}"
            made.append(name)
            server.execute(f"create database {name}")
        return f"postgresql://tepal@/{name}?host={socket}"

    yield make
    if made:
        import psycopg

        socket = request.getfixturevalue("_postgresql_socket")
        with psycopg.connect(host=socket, user="tepal", dbname="postgres", autocommit=True) as server:
            for name in made:
                server.execute(f"drop database {name} with (force)")


@pytest.fixture
def photos(tmp_path: Path) -> Path:
    return tmp_path / "originals"


@pytest.fixture
def full(store: str, photos: Path) -> str:
    """A store with something of everything in it."""
    with Ledger.open(store, create=True, photos=photos) as ledger:
        fill(ledger, photos)
    return store


@pytest.fixture(scope="module")
def forks() -> Iterator[Forks]:
    found = Forks()
    yield found
    found.close()
