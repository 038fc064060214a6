"""Many phones at once on a bad line, and a server that is killed: nothing is lost, nothing is there twice."""

from __future__ import annotations

import asyncio
import time
from pathlib import Path

import pytest

from _phones import Counted, Server, an_office, left_behind, lost_or_doubled, run, stopped
from tepal.ledger.keeping import check


@pytest.fixture(params=["sqlite", "postgresql"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    if request.param == "sqlite":
        return str(tmp_path / "county.ledger")
    url: str = request.getfixturevalue("postgresql_url")
    return url


@pytest.mark.slow
def test_of_what_phones_send_to_a_server_that_is_killed_nothing_is_lost_and_nothing_comes_twice(
    store: str, tmp_path: Path
) -> None:
    photos = tmp_path / "photos"
    phones = an_office(store, photos, phones=20, entries=25, pictures=2, rough=True)
    server, counted = Server(store, photos, tmp_path / "log"), Counted()
    with stopped(server):
        asyncio.run(run(phones, server, kills=5, counted=counted))
    assert lost_or_doubled(store, photos, phones) == []
    # It was as rough as it was meant to be.
    assert server.kills == 5
    assert counted.lines_broken > 5
    assert counted.let_go > 5
    assert counted.sent_twice > 5
    assert counted.outcomes["added"] + counted.outcomes["already"] > 20 * 25
    assert check(store, photos=photos).findings == ()
    log = (tmp_path / "log").read_text()
    assert "Traceback" not in log, log[-3000:]
    # Nothing that a killed server had started lives on.
    end = time.monotonic() + 60
    while (living := left_behind(tmp_path / "log")) and time.monotonic() < end:
        time.sleep(0.5)
    assert living == []
