from __future__ import annotations

import pytest

from tepal.flora import Flora, load


@pytest.fixture(scope="session")
def flora() -> Flora:
    return load()
